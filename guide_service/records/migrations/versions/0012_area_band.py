"""an index for lists of a band in an area."""

from collections.abc import Sequence

from alembic import op

revision: str = "0012_area_band"
down_revision: str | None = "0011_text_draft"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.create_index("ix_household_area_band", "household", ["area", "band", "id"])


def downgrade() -> None:
    op.drop_index("ix_household_area_band", table_name="household")

"""a file of which only readings and verdicts stayed says when the rest was deleted."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0013_deletion"
down_revision: str | None = "0012_area_band"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.add_column("household", sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    op.drop_column("household", "deleted_at")

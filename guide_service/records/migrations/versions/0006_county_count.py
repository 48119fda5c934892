"""daily counts of the county; indexes of the readings taken by the county's people and of those not confirmed."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0006_county_count"
down_revision: str | None = "0005_desk"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

OF_THE_FEW = {"of_agents": "agent_id is not null", "unconfirmed": "not confirmed"}


def upgrade() -> None:
    op.create_table(
        "county_count",
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("area", sa.String(length=40), nullable=False),
        sa.Column("language", sa.String(length=8), nullable=False),
        sa.Column("topic", sa.String(length=12), nullable=False),
        sa.Column("value", sa.String(length=24), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("counted_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("day", "area", "language", "topic", "value", name=op.f("pk_county_count")),
    )
    for name, condition in OF_THE_FEW.items():
        few = sa.text(condition)
        op.create_index(f"ix_reading_{name}", "reading", ["household_id"], sqlite_where=few, postgresql_where=few)


def downgrade() -> None:
    for name in OF_THE_FEW:
        op.drop_index(f"ix_reading_{name}", "reading")
    op.drop_table("county_count")

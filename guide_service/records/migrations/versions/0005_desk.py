"""notes of agents, phones that agents added, households joined to another, why a mould report was lifted."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0005_desk"
down_revision: str | None = "0004_notices"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.create_table(
        "household_note",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("household_id", sa.BigInteger(), nullable=False),
        sa.Column("agent_id", sa.BigInteger(), nullable=False),
        sa.Column("body", sa.String(length=1000), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_household_note_household_id_household")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_household_note")),
    )
    op.create_index(op.f("ix_household_note_household_id"), "household_note", ["household_id"])
    op.add_column("household", sa.Column("merged_into", sa.BigInteger(), nullable=True))
    op.add_column("membership", sa.Column("added_by", sa.BigInteger(), nullable=True))
    op.add_column("mould_report", sa.Column("lifted_why", sa.String(), nullable=False, server_default=""))


def downgrade() -> None:
    op.drop_column("mould_report", "lifted_why")
    op.drop_column("membership", "added_by")
    op.drop_column("household", "merged_into")
    op.drop_table("household_note")

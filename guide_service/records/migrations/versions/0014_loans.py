"""meters that the county has lent."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0014_loans"
down_revision: str | None = "0013_deletion"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.create_table(
        "loan",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("household_id", sa.BigInteger(), nullable=False),
        sa.Column("meter", sa.String(length=20), nullable=False),
        sa.Column("place", sa.String(length=80), nullable=False),
        sa.Column("lent_on", sa.Date(), nullable=False),
        sa.Column("lent_by", sa.BigInteger(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("reminders", sa.Integer(), nullable=False),
        sa.Column("returned_on", sa.Date(), nullable=True),
        sa.Column("returned_by", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["household_id"], ["household.id"], name=op.f("fk_loan_household_id_household")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loan")),
    )
    op.create_index(op.f("ix_loan_household_id"), "loan", ["household_id"])
    out = sa.text("returned_on is null")
    op.create_index("uq_loan_out", "loan", ["meter"], unique=True, sqlite_where=out, postgresql_where=out)


def downgrade() -> None:
    op.drop_table("loan")

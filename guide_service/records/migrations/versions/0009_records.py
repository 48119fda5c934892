"""recalls reach single readings and households, decisions on deletion say what is kept, retention says what it did."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0009_records"
down_revision: str | None = "0008_agent_language"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.add_column("reading", sa.Column("recall_id", sa.BigInteger(), nullable=True))
    with op.batch_alter_table("meter_recall") as recall:
        recall.alter_column("last_day", existing_type=sa.Date(), nullable=True)
        recall.add_column(sa.Column("household_id", sa.BigInteger(), nullable=True))
        recall.add_column(sa.Column("unnamed", sa.Boolean(), nullable=False, server_default=sa.false()))
        recall.add_column(sa.Column("ended_by", sa.BigInteger(), nullable=True))
    op.create_table(
        "recall_house",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("recall_id", sa.BigInteger(), nullable=False),
        sa.Column("household_id", sa.BigInteger(), nullable=False),
        sa.Column("tie", sa.String(length=8), nullable=False),
        sa.Column("checks", sa.Integer(), nullable=False),
        sa.Column("walls", sa.JSON(), nullable=False),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("told", sa.Integer(), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["recall_id"], ["meter_recall.id"], name=op.f("fk_recall_house_recall_id_meter_recall")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall_house")),
    )
    op.create_index("uq_recall_house", "recall_house", ["recall_id", "household_id"], unique=True)
    op.create_index("ix_recall_house_household_id", "recall_house", ["household_id"])
    op.add_column("deletion_decision", sa.Column("category", sa.String(length=16), nullable=False, server_default=""))
    op.add_column("deletion_decision", sa.Column("keep_until", sa.Date(), nullable=True))
    op.add_column("deletion_decision", sa.Column("removed", sa.JSON(), nullable=False, server_default="{}"))
    op.create_table(
        "retention_step",
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("last_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("last_removed", sa.Integer(), nullable=False),
        sa.Column("removed", sa.Integer(), nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_retention_step")),
    )


def downgrade() -> None:
    op.drop_table("retention_step")
    for column in ("removed", "keep_until", "category"):
        op.drop_column("deletion_decision", column)
    op.drop_table("recall_house")
    with op.batch_alter_table("meter_recall") as recall:
        for column in ("ended_by", "unnamed", "household_id"):
            recall.drop_column(column)
        recall.alter_column("last_day", existing_type=sa.Date(), nullable=False)
    op.drop_column("reading", "recall_id")

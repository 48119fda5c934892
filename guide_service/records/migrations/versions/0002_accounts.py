"""accounts: second factor, sessions that lie idle, measuring rounds."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0002_accounts"
down_revision: str | None = "0001"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.add_column("agent", sa.Column("factor_sealed", sa.LargeBinary(), nullable=True))
    op.add_column("agent", sa.Column("factor_key_id", sa.String(length=16), nullable=True))
    op.add_column("agent", sa.Column("factor_set_at", sa.DateTime(timezone=True), nullable=True))
    op.add_column("agent", sa.Column("factor_step", sa.BigInteger(), nullable=True))
    op.add_column("agent_session", sa.Column("seen_at", sa.DateTime(timezone=True), nullable=True))
    op.add_column("agent_session", sa.Column("device", sa.String(length=60), nullable=True))
    waits: sa.Column[bool] = sa.Column("waits_for_code", sa.Boolean(), nullable=False, server_default=sa.false())
    op.add_column("agent_session", waits)
    op.create_table(
        "recovery_code",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("agent_id", sa.BigInteger(), nullable=False),
        sa.Column("code_key", sa.String(length=64), nullable=False),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["agent_id"], ["agent.id"], name=op.f("fk_recovery_code_agent_id_agent")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recovery_code")),
    )
    op.create_index(op.f("ix_recovery_code_agent_id"), "recovery_code", ["agent_id"])
    op.create_table(
        "round_house",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("volunteer_id", sa.BigInteger(), nullable=False),
        sa.Column("household_id", sa.BigInteger(), nullable=False),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("assigned_by", sa.BigInteger(), nullable=False),
        sa.Column("assigned_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["volunteer_id"], ["agent.id"], name=op.f("fk_round_house_volunteer_id_agent")),
        sa.ForeignKeyConstraint(["household_id"], ["household.id"], name=op.f("fk_round_house_household_id_household")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_round_house")),
    )
    op.create_index(op.f("ix_round_house_volunteer_id"), "round_house", ["volunteer_id"])
    op.create_index(op.f("ix_round_house_household_id"), "round_house", ["household_id"])


def downgrade() -> None:
    op.drop_table("round_house")
    op.drop_table("recovery_code")
    for column in ("waits_for_code", "device", "seen_at"):
        op.drop_column("agent_session", column)
    for column in ("factor_step", "factor_set_at", "factor_key_id", "factor_sealed"):
        op.drop_column("agent", column)

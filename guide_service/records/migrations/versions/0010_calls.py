"""phone calls: one row for each, with what was said last."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0010_calls"
down_revision: str | None = "0009_records"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.create_table(
        "call",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("call_sid", sa.String(length=40), nullable=True),
        sa.Column("direction", sa.String(length=3), nullable=False),
        sa.Column("contact_id", sa.BigInteger(), nullable=True),
        sa.Column("household_id", sa.BigInteger(), nullable=True),
        sa.Column("trusted", sa.Boolean(), nullable=False),
        sa.Column("proved", sa.Boolean(), nullable=False),
        sa.Column("language", sa.String(length=8), nullable=True),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("held", sa.JSON(), nullable=False),
        sa.Column("said", sa.JSON(), nullable=False),
        sa.Column("message_id", sa.BigInteger(), nullable=True),
        sa.Column("status", sa.String(length=16), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_call")),
        sa.UniqueConstraint("call_sid", name=op.f("uq_call_call_sid")),
    )
    op.create_index(op.f("ix_call_contact_id"), "call", ["contact_id"])
    op.create_index(op.f("ix_call_household_id"), "call", ["household_id"])


def downgrade() -> None:
    op.drop_table("call")

"""drying logs with their PINs, recalls of meters, decisions on deletion, policy versions of more than limits."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0007_logs"
down_revision: str | None = "0006_county_count"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

RECALLED = ("visit", "verdict", "ready_answer")


def upgrade() -> None:
    op.create_table(
        "drying_log",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("household_id", sa.BigInteger(), nullable=False),
        sa.Column("number", sa.String(length=12), nullable=False),
        sa.Column("pin_hash", sa.String(), nullable=True),
        sa.Column("pin_for", sa.String(length=80), nullable=False),
        sa.Column("pin_made_by", sa.BigInteger(), nullable=True),
        sa.Column("pin_made_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("pin_ends_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("wrong_tries", sa.Integer(), nullable=False),
        sa.Column("locked_until", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["household_id"], ["household.id"], name=op.f("fk_drying_log_household_id_household")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drying_log")),
        sa.UniqueConstraint("household_id", name=op.f("uq_drying_log_household_id")),
        sa.UniqueConstraint("number", name=op.f("uq_drying_log_number")),
    )
    op.create_table(
        "log_visit",
        sa.Column("token_key", sa.String(length=64), nullable=False),
        sa.Column("log_id", sa.BigInteger(), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["log_id"], ["drying_log.id"], name=op.f("fk_log_visit_log_id_drying_log")),
        sa.PrimaryKeyConstraint("token_key", name=op.f("pk_log_visit")),
    )
    op.create_index(op.f("ix_log_visit_log_id"), "log_visit", ["log_id"])
    op.create_table(
        "log_tries",
        sa.Column("address_key", sa.String(length=64), nullable=False),
        sa.Column("wrong_tries", sa.Integer(), nullable=False),
        sa.Column("last_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("locked_until", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("address_key", name=op.f("pk_log_tries")),
    )
    op.create_table(
        "meter_recall",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("meter", sa.String(length=40), nullable=True),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.Column("made_by", sa.BigInteger(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("checks", sa.Integer(), nullable=False),
        sa.Column("households", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_meter_recall")),
    )
    op.create_table(
        "deletion_decision",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("household_id", sa.BigInteger(), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("granted", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.Column("rule", sa.String(), nullable=False),
        sa.Column("decided_by", sa.BigInteger(), nullable=False),
        sa.Column("decided_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("carry_out_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("carried_out_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("withdrawn_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_deletion_decision")),
    )
    op.create_index(op.f("ix_deletion_decision_household_id"), "deletion_decision", ["household_id"])
    for table in RECALLED:
        op.add_column(table, sa.Column("recall_id", sa.BigInteger(), nullable=True))
    op.add_column("policy", sa.Column("county", sa.JSON(), nullable=True))
    op.add_column("policy", sa.Column("changes", sa.JSON(), nullable=False, server_default="[]"))


def downgrade() -> None:
    op.drop_column("policy", "changes")
    op.drop_column("policy", "county")
    for table in RECALLED:
        op.drop_column(table, "recall_id")
    for table in ("deletion_decision", "meter_recall", "log_tries", "log_visit", "drying_log"):
        op.drop_table(table)

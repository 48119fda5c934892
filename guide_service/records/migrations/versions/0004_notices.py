"""notices: one text to many households."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0004_notices"
down_revision: str | None = "0003_finding"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.create_table(
        "notice",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("title", sa.String(length=80), nullable=False),
        sa.Column("office", sa.String(length=40), nullable=True),
        sa.Column("choice", sa.JSON(), nullable=False),
        sa.Column("phrase", sa.String(length=60), nullable=True),
        sa.Column("own", sa.JSON(), nullable=False),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("authors", sa.JSON(), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("approved_by", sa.BigInteger(), nullable=True),
        sa.Column("approved_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("approved_digest", sa.String(length=64), nullable=True),
        sa.Column("approved_people", sa.Integer(), nullable=False),
        sa.Column("bodies", sa.JSON(), nullable=False),
        sa.Column("started_by", sa.BigInteger(), nullable=True),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("listed_to", sa.BigInteger(), nullable=False),
        sa.Column("listed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.BigInteger(), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice")),
    )
    op.create_table(
        "notice_recipient",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("notice_id", sa.BigInteger(), nullable=False),
        sa.Column("contact_id", sa.BigInteger(), nullable=False),
        sa.Column("household_id", sa.BigInteger(), nullable=False),
        sa.Column("language", sa.String(length=8), nullable=False),
        sa.Column("zone", sa.String(length=40), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("message_id", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"], name=op.f("fk_notice_recipient_notice_id_notice")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice_recipient")),
    )
    op.create_index("uq_notice_recipient", "notice_recipient", ["notice_id", "contact_id"], unique=True)
    op.create_index("ix_notice_recipient_state", "notice_recipient", ["notice_id", "state", "id"], unique=False)
    op.create_index("ix_notice_recipient_message", "notice_recipient", ["message_id"], unique=False)


def downgrade() -> None:
    op.drop_table("notice_recipient")
    op.drop_table("notice")

"""the work of translators."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0011_text_draft"
down_revision: str | None = "0010_calls"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.create_table(
        "text_draft",
        sa.Column("id", sa.BigInteger(), nullable=False),
        sa.Column("language", sa.String(length=8), nullable=False),
        sa.Column("context", sa.String(length=120), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("act", sa.String(length=12), nullable=False),
        sa.Column("source", sa.JSON(), nullable=False),
        sa.Column("target", sa.JSON(), nullable=False),
        sa.Column("role", sa.String(length=60), nullable=True),
        sa.Column("agent_id", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_text_draft")),
        sa.UniqueConstraint("language", "context", "version", name=op.f("uq_text_draft_language_context_version")),
    )


def downgrade() -> None:
    op.drop_table("text_draft")

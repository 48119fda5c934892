"""a recall that was made by mistake can be taken back."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0015_recall_undone"
down_revision: str | None = "0014_loans"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.add_column("meter_recall", sa.Column("undone_at", sa.DateTime(timezone=True), nullable=True))
    op.add_column("meter_recall", sa.Column("undone_by", sa.BigInteger(), nullable=True))
    op.add_column("meter_recall", sa.Column("undone_why", sa.String(length=300), nullable=False, server_default=""))


def downgrade() -> None:
    for name in ("undone_why", "undone_by", "undone_at"):
        op.drop_column("meter_recall", name)

"""the language in which the pages speak to an agent."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0008_agent_language"
down_revision: str | None = "0007_logs"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.add_column("agent", sa.Column("language", sa.String(length=16), nullable=True))


def downgrade() -> None:
    op.drop_column("agent", "language")

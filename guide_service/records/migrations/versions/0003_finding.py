"""language and expected dry day on the household's row; indexes of the agents' lists."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0003_finding"
down_revision: str | None = "0002_accounts"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

OF_THE_FEW = {"stalled": "stalled", "mould_open": "mould_open", "unanswered": "unanswered > 0"}
OPEN = sa.text("state <> 'settled'")


def upgrade() -> None:
    op.add_column("household", sa.Column("language", sa.String(length=8), nullable=True))
    op.add_column("household", sa.Column("dry_on", sa.Date(), nullable=True))
    op.add_column("household", sa.Column("dry_by", sa.Date(), nullable=True))
    op.execute(
        "update household set language = (select max(contact.language) from contact join membership"
        " on membership.contact_id = contact.id"
        " where membership.household_id = household.id and membership.ended_at is null)"
    )
    for column in ("stage", "band", "language"):
        op.create_index(f"ix_household_{column}", "household", [column, "id"])
    for column, condition in OF_THE_FEW.items():
        few = sa.text(condition)
        op.create_index(f"ix_household_{column}", "household", ["id"], sqlite_where=few, postgresql_where=few)
    op.create_index(
        "ix_escalation_open_in_order",
        "escalation",
        ["urgency", "opened_at", "id"],
        sqlite_where=OPEN,
        postgresql_where=OPEN,
    )


def downgrade() -> None:
    op.drop_index("ix_escalation_open_in_order", "escalation")
    for column in (*OF_THE_FEW, "language", "band", "stage"):
        op.drop_index(f"ix_household_{column}", "household")
    for column in ("dry_by", "dry_on", "language"):
        op.drop_column("household", column)

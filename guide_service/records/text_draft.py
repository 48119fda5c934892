"""Work of translators that has not been brought into the catalogues yet: every save and every mark is a row of its own.

Of one text in one language the newest row counts. Versions are unique, so that of two people at one instant one has
it, in whichever process; nothing is ever changed or taken away.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from sqlalchemy import JSON, BigInteger, UniqueConstraint, func
from sqlmodel import Field, Session, SQLModel, col, select

from guide_service.records.base import UtcDateTime, new_id

DRAFT, REVIEWED, TAKEN_BACK = "draft", "reviewed", "taken_back"


class TextDraft(SQLModel, table=True):
    __tablename__ = "text_draft"
    __table_args__ = (UniqueConstraint("language", "context", "version"),)
    id: int = Field(default_factory=new_id, primary_key=True, sa_type=BigInteger)
    language: str = Field(max_length=8)
    context: str = Field(max_length=120)
    """The message id, with ``#spoken`` for its spoken variant."""
    version: int
    act: str = Field(max_length=12)
    """``draft``, ``reviewed`` (somebody vouches for these very texts) or ``taken_back`` (no longer)."""
    source: list[str] = Field(sa_type=JSON)
    """The English text, or its two forms, as it was seen."""
    target: list[str] = Field(sa_type=JSON)
    """The translation, one text for each form."""
    role: str | None = Field(default=None, max_length=60)
    """In which the reviewer vouches: goes into the catalogue, where no name stands."""
    agent_id: int = Field(sa_type=BigInteger)
    at: dt.datetime = Field(sa_type=UtcDateTime)


def newest_drafts(session: Session, language: str) -> Sequence[TextDraft]:
    """The newest row of each text of a language that was ever worked on."""
    newest = (
        select(TextDraft.context, func.max(TextDraft.version).label("version"))
        .where(TextDraft.language == language)
        .group_by(col(TextDraft.context))
        .subquery()
    )
    same = (newest.c.context == TextDraft.context) & (newest.c.version == TextDraft.version)
    return session.exec(select(TextDraft).join(newest, same).where(TextDraft.language == language)).all()


def drafts_of(session: Session, language: str, context: str) -> Sequence[TextDraft]:
    """All that was done to one text, newest first."""
    mine = select(TextDraft).where(TextDraft.language == language, TextDraft.context == context)
    return session.exec(mine.order_by(col(TextDraft.version).desc())).all()


def marks_of(session: Session, language: str) -> Sequence[TextDraft]:
    """Every mark of a language that was given or taken back, in the order of time."""
    marks = select(TextDraft).where(TextDraft.language == language, col(TextDraft.act).in_((REVIEWED, TAKEN_BACK)))
    return session.exec(marks.order_by(col(TextDraft.at), col(TextDraft.version))).all()

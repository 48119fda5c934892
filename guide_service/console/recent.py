"""The newest texts of several households in one look-up: for their last words and for what they were last promised."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, col, select

from guide_service.console.answered import is_wordy, option_chosen, question_of
from guide_service.console.catalogue import N_
from guide_service.dialogue.answers.spelling import is_telling
from guide_service.dialogue.effects import EscalationReason
from guide_service.records import Message

LOOK_BACK = 20
"""Texts of one household among which its last words and the last promise are looked for."""
PROMISES = {
    "person.open": N_("told that a person will answer"),
    "person.closed": N_("told that a person will answer"),
    "when.open": N_("told that a person will look at it"),
    "when.closed": N_("told that a person will look at it"),
    "agent.claimed": N_("told that a person has seen it"),
    "agent.phrase.call_today": N_("told that we will call today"),
    "agent.phrase.call_tomorrow": N_("told that we will call tomorrow"),
    "agent.phrase.visit": N_("told that somebody will visit"),
}
"""Texts after which somebody waits for us."""


@dataclass(frozen=True, slots=True)
class Said:
    """The last words of somebody; ``answer`` is what a bare number stood for, ``asked`` the text that it answered."""

    words: str = ""
    answer: str = ""
    asked: str = ""


@dataclass(frozen=True, slots=True)
class Promise:
    words: str
    at: dt.datetime


Texts = Mapping[int, list[Any]]
InWords = Callable[[Any], str]
"""The row of a text to its words as the agent reads them."""


def as_sent(row: Any) -> str:
    return row.body or ""


def recent_texts(session: Session, households: Collection[int]) -> Texts:
    """The newest texts of each household, newest first."""
    place = func.row_number().over(partition_by=col(Message.household_id), order_by=col(Message.id).desc())
    columns = (Message.id, Message.household_id, Message.contact_id, Message.direction, Message.body, Message.texts,
               Message.language, Message.at)  # fmt: skip
    ranked = select(*columns, place.label("place")).where(col(Message.household_id).in_(households)).subquery()  # type: ignore[call-overload]
    found: dict[int, list[Any]] = defaultdict(list)
    rows = session.connection().execute(select(ranked).where(ranked.c.place <= LOOK_BACK).order_by(ranked.c.place))
    for row in rows if households else ():
        found[row.household_id].append(row)
    return found


def last_said(
    texts: list[Any], words: str, message_id: int | None, reason: str = "", in_words: InWords = as_sent
) -> Said:
    """The words kept with an escalation, made readable: a bare number or a lone "next" as the answer that it was, or
    after the newest text before it that says something. One word of danger says enough."""
    one_is_enough = reason == EscalationReason.DANGER and is_wordy(words)
    if not words or one_is_enough or is_telling(words):
        return Said(words)
    before = [row for row in texts if message_id is None or row.id <= message_id]
    number = next((row for row in before if row.direction == "in" and (row.body or "").strip() == words.strip()), None)
    sent = next((row for row in before if number and row.id < number.id and _was_sent_to(row, number)), None)
    wordy = next((row.body for row in before if row.direction == "in" and is_telling(row.body)), None)
    offer = in_words(sent) if sent else None
    chosen = option_chosen(words, offer)
    if chosen is None and wordy is None and offer is not None and not is_wordy(words):
        return Said(words, asked=question_of(offer))
    return Said(wordy or words, answer=chosen or "", asked=question_of(offer) if chosen else "")


def _was_sent_to(row: Any, answer: Any) -> bool:
    return bool(row.direction == "out" and row.contact_id == answer.contact_id)


def last_promise(texts: list[Any]) -> Promise | None:
    """The newest text by which somebody was told to expect a person."""
    for row in texts:
        words = next((PROMISES[each] for each in row.texts or () if each in PROMISES), None)
        if words and row.direction == "out":
            return Promise(words, row.at)
    return None

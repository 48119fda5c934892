"""What a script may ask of the records (``kept: ...``). Each answers with what is wrong, or with nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from sqlmodel import Session, col, select

from guide_service.records import (
    Check,
    ConsentEvent,
    Contact,
    Conversation,
    Escalation,
    Household,
    Membership,
    Message,
    PlaceRow,
    ReadingRow,
    ReadyAnswer,
    WallRow,
)

Checked = Callable[[Session, Contact, Sequence[str]], str | None]


def _differs(found: object, wanted: object) -> str | None:
    return None if found == wanted else f"{found!r} is kept, not {wanted!r}"


def _talk(session: Session, contact: Contact) -> Conversation:
    newest = select(Conversation).where(Conversation.contact_id == contact.id)
    return session.exec(newest.order_by(col(Conversation.updated_at).desc())).first()  # type: ignore[return-value]


def _house(session: Session, contact: Contact) -> Household:
    return session.get_one(Household, _talk(session, contact).household_id)


def _escalation(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``escalation mould urgent`` (danger, urgent, soon, routine); then ``size=big`` and the like of its detail."""
    reason, urgency, *detail = words
    rows = session.exec(select(Escalation).where(Escalation.state != "settled", Escalation.reason == reason)).all()
    if len(rows) != 1:
        return f"{len(rows)} open escalations for {reason}"
    wanted = {"danger": 1, "urgent": 2, "soon": 3, "routine": 4}[urgency]
    kept = {name: str(value) for name, value in rows[0].detail.items()}
    missing = [pair for pair in detail if kept.get(pair.split("=")[0]) != pair.split("=")[1]]
    return _differs(rows[0].urgency, wanted) or (f"the detail is {kept}" if missing else None)


def _no_escalation(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``no escalation``, or ``no escalation mould``: none is open."""
    rows = session.exec(select(Escalation.reason).where(Escalation.state != "settled")).all()
    left = [reason for reason in rows if not words or reason == words[0]]
    return f"open: {left}" if left else None


def _next_check(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    return _differs(str(_house(session, contact).next_check_on), words[0] if words else "None")


def _readings(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``readings K1 plate=22 low_stud=>30 surface=14``: those that stand of the place, in the order they came."""
    label, *wanted = words
    signs = {"exact": "", "above": ">", "below": "<"}
    stand = select(ReadingRow).where(ReadingRow.place == label, col(ReadingRow.superseded_at).is_(None))
    rows = session.exec(stand.order_by(col(ReadingRow.taken_on), col(ReadingRow.id))).all()
    found = [f"{r.point}={signs[r.qualifier]}{r.colour if r.value is None else f'{r.value:g}'}" for r in rows]
    return _differs(found, list(wanted))


def _typed(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``typed 3``: so many readings were ever stored, whether they stand or not."""
    return _differs(len(session.exec(select(ReadingRow.id)).all()), int(words[0]))


def _taken(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    days = session.exec(select(ReadingRow.taken_on).where(ReadingRow.place == words[0])).all()
    return _differs(sorted({str(day) for day in days}), list(words[1:]))


def _places(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``places K1 K4``: those that are there, followed ones alone with ``places followed``."""
    rows = session.exec(select(PlaceRow).where(col(PlaceRow.removed_at).is_(None))).all()
    if words[:1] == ["followed"]:
        rows, words = [row for row in rows if row.followed], words[1:]
    return _differs(sorted(row.label for row in rows), sorted(words))


def _wall(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``wall K 5 kitchen``: letter, bays (or ``unknown``) and name."""
    letter, bays, *name = words
    row = session.exec(select(WallRow).where(WallRow.letter == letter)).one()
    wanted = (None if bays == "unknown" else int(bays), " ".join(name) or row.name)
    return _differs((row.bays, row.name), wanted)


def _treated(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    rows = session.exec(select(PlaceRow.label).where(col(PlaceRow.treated_plate).is_(True))).all()
    return _differs(sorted(rows), sorted(words))


def _state(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    return _differs(_talk(session, contact).state, words[0])


def _role(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    rows = session.exec(select(Membership.role).where(Membership.contact_id == contact.id)).all()
    return _differs(rows[-1], words[0])


def _area(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    return _differs(str(_house(session, contact).area), words[0])


def _address(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    return _differs(str(_house(session, contact).address), " ".join(words))


def _stage(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``stage dry``: of the recovery order."""
    return _differs(_house(session, contact).stage, words[0])


def _fact(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``fact meter.kind pins``."""
    value: Any = _house(session, contact).facts
    for name in words[0].split("."):
        value = value.get(name) if isinstance(value, dict) else None
    return _differs(str(value), " ".join(words[1:]))


def _consent(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``consent shown given``: the ledger, in order."""
    events = select(ConsentEvent.kind).where(ConsentEvent.phone_key == contact.phone_key)
    return _differs(list(session.exec(events.order_by(col(ConsentEvent.id)))), list(words))


def _opted(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    return _differs("out" if contact.opted_out_at else "in", words[0])


def _mould(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    return _differs("open" if _house(session, contact).mould_open else "none", words[0])


def _ready(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``ready walls 1``: of the household's summary; ``ready answers 0``: what was ever told."""
    what, number = words
    told = len(session.exec(select(ReadyAnswer.id)).all())
    return _differs(told if what == "answers" else _house(session, contact).ready_walls, int(number))


def _outcomes(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``outcomes reply reply silence``: of every text of this phone; each has exactly one."""
    mine = select(Message.outcome).where(Message.contact_id == contact.id, Message.direction == "in")
    return _differs(list(session.exec(mine.order_by(col(Message.id)))), list(words))


def _media(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    last = select(Message).where(Message.contact_id == contact.id, Message.direction == "in")
    row = session.exec(last.order_by(col(Message.id).desc())).first()
    return _differs([each["url"] for each in (row.media if row and row.media else [])], list(words))


def _households(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    return _differs(len(session.exec(select(Household.id)).all()), int(words[0]))


def _code(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``code told`` or ``code none``: of the first phone's household."""
    house = _house(session, contact)
    kept = {house.code_key, house.code_sealed, house.code_key_id} - {None}
    return _differs("told" if len(kept) == 3 else "none" if not kept else "half", words[0])


def _members(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``members 2``: phones of the first phone's household."""
    house = _house(session, contact)
    mine = select(Membership.id).where(Membership.household_id == house.id, col(Membership.ended_at).is_(None))
    return _differs(len(session.exec(mine).all()), int(words[0]))


def _block(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``block 12.4 passed``: of the latest visit; ``block none not_done`` without a number."""
    visit = session.exec(select(Check).order_by(col(Check.taken_on).desc())).first()
    shown = "none" if visit is None or visit.block_value is None else f"{visit.block_value:g}"
    return _differs([shown, visit and visit.self_check], list(words))


def _meter(session: Session, contact: Contact, words: Sequence[str]) -> str | None:
    """``meter A4``: whose it was, as it stands with the latest visit."""
    visit = session.exec(select(Check).order_by(col(Check.taken_on).desc())).first()
    return _differs(visit and visit.meter, " ".join(words))


KEPT: dict[str, Checked] = {
    "language ": lambda _session, contact, words: _differs(contact.language, words[0]),
    "block ": _block,
    "meter ": _meter,
    "escalation ": _escalation,
    "no escalation": _no_escalation,
    "next check": _next_check,
    "readings ": _readings,
    "typed ": _typed,
    "taken ": _taken,
    "places": _places,
    "wall ": _wall,
    "treated": _treated,
    "state ": _state,
    "role ": _role,
    "area ": _area,
    "address ": _address,
    "fact ": _fact,
    "stage ": _stage,
    "consent": _consent,
    "opted ": _opted,
    "mould ": _mould,
    "ready ": _ready,
    "outcomes ": _outcomes,
    "media": _media,
    "households ": _households,
    "code ": _code,
    "members ": _members,
}

"""Everything that one turn needs to know, in one read and no object mapping: this is the hot path.

One statement sees one state of the file, without a transaction around it; what changes afterwards moves the household's
version, and the turn is decided again. The lists of the house come as JSON inside the one row: cheaper than
statements of their own, and on a server three round trips less.
"""

from __future__ import annotations

import datetime as dt
from collections import namedtuple
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from operator import itemgetter
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Connection,
    Date,
    Float,
    String,
    bindparam,
    case,
    cast,
    exists,
    func,
    literal_column,
    select,
    text,
)

from guide_service.records.contact import Contact
from guide_service.records.conversation import Conversation
from guide_service.records.escalation import Escalation
from guide_service.records.household import Household, Membership, MouldReport, PlaceRow, WallRow
from guide_service.records.job import LIVE, Job
from guide_service.records.message import Message, Tombstone
from guide_service.records.policies import NEWEST
from guide_service.records.prepared import Prepared
from guide_service.records.reading import Check, ReadingRow

_contact: Any = Contact.__table__  # type: ignore[attr-defined]
_household: Any = Household.__table__  # type: ignore[attr-defined]
_membership: Any = Membership.__table__  # type: ignore[attr-defined]
_conversation: Any = Conversation.__table__  # type: ignore[attr-defined]
_wall: Any = WallRow.__table__  # type: ignore[attr-defined]
_place: Any = PlaceRow.__table__  # type: ignore[attr-defined]
_mould: Any = MouldReport.__table__  # type: ignore[attr-defined]
_visit: Any = Check.__table__  # type: ignore[attr-defined]
_reading: Any = ReadingRow.__table__  # type: ignore[attr-defined]
_job: Any = Job.__table__  # type: ignore[attr-defined]
_message: Any = Message.__table__  # type: ignore[attr-defined]
_escalation: Any = Escalation.__table__  # type: ignore[attr-defined]
_tombstone: Any = Tombstone.__table__  # type: ignore[attr-defined]


@dataclass(frozen=True, slots=True)
class Known:
    """The rows behind one phone: ``who`` joins contact, membership, household and conversation."""

    who: Any
    places: Sequence[Any] = ()
    """Places joined with their walls; walls without a place have no label."""
    visits: Sequence[Any] = ()
    """In the order of their days."""
    readings: Sequence[Any] = ()
    """Those that stand, in the order of their days."""
    escalations: dict[str, str] = field(default_factory=dict)
    """Open ones: reason to state."""
    joining: bool = False
    """The phone is not a member yet: its text holds the code of this household."""
    came_from: Known | None = None
    """... and it stood with this one."""


Columns = Sequence[Any]
_AN_OPEN_ESCALATION: Columns = (_escalation.c.reason, _escalation.c.state)
_A_PLACE: Columns = (
    _wall.c.id.label("wall_id"),
    _place.c.id.label("place_id"),
    _wall.c.letter,
    _wall.c.name,
    _wall.c.bays,
    _wall.c.removed_at.label("wall_removed_at"),
    _place.c.label,
    _place.c.kind,
    _place.c.exposure,
    _place.c.treated_plate,
    _place.c.treated_confirmed,
    _place.c.followed,
    _place.c.removed_at,
)
_A_VISIT: Columns = (
    _visit.c.taken_on,
    _visit.c.id.label("visit_id"),
    _visit.c.mode.label("visit_mode"),
    _visit.c.self_check,
    _visit.c.meter,
    _visit.c.temp_c,
    _visit.c.recall_id.label("visit_recall"),
)
_A_READING: Columns = (
    _reading.c.taken_on,
    _reading.c.id.label("reading_id"),
    _reading.c.check_id.label("visit_id"),
    _reading.c.place,
    _reading.c.point,
    _reading.c.value,
    _reading.c.qualifier,
    _reading.c.material,
    _reading.c.mode,
    _reading.c.colour,
    _reading.c.resolution,
    _reading.c.confirmed,
    _reading.c.message_id,
    _reading.c.contact_id,
    _reading.c.recall_id,
)
_HERE = _household.c.id
_LISTS = {
    "escalations": (
        _AN_OPEN_ESCALATION,
        _escalation,
        (_escalation.c.household_id == _HERE, _escalation.c.state != literal_column("'settled'")),
    ),
    "places": (
        _A_PLACE,
        _wall.outerjoin(_place, (_place.c.wall_id == _wall.c.id) & (_place.c.household_id == _wall.c.household_id)),
        (_wall.c.household_id == _HERE,),
    ),
    "visits": (_A_VISIT, _visit, (_visit.c.household_id == _HERE,)),
    "readings": (_A_READING, _reading, (_reading.c.household_id == _HERE, _reading.c.superseded_at.is_(None))),
}
_ARRAYS: dict[str, tuple[Any, Any]] = {
    "sqlite": (func.json_array, func.json_group_array),
    "postgresql": (func.json_build_array, func.json_agg),
}


def _lists(dialect: str) -> list[Any]:
    """The lists of the household in the row, each as an array of arrays."""
    one, all_of_them = _ARRAYS[dialect]
    return [
        select(all_of_them(one(*columns), type_=JSON))
        .select_from(source)
        .where(*conditions)
        .correlate(_household)
        .scalar_subquery()
        .label(name)
        for name, (columns, source, conditions) in _LISTS.items()
    ]


_NUDGED = (
    select(_job.c.kind)
    .where(_job.c.key == literal_column("'nudge:'") + cast(_household.c.id, String), text(LIVE))
    .correlate(_household)
    .scalar_subquery()
)
"""Kind of the job that looks for a household that does not answer; there is one at most."""
_member = _membership.alias("member")
_WHO_COLUMNS = (
    _contact.c.id.label("contact_id"),
    _contact.c.kind.label("contact_kind"),
    _contact.c.language,
    _contact.c.channel,
    _contact.c.consented_at,
    _contact.c.opted_out_at,
    _contact.c.undeliverable,
    _contact.c.last_heard_at,
    _contact.c.returned_at,
    _contact.c.speaks_of,
    _contact.c.code_tries,
    _contact.c.code_tried_on,
    _membership.c.id.label("membership_id"),
    _membership.c.role,
    _membership.c.joined_at,
    _membership.c.by_code,
    _membership.c.proved_at,
    _household.c.id.label("household_id"),
    _household.c.version,
    _household.c.area,
    _household.c.address,
    _household.c.stage,
    _household.c.facts,
    _household.c.flooded_again_on,
    _household.c.next_check_on,
    _household.c.unanswered,
    _household.c.mould_open,
    _household.c.code_sealed,
    _household.c.code_key_id,
    _conversation.c.id.label("conversation_id"),
    _conversation.c.state,
    _conversation.c.slots,
    _conversation.c.asked,
    _conversation.c.flow_digest,
    _conversation.c.updated_at.label("talked_at"),
    _conversation.c.taken_over_by,
    _NUDGED.label("nudged"),
    select(func.count())
    .select_from(_member)
    .where(_member.c.contact_id == _contact.c.id, _member.c.ended_at.is_(None))
    .correlate(_contact)
    .scalar_subquery()
    .label("houses"),
    NEWEST.label("policy_version"),
)
_WHO = (
    select(*_WHO_COLUMNS)
    .select_from(
        _contact.outerjoin(_membership, (_membership.c.contact_id == _contact.c.id) & _membership.c.ended_at.is_(None))
        .outerjoin(_household, _household.c.id == _membership.c.household_id)
        .outerjoin(
            _conversation,
            (_conversation.c.contact_id == _contact.c.id) & (_conversation.c.household_id == _household.c.id),
        )
    )
    .limit(1)
)
_WHO_OF = {dialect: _WHO.add_columns(*_lists(dialect)) for dialect in _ARRAYS}
_LAST_FIRST = _conversation.c.updated_at.desc().nulls_last()
"""A phone that has not spoken of the house yet comes last on both databases."""
_CHOSEN_FIRST = case((_contact.c.speaks_of == _household.c.id, 0), else_=1)
_OF_PHONE = _contact.c.phone_key == bindparam("phone_key")
_THIS_TEXT_IS_GONE = exists().where(_tombstone.c.sid_key == bindparam("sid_key")).label("buried")
_BY_PHONE = Prepared(
    {
        dialect: who.add_columns(_THIS_TEXT_IS_GONE).where(_OF_PHONE).order_by(_CHOSEN_FIRST, _LAST_FIRST)
        for dialect, who in _WHO_OF.items()
    }
)
_MAY_BE_WRITTEN_TO = (
    _household.c.id == bindparam("household_id"),
    _contact.c.opted_out_at.is_(None),
    _contact.c.undeliverable.is_(None),
)
_BY_HOUSEHOLD = Prepared(
    {dialect: who.where(*_MAY_BE_WRITTEN_TO).order_by(_LAST_FIRST) for dialect, who in _WHO_OF.items()}
)
_AGREED = (*_MAY_BE_WRITTEN_TO, _contact.c.consented_at.is_not(None), _conversation.c.id.is_not(None))
_BY_CONSENT = Prepared({dialect: who.where(*_AGREED).order_by(_LAST_FIRST) for dialect, who in _WHO_OF.items()})
_RESIDENT_OF = (
    *_AGREED,
    _membership.c.role.in_([literal_column(f"'{role}'") for role in ("owner", "renter", "landlord")]),
)
_RESIDENT = Prepared({dialect: who.where(*_RESIDENT_OF).order_by(_LAST_FIRST) for dialect, who in _WHO_OF.items()})
_OF_BOTH = Prepared(
    {
        dialect: select(*_WHO_COLUMNS, *_lists(dialect))
        .select_from(
            _household.outerjoin(_contact, _contact.c.id == bindparam("contact_id"))
            .outerjoin(
                _membership,
                (_membership.c.contact_id == _contact.c.id)
                & (_membership.c.household_id == _household.c.id)
                & _membership.c.ended_at.is_(None),
            )
            .outerjoin(
                _conversation,
                (_conversation.c.contact_id == _contact.c.id) & (_conversation.c.household_id == _household.c.id),
            )
        )
        .where(_household.c.id == bindparam("household_id"))
        for dialect in _ARRAYS
    }
)
_GONE = Prepared(select(_tombstone.c.at).where(_tombstone.c.sid_key == bindparam("sid_key")))
_EARLIER = Prepared(select(_message.c.id).where(_message.c.carrier_sid == bindparam("sid")))
_REPLIES = Prepared(
    select(_message.c.id, _message.c.body).where(_message.c.reply_to == bindparam("message_id")).order_by(_message.c.id)
)


def load_by_phone(connection: Connection, phone_key: str, sid_key: str = "") -> Known | None:
    """None for a phone that was never heard. ``who.buried``: the text of that id was handled and its row is gone."""
    who = _BY_PHONE.first(connection, {"phone_key": phone_key, "sid_key": sid_key})
    return _known(who) if who is not None else None


def load_by_household(connection: Connection, household_id: int) -> Known | None:
    """Through the phone of the household that was heard last and may be written to; None when there is none."""
    who = _BY_HOUSEHOLD.first(connection, {"household_id": household_id})
    return _known(who) if who is not None else None


def load_agreed(connection: Connection, household_id: int) -> Known | None:
    """As ``load_by_household``, through a phone that agreed to be written to."""
    who = _BY_CONSENT.first(connection, {"household_id": household_id})
    return _known(who) if who is not None else None


def load_resident(connection: Connection, household_id: int) -> Known | None:
    """Through the phone of somebody of the house, not of a helper, that was heard last and agreed to be written to."""
    who = _RESIDENT.first(connection, {"household_id": household_id})
    return _known(who) if who is not None else None


def load_of_both(connection: Connection, contact_id: int | None, household_id: int) -> Known:
    """This phone (None for one that was never heard) with this household, whether it is a member or not."""
    return _known(_OF_BOTH.first(connection, {"contact_id": contact_id or 0, "household_id": household_id}))


def _known(who: Any) -> Known:
    """Each list in the order of its first two columns: day or wall, then id."""
    places = sorted(who.places or (), key=lambda cells: (cells[0], cells[1] or 0))
    visits, readings = (sorted(cells or (), key=itemgetter(0, 1)) for cells in (who.visits, who.readings))
    return Known(who, _places(places), _visits(visits), _readings(readings), dict(who.escalations or ()))


def _rows_of(name: str, columns: Columns) -> Callable[[list[list[Any]]], list[Any]]:
    """Makes named tuples of a list's arrays, with the types that JSON does not know."""
    row = namedtuple(name, [column.key for column in columns])  # type: ignore[misc]
    unlike = [(at, _AS_IN_JSON[type(c.type)]) for at, c in enumerate(columns) if type(c.type) in _AS_IN_JSON]

    def made(lists: list[list[Any]]) -> list[Any]:
        for cells in lists:
            for at, convert in unlike:
                if cells[at] is not None:
                    cells[at] = convert(cells[at])
        return [row._make(cells) for cells in lists]

    return made


_AS_IN_JSON: dict[type, Callable[[Any], Any]] = {
    Date: lru_cache(maxsize=1024)(dt.date.fromisoformat),
    Boolean: bool,
    Float: float,
}
_places, _visits, _readings = _rows_of("Place", _A_PLACE), _rows_of("Visit", _A_VISIT), _rows_of("Reading", _A_READING)


@dataclass(frozen=True, slots=True)
class EarlierAnswer:
    """What was answered to a text that was handled before."""

    message_id: int
    texts: tuple[tuple[int, str], ...]
    """(row, body) of each reply; bodies are gone after their retention time, and then nothing is repeated."""


def earlier_answer(connection: Connection, sid: str, sid_keys: Sequence[str]) -> EarlierAnswer | None:
    row = _EARLIER.first(connection, {"sid": sid})
    if row is not None:
        replies = _REPLIES.rows(connection, {"message_id": row.id})
        return EarlierAnswer(row.id, tuple((reply.id, reply.body) for reply in replies if reply.body))
    return EarlierAnswer(0, ()) if is_buried(connection, sid_keys) else None


def is_buried(connection: Connection, sid_keys: Sequence[str]) -> bool:
    """Whether a text of this id was handled and its row is gone since."""
    return any(_GONE.rows(connection, {"sid_key": key}) for key in sid_keys)


def days_of(known: Known) -> list[dt.date]:
    return sorted({row.taken_on for row in known.visits})

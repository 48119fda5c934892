"""Households found by what is known of them: one query for the page and for the file, a page at a time by key."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from sqlalchemy import ColumnElement, Engine, and_, case, func, literal_column, or_, union
from sqlmodel import Session, col, select

from guide_service.carrier.phone_numbers import normalise
from guide_service.console.scope import in_scope
from guide_service.console.seldom import seldom
from guide_service.county import County
from guide_service.database import reading
from guide_service.records import Agent, Contact, Household, Membership, PlaceRow, WallRow
from guide_service.sealing import Sealer

PAGE = 50
ROWS_AT_ONCE = 500
"""Of a file: each batch is a short transaction of its own."""
FLAGS = ("overdue", "stalled", "unreached", "mould")
WORST_FIRST = ("wet", "caution", "unread", "dry")
"""Order of the households that stopped answering: by their last band. What was never read may be wet."""
MOST_DIGITS = 6
"""What holds more digits is a phone number, and is never looked for through an address of a page."""
_LABEL = re.compile(r"[A-Za-z]{1,2}[0-9]{1,3}")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What stands in the address of the page; empty = no filter."""

    words: str = ""
    stage: str = ""
    band: str = ""
    area: str = ""
    language: str = ""
    flags: tuple[str, ...] = ()
    after: str = ""
    """Key of the last household before this page."""

    def chosen(self) -> bool:
        return self != Wanted(after=self.after)

    def query(self, after: str = "") -> str:
        """The filters as they stand in an address."""
        parts = {"q": self.words, "stage": self.stage, "band": self.band, "area": self.area, "language": self.language}
        parts |= dict.fromkeys(self.flags, "1")
        return urlencode({name: value for name, value in (parts | {"after": after}).items() if value})


@dataclass(frozen=True, slots=True)
class Found:
    household: Household
    name: str
    digits: str


@dataclass(frozen=True, slots=True)
class Page:
    rows: tuple[Found, ...]
    next_after: str
    """Empty on the last page."""


def holds_a_number(words: str) -> bool:
    return sum(character.isdigit() for character in words) > MOST_DIGITS


def find(session: Session, county: County, agent: Agent, wanted: Wanted, today: dt.date, size: int = PAGE) -> Page:
    conditions = [in_scope(agent, county), *_conditions(wanted, today)]
    query = select(Household).where(*conditions, *_beyond(wanted)).order_by(*_order(wanted)).limit(size + 1)
    homes = session.exec(query).all()
    shown = homes[:size]
    more = _key_of(shown[-1], wanted) if len(homes) > size else ""
    return Page(tuple(_with_people(session, shown)), more)


def every_one(engine: Engine, county: County, agent: Agent, wanted: Wanted, today: dt.date) -> Iterator[Found]:
    """All of a list, however long, in batches."""
    after = ""
    while True:
        with reading(engine) as session:
            page = find(session, county, agent, replace(wanted, after=after), today, ROWS_AT_ONCE)
        yield from page.rows
        if not page.next_after:
            return
        after = page.next_after


def find_number(session: Session, county: County, agent: Agent, sealer: Sealer, number: str) -> list[Found]:
    """The households of a phone, through the keyed hash of its number."""
    address = normalise(number)
    if address is None:
        return []
    query = (
        select(Household)
        .join(Membership, col(Membership.household_id) == col(Household.id))
        .join(Contact, col(Contact.id) == col(Membership.contact_id))
        .where(
            in_scope(agent, county),
            col(Contact.phone_key).in_(sealer.phone_keys(address)),
            col(Membership.ended_at).is_(None),
        )
        .order_by(col(Household.id).desc())
        .limit(PAGE)
    )
    return list(_with_people(session, session.exec(query).all()))


def _conditions(wanted: Wanted, today: dt.date) -> list[ColumnElement[bool]]:
    equal = {"stage": wanted.stage, "band": wanted.band, "area": wanted.area, "language": wanted.language}
    alike = [col(getattr(Household, name)) == value for name, value in equal.items() if value]
    # a flag picks out fewer still, and has an index of its own
    chosen: list[ColumnElement[bool]] = [*alike] if wanted.flags else [seldom(each) for each in alike]
    flags = {
        "overdue": col(Household.next_check_on) < today,
        # in the words of the partial indexes, else SQLite does not see that they fit
        "stalled": literal_column("household.stalled"),
        "mould": literal_column("household.mould_open"),
        "unreached": literal_column("household.unanswered > 0"),
    }
    chosen += [flags[name] for name in wanted.flags]
    if wanted.words:
        chosen.append(col(Household.id).in_(_holding(wanted.words)))
    return chosen


def _holding(words: str) -> ColumnElement[int]:
    """Ids of the households whose address, people, walls or places hold these words."""
    parts = [
        select(Household.id).where(_holds(Household.address, words)),
        select(Membership.household_id).where(_holds(Membership.name, words), col(Membership.ended_at).is_(None)),
        select(WallRow.household_id).where(_holds(WallRow.name, words), col(WallRow.removed_at).is_(None)),
    ]
    if _LABEL.fullmatch(words):
        label = col(PlaceRow.label) == words.upper()
        parts.append(select(PlaceRow.household_id).where(label, col(PlaceRow.removed_at).is_(None)))
    return union(*parts)  # type: ignore[return-value]


def _holds(column: object, words: str) -> ColumnElement[bool]:
    """Capitals or not. SQLite folds plain letters only, so words with others are also tried as a name is written."""
    plain = func.lower(column).contains(words.lower(), autoescape=True)
    if words.isascii():
        return plain
    ways = {words, words.lower(), words.title(), words.upper()}
    return or_(plain, *(col(column).contains(way, autoescape=True) for way in sorted(ways)))


def order_of(flags: tuple[str, ...]) -> str:
    """``day``: the longest overdue first. ``risk``: who does not answer, by last band, mould and stall. ``newest``."""
    return "day" if "overdue" in flags else "risk" if "unreached" in flags else "newest"


def _at_risk() -> ColumnElement[int]:
    """The smaller, the sooner somebody should look for them; silence never makes a house dry or closed."""
    bands = case(*((col(Household.band) == band, 2 * n) for n, band in enumerate(WORST_FIRST)), else_=2)
    open_risk = or_(col(Household.mould_open), col(Household.stalled), col(Household.flooded_again_on).is_not(None))
    return bands + case((open_risk, 0), else_=1)


def _risk_of(home: Household) -> int:
    """``_at_risk`` of one household."""
    band = WORST_FIRST.index(home.band) if home.band in WORST_FIRST else 1
    return 2 * band + (0 if home.mould_open or home.stalled or home.flooded_again_on else 1)


def _order(wanted: Wanted) -> list[ColumnElement[int]]:
    match order_of(wanted.flags):
        case "day":
            return [col(Household.next_check_on).asc(), col(Household.id).asc()]  # type: ignore[list-item]
        case "risk":
            return [_at_risk().asc(), col(Household.id).asc()]
    return [col(Household.id).desc()]


def _key_of(home: Household, wanted: Wanted) -> str:
    first = {"day": f"{home.next_check_on}.", "risk": f"{_risk_of(home)}."}
    return f"{first.get(order_of(wanted.flags), '')}{home.id}"


def _beyond(wanted: Wanted) -> list[ColumnElement[bool]]:
    first, _, key = wanted.after.rpartition(".")
    if not key:
        return []
    later = col(Household.id) > int(key)
    match order_of(wanted.flags):
        case "day":
            due, on = col(Household.next_check_on), dt.date.fromisoformat(first)
            return [due >= on, or_(due > on, later)]
        case "risk":
            risk = _at_risk()
            return [or_(risk > int(first), and_(risk == int(first), later))]
    return [col(Household.id) < int(key)]


def _with_people(session: Session, homes: Sequence[Household]) -> Iterator[Found]:
    """Each with the name and the last digits of the phone that joined first."""
    query = (
        select(Membership.household_id, Membership.name, Contact.last_digits)
        .join(Contact, col(Contact.id) == col(Membership.contact_id))
        .where(col(Membership.household_id).in_([home.id for home in homes]), col(Membership.ended_at).is_(None))
        .order_by(col(Membership.joined_at).desc(), col(Membership.id).desc())
    )
    people = {key: (name or "", digits) for key, name, digits in (session.exec(query) if homes else ())}
    return (Found(home, *people.get(home.id, ("", ""))) for home in homes)

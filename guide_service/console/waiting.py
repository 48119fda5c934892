"""The list of what waits for a person: households in the order in which they should be answered.

All open escalations of a household stand together, at the place of the most urgent one. Among equals the one that has
waited longest comes first, of dangers too: nobody is overtaken by whoever came later.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from sqlalchemy import ColumnElement, func, literal_column
from sqlmodel import Session, col, select

from guide_service.console.recent import InWords, Promise, Said, as_sent, last_promise, last_said, recent_texts
from guide_service.console.scope import in_scope
from guide_service.console.trend import Trend, trends
from guide_service.county import County
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.records import Agent, Contact, Escalation, Household, Membership, MouldReport
from guide_service.records.escalation import OPEN

PAGE = 60
"""Households on a page."""
_OPEN: ColumnElement[bool] = literal_column(f"escalation.{OPEN}")
"""In the words of the partial index."""
AT_ONCE = 200
"""Rows that are asked for at a time, until a page is full."""
SETTLED, MINE = "settled", "mine"


@dataclass(frozen=True, slots=True)
class Filters:
    """What stands in the address of the list; empty = no filter."""

    state: str = ""
    reason: str = ""
    area: str = ""
    urgency: str = ""
    language: str = ""
    page: int = 1

    def chosen(self) -> bool:
        return bool(self.state or self.reason or self.area or self.urgency or self.language)

    def address(self, page: int) -> str:
        """What follows ``?``."""
        parts = {"state": self.state, "reason": self.reason, "area": self.area, "urgency": self.urgency,
                 "language": self.language, "page": str(page) if page > 1 else ""}  # fmt: skip
        return urlencode({name: value for name, value in parts.items() if value})


@dataclass(frozen=True, slots=True)
class Need:
    """One escalation of a group."""

    escalation: Escalation
    said: Said
    claimed_by: Agent | None


@dataclass(frozen=True, slots=True)
class Group:
    """A household with everything for which it needs a person."""

    household: Household
    needs: tuple[Need, ...]
    contact: Contact | None
    membership: Membership | None
    promise: Promise | None
    trend: Trend | None
    at_risk: bool
    """Somebody in the house is at risk; never what of."""
    mould: tuple[MouldReport, ...] = ()

    @property
    def urgency(self) -> int:
        return min(need.escalation.urgency for need in self.needs)

    @property
    def routine_mould(self) -> bool:
        """Nothing but mould reports that can wait and that nobody has claimed."""
        return bool(self.mould) and all(
            (e.reason, e.urgency, e.state) == (EscalationReason.MOULD, Urgency.ROUTINE, "waiting")
            for e in (need.escalation for need in self.needs)
        )


@dataclass(frozen=True, slots=True)
class WaitingList:
    groups: tuple[Group, ...]
    routine: tuple[Group, ...]
    """Households whose only need is a routine mould report, for the batch."""
    more: bool
    waiting: int
    """Escalations that nobody has claimed, whatever the filters."""
    longest: dt.datetime | None
    """Since when the first of them waits."""
    newest: Escalation | None
    """The newest of them: a page that has shown another one before says so."""


def waiting_list(
    session: Session, county: County, agent: Agent, filters: Filters, in_words: InWords = as_sent
) -> WaitingList:
    found = _households(session, county, agent, filters)
    keys = found[:PAGE]
    groups = _groups(session, keys, _wanted(agent, filters), in_words)
    batched = not filters.state or filters.state == "waiting"
    routine = tuple(group for group in groups if batched and group.routine_mould)
    count, longest = _unclaimed(session, county, agent)
    shown = tuple(group for group in groups if group not in routine)
    return WaitingList(shown, routine, len(found) > PAGE, count, longest, _newest(session, county, agent))


def _wanted(agent: Agent, filters: Filters) -> list[ColumnElement[bool]]:
    """What the filters ask of an escalation."""
    wanted: list[ColumnElement[bool]] = [] if filters.state == SETTLED else [_OPEN]
    if filters.state:
        wanted.append(col(Escalation.state) == {MINE: "claimed"}.get(filters.state, filters.state))
    if filters.state == MINE:
        wanted.append(col(Escalation.claimed_by) == agent.id)
    if filters.reason:
        wanted.append(col(Escalation.reason) == filters.reason)
    if filters.urgency:
        wanted.append(col(Escalation.urgency) == int(filters.urgency))
    return wanted


def _households(session: Session, county: County, agent: Agent, filters: Filters) -> list[int]:
    """Ids of the page and of one more, in their order. Read along the index until there are enough: the page costs
    the same however many wait. A household stands where its most urgent escalation does."""
    query = (
        select(Escalation.household_id)
        .join(Household, col(Household.id) == col(Escalation.household_id))
        .where(in_scope(agent, county), *_wanted(agent, filters))
    )
    if filters.area:
        query = query.where(col(Household.area) == filters.area)
    if filters.language:
        spoken = col(Contact.language) == filters.language
        query = query.join(Contact, col(Contact.id) == col(Escalation.contact_id)).where(spoken)
    first, found = (filters.page - 1) * PAGE, dict[int, None]()
    with session.connection().execute(_in_order(query, filters), execution_options={"yield_per": AT_ONCE}) as rows:
        for row in rows:
            found[row.household_id] = None
            if len(found) > first + PAGE:
                break
    return list(found)[first:]


def _in_order(query: Any, filters: Filters) -> Any:
    if filters.state == SETTLED:
        return query.order_by(col(Escalation.settled_at).desc())
    return query.order_by(col(Escalation.urgency), col(Escalation.opened_at), col(Escalation.id))


def _groups(session: Session, keys: Sequence[int], wanted: list[ColumnElement[bool]], in_words: InWords) -> list[Group]:
    if not keys:
        return []
    query = select(Escalation, Agent).outerjoin(Agent, col(Agent.id) == col(Escalation.claimed_by))
    query = query.where(col(Escalation.household_id).in_(keys), *wanted)
    of_home: dict[int, list[tuple[Escalation, Agent | None]]] = defaultdict(list)
    for escalation, claimed_by in session.exec(query.order_by(col(Escalation.urgency), col(Escalation.opened_at))):
        of_home[escalation.household_id].append((escalation, claimed_by))
    homes = {home.id: home for home in session.exec(select(Household).where(col(Household.id).in_(keys)))}
    texts, ways, moulds = recent_texts(session, keys), trends(session, keys), _open_mould(session, homes.values())
    risky = households_at_risk(session, keys)
    people = _people(session, [rows[0][0] for rows in of_home.values()])
    return [
        Group(
            homes[key],
            tuple(
                Need(e, last_said(texts.get(key, []), e.words, e.message_id, e.reason, in_words), by)
                for e, by in of_home[key]
            ),
            *people.get(key, (None, None)),
            last_promise(texts.get(key, [])),
            ways.get(key),
            key in risky,
            tuple(moulds.get(key, ())),
        )
        for key in keys
    ]


def households_at_risk(session: Session, keys: Sequence[int]) -> set[int]:
    """Those that once told of somebody at risk, unasked or asked with mould, whatever became of that report."""
    query = select(Escalation.household_id, Escalation.detail).where(
        col(Escalation.household_id).in_(keys), Escalation.reason == EscalationReason.MOULD.value
    )
    told = select(Household.id, Household.facts).where(col(Household.id).in_(keys))
    said = {key for key, facts in session.exec(told) if key is not None and facts.get("at_risk") == "yes"}
    return said | {key for key, detail in session.exec(query) if detail.get("risk") is True}


def _people(session: Session, escalations: Sequence[Escalation]) -> dict[int, tuple[Contact | None, Membership | None]]:
    """Who wrote, by household: the phone of its most urgent escalation."""
    ids = [each.contact_id for each in escalations if each.contact_id]
    contacts = {each.id: each for each in session.exec(select(Contact).where(col(Contact.id).in_(ids)))}
    query = select(Membership).where(col(Membership.contact_id).in_(ids))
    joined = {(each.contact_id, each.household_id): each for each in session.exec(query)}
    return {
        each.household_id: (contacts.get(each.contact_id or 0), joined.get((each.contact_id or 0, each.household_id)))
        for each in escalations
    }


def _open_mould(session: Session, homes: Any) -> dict[int, list[MouldReport]]:
    keys = [home.id for home in homes if home.mould_open]
    query = select(MouldReport).where(col(MouldReport.household_id).in_(keys), col(MouldReport.lifted_at).is_(None))
    found: dict[int, list[MouldReport]] = defaultdict(list)
    for report in session.exec(query.order_by(col(MouldReport.id))) if keys else ():
        found[report.household_id].append(report)
    return found


def _unclaimed(session: Session, county: County, agent: Agent) -> tuple[int, dt.datetime | None]:
    query = (
        select(func.count(), func.min(Escalation.opened_at))
        .select_from(Escalation)
        .join(Household, col(Household.id) == col(Escalation.household_id))
        .where(in_scope(agent, county), _OPEN, col(Escalation.state) == "waiting")
    )
    count, longest = session.exec(query).one()
    return count, longest


def _newest(session: Session, county: County, agent: Agent) -> Escalation | None:
    query = (
        select(Escalation)
        .join(Household, col(Household.id) == col(Escalation.household_id))
        .where(in_scope(agent, county), _OPEN, col(Escalation.state) == "waiting")
        .order_by(col(Escalation.opened_at).desc(), col(Escalation.id).desc())
    )
    return session.exec(query.limit(1)).first()

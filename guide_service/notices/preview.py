"""What would go out if a notice were started now: how many phones, segments, at what cost; and who gets nothing."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections import Counter
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import func, or_
from sqlmodel import Session, col, select

from guide_service.carrier.delivery import FAILED
from guide_service.notices.choice import NO_TEXT, TO, Choice, chosen
from guide_service.notices.words import Version, versions
from guide_service.records import Contact, Household, Message, Notice, NoticeRecipient
from guide_service.wiring import Service

GROWN = 1.1
"""An approval holds for at most so many times the phones that were approved. Our choice."""


@dataclass(frozen=True, slots=True)
class Preview:
    versions: tuple[Version, ...]
    people: dict[str, int]
    """Phones that get it, by language."""
    left_out: dict[str, int]
    """Phones that were chosen and get nothing, by why (``notices.choice``)."""
    without_text: dict[str, int]
    """Those of them of whose language there are no words."""
    by_call: dict[str, int]
    """Of those who get it, by language: phones that chose calls, and are rung."""
    taken_over: int
    """Of those who get it: conversations that an agent has taken over."""
    cost_per_segment: Decimal | None
    segments_per_second: float
    second_person_above: int
    digest: str
    """Of the words and the choice."""

    @property
    def count(self) -> int:
        return sum(self.people.values())

    @property
    def segments(self) -> int:
        return sum(each.text.segments * self._texted(each.language) for each in self.versions)

    def _texted(self, language: str) -> int:
        return self.people.get(language, 0) - self.by_call.get(language, 0)

    @property
    def cost(self) -> Decimal | None:
        return None if self.cost_per_segment is None else self.cost_per_segment * self.segments

    @property
    def takes(self) -> dt.timedelta:
        """At the number's rate and without a night between."""
        return dt.timedelta(seconds=self.segments / self.segments_per_second)

    @property
    def needs_second(self) -> bool:
        return self.count > self.second_person_above

    @property
    def too_long(self) -> tuple[str, ...]:
        return tuple(each.language for each in self.versions if each.too_long)


def preview(session: Session, service: Service, notice: Notice) -> Preview:
    found = versions(service, notice.phrase, notice.own)
    people = chosen(Choice.of(notice.choice), service.county, found).subquery()
    by = (people.c.language, people.c.standing)
    summed: Any = (func.count(), func.sum(people.c.taken_over), func.sum(people.c.by_call))
    counted: Any = select(*by, *summed).group_by(*by)
    rows = session.execute(counted).all()
    left_out: Counter[str] = Counter()
    for _language, standing, count, *_ in rows:
        left_out[standing] += count
    del left_out[TO]
    rules = service.county.notices
    return Preview(
        versions=tuple(found.values()),
        people={language: count for language, standing, count, *_ in rows if standing == TO},
        by_call={language: int(rung or 0) for language, standing, _, _, rung in rows if standing == TO},
        left_out=dict(left_out),
        without_text={language: count for language, standing, count, *_ in rows if standing == NO_TEXT},
        taken_over=sum(int(taken or 0) for _, standing, _, taken, _ in rows if standing == TO),
        cost_per_segment=rules.cost_per_segment,
        segments_per_second=service.county.hours.segments_per_second,
        second_person_above=rules.second_person_above,
        digest=digest(service, notice),
    )


def digest(service: Service, notice: Notice) -> str:
    """Changes with anything that decides who reads what."""
    bodies = {language: each.text.body for language, each in versions(service, notice.phrase, notice.own).items()}
    what = json.dumps([notice.choice, notice.phrase, notice.own, bodies], sort_keys=True)
    return hashlib.sha256(what.encode()).hexdigest()


def approved(notice: Notice, seen: Preview) -> bool:
    """Whether a second person has approved just this, and about so many phones."""
    same = notice.approved_by is not None and notice.approved_digest == seen.digest
    return same and seen.count <= max(notice.approved_people * GROWN, notice.approved_people + 5)


def people_not_reached(session: Session, notice: Notice, after: int, most: int) -> list[tuple[Contact, Household]]:
    """Phones whose text did not arrive, that were rung and told nothing, or that nobody can tell it by call."""
    failed = col(Message.status).in_(FAILED) & (col(NoticeRecipient.state) == "handed")
    query = (
        select(Contact, Household)
        .join(NoticeRecipient, col(NoticeRecipient.contact_id) == col(Contact.id))
        .join(Household, col(Household.id) == col(NoticeRecipient.household_id))
        .outerjoin(Message, col(Message.id) == col(NoticeRecipient.message_id))
        .where(NoticeRecipient.notice_id == notice.id, Contact.id > after, col(Contact.opted_out_at).is_(None))
        .where(or_(failed, col(NoticeRecipient.state) == "no_voice"))
    )
    return [(contact, home) for contact, home in session.exec(query.order_by(col(Contact.id)).limit(most))]


def people_without_text(
    session: Session, service: Service, notice: Notice, after: int, most: int
) -> list[tuple[Contact, Household]]:
    """Phones of whose language there are no words, to be reached in another way."""
    served = notice.bodies or versions(service, notice.phrase, notice.own)
    everybody = chosen(Choice.of(notice.choice), service.county, served)
    lacking = everybody.where(
        Contact.id > after,
        col(Contact.language).not_in(list(served)),
        col(Contact.opted_out_at).is_(None),
        col(Contact.consented_at).is_not(None),
        col(Contact.undeliverable).is_(None),
    )
    page = lacking.order_by(Contact.id).limit(most).subquery()
    query = (
        select(Contact, Household)
        .join(page, col(Contact.id) == page.c.contact_id)
        .join(Household, col(Household.id) == page.c.household_id)
        .order_by(col(Contact.id))
    )
    return [(contact, home) for contact, home in session.exec(query)]

"""What is done about a text that did not go out or did not arrive, by the policy table of ``carrier.delivery``.

Used for refusals of the API (the same row is tried again) and for reports (a new row: the old one has its story).
"""

from __future__ import annotations

import datetime as dt
import random
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from guide_service import jobs
from guide_service.carrier.delivery import POLICIES, Action, Policy
from guide_service.dialogue.effects import EscalationReason, Urgency
from guide_service.followup import send_rate
from guide_service.followup.escalations import raise_escalation
from guide_service.followup.quiet_hours import next_allowed
from guide_service.outbox import cancel_texts_to, zone_of
from guide_service.records import ConsentEvent, Contact, Escalation, Membership, Message
from guide_service.wiring import Service

DAY_SLOTS = (dt.time(9), dt.time(13), dt.time(18))
"""When a phone that was off is tried again: other hours than the first try. Our choice."""
CARRIERS_RESET = ZoneInfo("America/Los_Angeles")
"""Daily caps of the carriers start anew at midnight there (error page 30027)."""
OPERATOR_SECONDS = 900.0
"""The queue is held this long while our account or its registration is not in order. Our choice."""
MOST_ATTEMPTS = 100
"""About a day of such holds; then the text is given up and a person sees it."""
_SENT_AGAIN = (Action.RETRY_LATER, Action.RETRY_DAYTIME, Action.HOLD_UNTIL_RESET, Action.LOOK_UP)
_ABOUT_THE_NUMBER = (Action.GIVE_UP_NUMBER, Action.GIVE_UP_SMS)


def try_again_at(
    policy: Policy, tries: int, now: dt.datetime, zone: ZoneInfo, *, refused: bool = False
) -> dt.datetime | None:
    """When to send it again after so many tries; None = given up. ``refused``: the carrier never took it."""
    if policy.holds_queue and refused and tries < MOST_ATTEMPTS:
        return now + dt.timedelta(seconds=OPERATOR_SECONDS)
    if policy.action not in _SENT_AGAIN or tries > policy.max_retries:
        return None
    if policy.action is Action.RETRY_DAYTIME:
        return _next_slot(now, zone)
    if policy.action is Action.HOLD_UNTIL_RESET:
        return _next_midnight(now)
    return now + dt.timedelta(seconds=policy.wait_seconds * 2 ** (max(tries, 1) - 1) * random.uniform(1.0, 1.5))


def give_up(session: Session, service: Service, message: Message, contact: Contact, policy: Policy, code: int) -> None:
    """The last word about this text: the phone is marked, a person sees it, as the policy says."""
    final = policy.then if policy.action in _SENT_AGAIN else policy.action
    if final is Action.MARK_OPTED_OUT:
        opt_out(session, service, contact)
    elif final in _ABOUT_THE_NUMBER and code in POLICIES and not _takes_calls(contact, final):
        # a code that nobody knows says nothing for sure about the phone
        contact.undeliverable = str(code)
        session.add(contact)
    if policy.holds_queue:
        hold_queue(session, service, message, code)
    if policy.escalate:
        escalate_undeliverable(session, service, message, code)


def _takes_calls(contact: Contact, final: Action) -> bool:
    """A landline that chose calls takes no texts, which is no reason not to ring it."""
    return final is Action.GIVE_UP_SMS and contact.channel == "call"


def escalate_undeliverable(
    session: Session, service: Service, message: Message, code: int, urgency: int = Urgency.SOON
) -> None:
    """One open escalation per household. A text to an agent has no household: the next alarm says it again."""
    if message.household_id is not None:
        raise_escalation(
            session, service, message.household_id, EscalationReason.UNDELIVERABLE, urgency,
            contact_id=message.contact_id, message_id=message.id, detail={"code": code},
        )  # fmt: skip


def hold_queue(session: Session, service: Service, message: Message, code: int) -> None:
    """Nothing will go out until the operator has mended our account: he hears of it once, by the first text it met."""
    rate = service.county.hours.segments_per_second
    send_rate.hold(session, service.settings.number, rate, dt.datetime.now(dt.UTC), OPERATOR_SECONDS)
    if not _operator_knows(session, code):
        escalate_undeliverable(session, service, message, code, Urgency.URGENT)


def opt_out(session: Session, service: Service, contact: Contact) -> None:
    """The carrier says that the person stopped us: that holds for everything, until a START."""
    if contact.opted_out_at is not None:
        return
    now = service.clock.now()
    contact.opted_out_at = now
    session.add(contact)
    language, key = contact.language, contact.phone_key
    session.add(ConsentEvent(phone_key=key, at=now, kind="stop", words="", language=language, source="carrier"))
    cancel_texts_to(session, contact.id)
    for household_id in _left_without_a_phone(session, contact):
        jobs.cancel(session, f"check:{household_id}", f"nudge:{household_id}")


def next_try_allowed(
    session: Session, service: Service, message: Message, policy: Policy, *, refused: bool
) -> dt.datetime | None:
    zone = zone_of(session, service, message.household_id)
    again = try_again_at(policy, message.attempts, service.clock.now(), zone, refused=refused)
    return again and next_allowed(again, zone, service.county.hours)


def _left_without_a_phone(session: Session, contact: Contact) -> list[int]:
    own = session.exec(select(Membership.household_id).where(Membership.contact_id == contact.id)).all()
    others = (
        select(Membership.household_id)
        .join(Contact, col(Contact.id) == col(Membership.contact_id))
        .where(col(Membership.household_id).in_(own), col(Membership.ended_at).is_(None))
        .where(col(Contact.opted_out_at).is_(None), Contact.id != contact.id)
    )
    reached = set(session.exec(others).all())
    return [household_id for household_id in own if household_id not in reached]


def _operator_knows(session: Session, code: int) -> bool:
    reason = str(EscalationReason.UNDELIVERABLE)
    found = session.exec(select(Escalation).where(Escalation.state != "settled", Escalation.reason == reason))
    return any(each.detail.get("code") == code for each in found)


def _next_slot(now: dt.datetime, zone: ZoneInfo) -> dt.datetime:
    earliest = now + dt.timedelta(hours=1)
    today = now.astimezone(zone).date()
    slots = (
        dt.datetime.combine(today + dt.timedelta(days=ahead), slot, tzinfo=zone)
        for ahead in range(3)
        for slot in DAY_SLOTS
    )
    return next(slot for slot in slots if slot >= earliest).astimezone(dt.UTC)


def _next_midnight(now: dt.datetime) -> dt.datetime:
    tomorrow = now.astimezone(CARRIERS_RESET).date() + dt.timedelta(days=1)
    return dt.datetime.combine(tomorrow, dt.time(), tzinfo=CARRIERS_RESET).astimezone(dt.UTC)

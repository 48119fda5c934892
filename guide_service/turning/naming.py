"""Whose house it is, from its rows: its name, its code, and whether the phone must show that it is its owner's."""

from __future__ import annotations

import datetime as dt
import re
import secrets
from typing import Any

from guide_service.dialogue import codes
from guide_service.dialogue.house_facts import CodeHeard, Deletion, HouseFacts
from guide_service.records.loading import Known
from guide_service.sealing import SealingError
from guide_service.wiring import Service

LONGEST_NAME = 30
"""Characters of a street that stand before an answer."""
TAKE_BACK = dt.timedelta(hours=24)
"""A request to delete can be taken back for so long: whoever faked it is found out by its confirmation."""
DELETION_ASKED = "deletion_asked_at"
"""Name of the household's fact that holds when."""
DELETION_DUE = "deletion_due_at"
"""... and, once the county has granted it, of the one that holds when it is carried out."""


def house_facts(
    service: Service,
    known: Known,
    now: dt.datetime,
    today: dt.date,
    heard: CodeHeard,
    houses: tuple[tuple[str, str], ...],
) -> HouseFacts:
    who, county = known.who, service.county
    code = opened_code(service, who)
    return HouseFacts(
        name=house_name(service, who),
        several=bool(who.houses and who.houses > 1),
        code=code,
        heard=heard,
        all=houses,
        fresh_code=codes.drawn(secrets.randbelow),
        tries=who.code_tries if who.code_tried_on == today else 0,
        by_code=bool(who.by_code) or known.joining,
        by_phone=who.channel == "call",
        must_prove=_hides(known, code) and _may_be_anothers(service, who, now),
        deletion=_deletion(known, now),
        speak_from=county.hours.quiet_before,
        speak_until=county.hours.quiet_after,
        code_open_days=county.identity.code_open_days,
        keep_days=county.retention.inbound_body_days,
    )


def house_name(service: Service, row: Any) -> str:
    """Its street as told, else the last digits of its code, else its area."""
    if row.address:
        return " ".join(str(row.address).split())[:LONGEST_NAME].strip()
    code = opened_code(service, row)
    if code:
        return codes.last_group(code)
    return next((area.name for area in service.county.areas if area.id == row.area), "?")


def opened_code(service: Service, row: Any) -> str | None:
    """None for a household without a code, and for one whose secret is gone: it gets a new one."""
    if row.code_sealed is None or row.code_key_id is None:
        return None
    try:
        return service.sealer.open(row.code_sealed, row.code_key_id)
    except SealingError:
        return None


def has_something_to_hide(service: Service, known: Known) -> bool:
    return _hides(known, opened_code(service, known.who))


def _hides(known: Known, code: str | None) -> bool:
    return bool(code or known.places or re.search(r"\d", known.who.address or ""))


def _may_be_anothers(service: Service, who: Any, now: dt.datetime) -> bool:
    """The number was silent for long, now or since it last showed that the household is its owner's."""
    if who.membership_id is None:
        return False
    long = dt.timedelta(days=service.county.identity.silent_days)
    silent = who.last_heard_at is not None and now - who.last_heard_at > long
    return silent or (who.returned_at is not None and who.returned_at > (who.proved_at or who.joined_at))


def _deletion(known: Known, now: dt.datetime) -> Deletion:
    told = known.who.facts or {}
    asked, due = told.get(DELETION_ASKED), told.get(DELETION_DUE)
    if "deletion" not in known.escalations:
        return Deletion.NOT_ASKED
    fresh = asked is not None and now - dt.datetime.fromisoformat(asked) <= TAKE_BACK
    fresh = fresh or (due is not None and now < dt.datetime.fromisoformat(due))
    return Deletion.CAN_BE_TAKEN_BACK if fresh else Deletion.WITH_THE_COUNTY

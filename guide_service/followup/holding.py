"""While a request to delete is open the county may want no reminders: then they wait, a day at a time, for its word."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from sqlmodel import select

from guide_service.database import reading
from guide_service.followup.quiet_hours import reminder_time
from guide_service.followup.work import Work
from guide_service.notices.choice import deletion_is_open
from guide_service.outbox import zone_of
from guide_service.records import Household


def unless_held(handler: Callable[[Work], None]) -> Callable[[Work], None]:
    """The handler of what we start for a household; put off to the next day where it may not be texted now."""

    def held_or_done(work: Work) -> None:
        if _is_held(work):
            _tomorrow(work)
        else:
            handler(work)

    return held_or_done


def _is_held(work: Work) -> bool:
    if work.service.county.records.texts_while_deletion_is_open:
        return False
    with reading(work.service.engine) as session:
        return bool(session.exec(select(deletion_is_open(work.number("household")))).one())


def _tomorrow(work: Work) -> None:
    service = work.service
    with work.settling() as session:
        household_id = work.number("household")
        zone, home = zone_of(session, service, household_id), session.get(Household, household_id)
        day = service.clock.now().astimezone(zone).date() + dt.timedelta(days=1)
        work.again(session, reminder_time(day, zone, service.county.hours, home.facts if home else None))

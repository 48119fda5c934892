"""Meters that were found to read wrong, as a turn asks for them: does what this household measures count?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Engine
from sqlmodel import col, select

from guide_service.database import reading
from guide_service.dialogue.facts import RecallSpan
from guide_service.dialogue.meter_names import names_meter
from guide_service.records import MeterRecall


def meter_named(told: Mapping[str, Any]) -> str:
    """The meter that a household says it has, in its own words (of its facts); empty where it never said."""
    meter = told.get("meter")
    return str(meter.get("whose") or "") if isinstance(meter, Mapping) else ""


def concerns(recall: MeterRecall, household_id: int, told: Mapping[str, Any]) -> bool:
    """Whether what this household measures from now on is measured with the meter of the recall."""
    if recall.household_id is not None:  # until it names another meter
        return recall.household_id == household_id and meter_named(told)[:40] == (recall.meter or "")
    return bool(recall.meter) and names_meter(meter_named(told), recall.meter or "")


class RecalledMeters:
    """All recalls, looked up again at most every few seconds: there are a handful a year.

    What was measured before a recall is marked with its readings in the transaction of the recall. In the seconds until
    another process has heard of it, new readings go unmarked: the recall's job marks them and weighs the house anew.
    """

    KEEP = dt.timedelta(seconds=5)

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._recalls: list[MeterRecall] | None = None
        self._until = dt.datetime.min.replace(tzinfo=dt.UTC)

    def of_household(self, household_id: int, told: Mapping[str, Any]) -> tuple[RecallSpan, ...]:
        found = (each for each in self._now() if concerns(each, household_id, told))
        return tuple(RecallSpan(str(each.id), each.first_day, each.last_day) for each in found)

    def _now(self) -> list[MeterRecall]:
        moment = dt.datetime.now(dt.UTC)
        if self._recalls is None or moment > self._until:
            with reading(self.engine) as session:
                self._recalls = list(session.exec(select(MeterRecall).where(col(MeterRecall.undone_at).is_(None))))
            self._until = moment + self.KEEP
        return self._recalls

    def look_again(self) -> None:
        """After a change made in this process."""
        self._recalls = None

"""Readings of a helper are put before the household: right, not right, or left as they are.

What is confirmed or taken back is what was shown: numbers that come later are asked for themselves.
"""

from __future__ import annotations

from collections.abc import Callable

from guide_service.dialogue.context import Context, strings
from guide_service.dialogue.effects import ConfirmReadings, Escalate, EscalationReason, Urgency, WithdrawReadings
from guide_service.dialogue.outcome import store_assessment
from guide_service.dialogue.saying import Argument
from guide_service.dialogue.tell_numbers import by_place
from guide_service.drying.terms import Reading

MOST_SHOWN = 6
"""Places put before the household in one text; the rest is asked after these."""
SHOWN = "confirm_shown"


def _waiting(sheet: Context) -> list[Reading]:
    """Those of the first places that nobody of the house has confirmed."""
    open_ = [reading for reading in sheet.readings() if not reading.confirmed]
    places = list(dict.fromkeys(reading.place for reading in open_))[:MOST_SHOWN]
    return [reading for reading in open_ if reading.place in places]


def _show(sheet: Context) -> None:
    sheet.slots[SHOWN] = [reading.id for reading in _waiting(sheet)]


def _shown(sheet: Context) -> list[Reading]:
    ids = set(strings(sheet.slots.get(SHOWN)))
    return [reading for reading in sheet.readings() if reading.id in ids and not reading.confirmed]


def _confirm(sheet: Context) -> None:
    rows = _shown(sheet)
    ids = tuple(row.id for row in rows)
    sheet.confirmed.update(ids)
    sheet.slots.pop(SHOWN, None)
    sheet.add(ConfirmReadings(ids))
    sheet.touched = list(dict.fromkeys(row.place for row in rows))
    sheet.forget_assessment()


def _reject(sheet: Context) -> None:
    """They count no more, stay in the file as they came, and a person looks into it."""
    rows = _shown(sheet)
    ids = tuple(row.id for row in rows)
    places = ", ".join(dict.fromkeys(row.place for row in rows))
    sheet.withdrawn.update(ids)
    sheet.slots.pop(SHOWN, None)
    sheet.forget_assessment()
    sheet.add(WithdrawReadings(ids), Escalate(EscalationReason.READINGS_DISPUTED, Urgency.SOON, {"places": places}))
    store_assessment(sheet, ())


def _listed(sheet: Context) -> Argument:
    return by_place(_shown(sheet) or _waiting(sheet))


DEEDS: dict[str, Callable[[Context], None]] = {
    "show_unconfirmed": _show,
    "confirm_readings": _confirm,
    "reject_readings": _reject,
}
VALUES: dict[str, Callable[[Context], Argument]] = {"unconfirmed": _listed}

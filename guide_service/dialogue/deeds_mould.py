"""Deeds of mould: reported at once, its urgency by what is told of it, always an escalation.

Urgent: sewage, more than about 10 square feet, ducts (EPA), or a person at risk in the house (CDC). Growth before the
first cleaning is common after a flood and routine, so that one agent stays afloat; growth that came after it is looked
at soon unless it is small. None of it lifts the report: only an agent does.
"""

from __future__ import annotations

from collections.abc import Callable

from guide_service.dialogue.context import Context
from guide_service.dialogue.deeds_order import remember
from guide_service.dialogue.effects import Escalate, EscalationReason, ReportMould, Urgency, WithdrawMould
from guide_service.dialogue.events import SMELL
from guide_service.dialogue.guards_order import (
    PASSED_ON,
    SEEN,
    SMELL_OPEN,
    cleaning_known,
    mould_told,
    mould_urgent,
    mould_waits,
)
from guide_service.dialogue.stages import told


def _report_mould(sheet: Context) -> None:
    _report(sheet, "smelt" if sheet.event.value in {"smelt", SMELL} else "seen")


def _report(sheet: Context, sense: str) -> None:
    if told(sheet, "smell") == SMELL_OPEN:
        remember(sheet, smell="mould")
    if sense == "seen":
        sheet.slots[SEEN] = True
    elif not sheet.facts.circumstances.mould_open:
        sheet.slots.pop(SEEN, None)
    sheet.slots["mould"] = {**_still_true(sheet), "sense": sense}
    detail = {**mould_told(sheet), **({"risk": True} if told(sheet, "at_risk") == "yes" else {})}
    urgency = Urgency.URGENT if mould_urgent(sheet) else Urgency.ROUTINE
    sheet.add(ReportMould(sense), Escalate(EscalationReason.MOULD, urgency, detail))


def _still_true(sheet: Context) -> dict[str, object]:
    """What was told of mould that is open: a new word of it makes it no smaller, and it is not asked for again."""
    told_of_it = mould_told(sheet) if sheet.facts.circumstances.mould_open else {}
    kept = {name: told_of_it[name] for name in ("risk", "ducts") if name in told_of_it}
    if told_of_it.get("size") == "big":
        kept["size"] = "big"
    if "when" in told_of_it and not cleaning_known(sheet):
        kept["when"] = told_of_it["when"]
    return kept


def _doubt_smell(sheet: Context) -> None:
    sheet.slots["smell_asked"] = sheet.facts.today.isoformat()
    remember(sheet, smell=SMELL_OPEN)


def _smell_other(sheet: Context) -> None:
    """No mould, as it turns out: nobody has to look for what was raised while that was in doubt."""
    remember(sheet, smell="other")
    if str(EscalationReason.MOULD) in sheet.facts.escalations:
        sheet.add(WithdrawMould(doubt_alone=True))


def _withdraw_mould(sheet: Context) -> None:
    """What was only smelt and is now said to be no mould. A doubt ends with it."""
    for slot in ("mould", PASSED_ON, SEEN):
        sheet.slots.pop(slot, None)
    if told(sheet, "smell") == SMELL_OPEN:
        remember(sheet, smell="other")
    sheet.add(WithdrawMould())


def risk_told(sheet: Context) -> None:
    """Somebody in the house is at risk. Mould that is open becomes urgent at once, the one being told of or another."""
    if mould_waits(sheet) or (mould_told(sheet) and sheet.facts.circumstances.mould_open):
        _detail(risk=True)(sheet)
    elif sheet.facts.circumstances.mould_open:
        doubt = {"doubt": True} if told(sheet, "smell") == SMELL_OPEN else {}
        sheet.add(Escalate(EscalationReason.MOULD, Urgency.URGENT, {"risk": True, **doubt}))
    remember(sheet, at_risk="yes")


def _detail(**detail: object) -> Callable[[Context], None]:
    """Keep what was answered. What makes it urgent is raised at once: the rest may never be answered."""

    def note(sheet: Context) -> None:
        mould = sheet.slots.setdefault("mould", {})
        assert isinstance(mould, dict)
        urgent_before = mould_urgent(sheet)
        mould.update(detail)
        if mould_urgent(sheet) and not urgent_before:
            sheet.add(Escalate(EscalationReason.MOULD, Urgency.URGENT, dict(mould), by_an_answer=True))

    return note


def _escalate_mould(sheet: Context) -> None:
    """What was told of it stays: who comes back to one of its questions is advised by all of the answers."""
    detail = dict(mould_told(sheet))
    if told(sheet, "water") is not None:
        detail["water"] = told(sheet, "water")
    if "when" not in detail and cleaning_known(sheet):
        detail["when"] = "after_cleaning"
    urgency = _urgency(sheet, detail)
    sheet.slots[PASSED_ON] = True
    sheet.add(Escalate(EscalationReason.MOULD, urgency, detail, by_an_answer=True))


def _urgency(sheet: Context, detail: dict[str, object]) -> int:
    if mould_urgent(sheet):
        return Urgency.URGENT
    back_again = detail.get("when") == "after_cleaning" and detail.get("size") != "small"
    return Urgency.SOON if back_again else Urgency.ROUTINE


DEEDS: dict[str, Callable[[Context], None]] = {
    "report_mould": _report_mould,
    "smelt_mould": lambda sheet: _report(sheet, "smelt"),
    "mould_small": _detail(size="small"),
    "mould_big": _detail(size="big"),
    "mould_smell": _detail(sense="smelt"),
    "mould_risk": _detail(risk=True),
    "someone_at_risk": risk_told,
    "doubt_smell": _doubt_smell,
    "smell_other": _smell_other,
    "withdraw_mould": _withdraw_mould,
    "mould_ducts": _detail(ducts=True),
    "mould_before_cleaning": _detail(when="before_cleaning"),
    "mould_after_cleaning": _detail(when="after_cleaning"),
    "escalate_mould": _escalate_mould,
}

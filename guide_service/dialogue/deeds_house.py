"""Deeds of whose house it is: joining, codes, several houses, the proof, the file, the hour of reminders."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from guide_service.dialogue.context import Context
from guide_service.dialogue.effects import Escalate, EscalationReason, ScheduleCheck, SetHousehold, Urgency
from guide_service.dialogue.effects_house import (
    AskDeletion,
    CodeTried,
    JoinHousehold,
    Proved,
    RevokeCode,
    SpeakOf,
    TakeBackDeletion,
    TellCode,
)
from guide_service.dialogue.guards_house import is_guess, proof_tries

OF_THE_FILE = "file."
"""Beginning of the ids of states in which a file is proved and told: nobody is led back to them."""


def _join(sheet: Context) -> None:
    sheet.slots["joined_now"] = True
    sheet.add(JoinHousehold())


def _tell_code(sheet: Context) -> None:
    house = sheet.facts.house
    renewed = sheet.slots.get("code_now") == ""
    known = None if renewed else house.code
    sheet.slots["code_now"] = known or house.fresh_code
    sheet.add(TellCode(known or house.fresh_code, new=known is None))


def _revoke(*, phones: bool) -> Callable[[Context], None]:
    def revoke(sheet: Context) -> None:
        sheet.slots["code_now"] = ""
        sheet.add(RevokeCode(phones))

    return revoke


def _switch(sheet: Context) -> None:
    chosen = str(sheet.event.value)
    names = dict(sheet.facts.house.all)
    if chosen in names:
        sheet.slots["house_now"] = names[chosen]
        sheet.add(SpeakOf(int(chosen)))


def begin_proof(sheet: Context, reason: str) -> None:
    """Remember what the proof is for and where the conversation stood."""
    sheet.slots["proof_for"] = reason
    state = str(sheet.slots.get("state", ""))
    if not state.startswith(OF_THE_FILE):
        sheet.slots["after_proof"] = state


def _end_proof(sheet: Context) -> None:
    """``back`` then leads to where the conversation stood when the proof was asked for."""
    sheet.slots.pop("proof_for", None)
    trail = sheet.slots.get("trail")
    kept = [str(state) for state in trail if not str(state).startswith(OF_THE_FILE)] if isinstance(trail, list) else []
    sheet.slots["trail"] = [*kept, str(sheet.slots.pop("after_proof", "home.rest"))]


def _prove(sheet: Context) -> None:
    sheet.slots["proved_now"] = True
    sheet.slots.pop("proof_tries", None)
    sheet.add(Proved())


def _count_proof(sheet: Context) -> None:
    if "proof_counted_now" not in sheet.slots and is_guess(sheet):
        sheet.slots["proof_counted_now"] = True
        sheet.slots["proof_tries"] = proof_tries(sheet) + 1


def _lock_file(sheet: Context) -> None:
    """A person looks who it is; when that is settled the phone has its tries again."""
    sheet.slots.pop("proof_tries", None)
    sheet.add(Escalate(EscalationReason.IDENTITY, Urgency.SOON))


def _remind_at(sheet: Context) -> None:
    time = sheet.event.value
    assert isinstance(time, dt.time)
    sheet.slots["remind_now"] = time.isoformat("minutes")
    sheet.add(SetHousehold(facts={"remind_at": time.isoformat("minutes")}))
    if sheet.facts.next_check_on is not None:
        sheet.add(ScheduleCheck(sheet.facts.next_check_on))


DEEDS: dict[str, Callable[[Context], None]] = {
    "join_house": _join,
    "count_code": lambda sheet: sheet.add(CodeTried()),
    "tell_code": _tell_code,
    "revoke_code": _revoke(phones=False),
    "revoke_phones": _revoke(phones=True),
    "switch_house": _switch,
    "prove_for_file": lambda sheet: begin_proof(sheet, "file"),
    "prove_for_deletion": lambda sheet: begin_proof(sheet, "deletion"),
    "prove": _prove,
    "count_proof": _count_proof,
    "lock_file": _lock_file,
    "end_proof": _end_proof,
    "ask_deletion": lambda sheet: sheet.add(AskDeletion()),
    "take_back_deletion": lambda sheet: sheet.add(TakeBackDeletion()),
    "remind_at": _remind_at,
}
PASSING = (
    "joined_now", "code_now", "house_now", "proved_now", "gated_now", "proof_counted_now", "remind_now",
)  # fmt: skip
"""Slots that hold for one turn only."""

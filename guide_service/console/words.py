"""The service's stored words as agents read them. A word without an entry is shown as it is stored, never hidden."""

from __future__ import annotations

from guide_service.console.catalogue import N_, gettext, locale
from guide_service.wording.formats import capital, own_name

REASONS = {
    "danger": N_("Words of danger"),
    "mould": N_("Mold reported"),
    "stalled": N_("Drying has stalled"),
    "person": N_("Asked for a person"),
    "not_understood": N_("Not understood"),
    "undeliverable": N_("Texts do not arrive"),
    "closed_while_wet": N_("Closed while wet"),
    "lost_from_sight": N_("Lost from sight"),
    "house_kind": N_("A house that needs a person"),
    "failure": N_("Guide failed on a text"),
    "meter_wanted": N_("Needs a meter"),
    "meter_overdue": N_("Meter not brought back"),
    "new_water": N_("Water came again"),
    "treated_plate": N_("Treated plate to look at"),
    "language": N_("Needs another language"),
    "identity": N_("Could not show whose house it is"),
    "deletion": N_("Asks to be deleted"),
    "meter_recalled": N_("Called ready by a bad meter"),
    "readings_disputed": N_("Says that a helper's readings are wrong"),
}
URGENCIES = {1: N_("danger"), 2: N_("urgent"), 3: N_("soon"), 4: N_("routine")}
STAGES = {
    "unknown": N_("stage not known"),
    "safe_entry": N_("not back inside"),
    "utilities": N_("power, gas, water"),
    "papers": N_("photos and papers"),
    "water_out": N_("water out"),
    "mud_out": N_("mud out"),
    "throw_out": N_("throwing out"),
    "open_walls": N_("opening walls"),
    "clean": N_("washing"),
    "dry": N_("drying"),
    "measure": N_("measuring"),
    "measuring": N_("measuring"),
    "close": N_("closing"),
    "afterwards": N_("closed, looked after"),
}
STAGES_IN_ORDER = tuple(each for each in STAGES if each not in ("unknown", "measuring"))
"""What an agent can set; ``measuring`` is an earlier word for ``measure``."""
EVENTS = {"choice": N_("answer"), "unclear": N_("not clear"), "topic": N_("question"), "bays": N_("bays")}
STATES = {"waiting": N_("waiting"), "claimed": N_("claimed"), "mine": N_("claimed by me"), "settled": N_("settled")}
TRENDS = {"falling": N_("falling"), "rising": N_("rising"), "level": N_("about the same")}
BANDS = {"wet": N_("wet"), "caution": N_("caution"), "dry": N_("reads dry"), "unread": N_("not read")}
POINTS = {
    "plate": N_("bottom plate"),
    "low_stud": N_("low stud"),
    "mid_stud": N_("mid stud"),
    "sheathing": N_("sheathing"),
    "wood": N_("wood"),
    "surface": N_("surface"),
}
MODES = {
    "wood_pins": N_("wood, pins"),
    "not_asked": N_("not known"),
    "pinless": N_("pinless"),
    "other_scale": N_("another scale"),
    "colour": N_("color only"),
}
SELF_CHECKS = {"passed": N_("passed"), "failed": N_("failed"), "not_done": N_("not done")}
ROLES = {
    "owner": N_("owner"),
    "renter": N_("renter"),
    "landlord": N_("landlord"),
    "contractor": N_("contractor"),
    "volunteer": N_("volunteer helper"),
    "helper": N_("helper"),
    "unknown": N_("role not known"),
}
AGENT_ROLES = {
    "agent": N_("agent"),
    "coordinator": N_("coordinator"),
    "volunteer": N_("volunteer for measuring rounds"),
    "translator": N_("translator"),
}
ORIGINS = {
    "person": N_("Household"),
    "reply": N_("Guide, in answer"),
    "started": N_("Guide, of itself"),
    "agent": N_("County"),
    "many": N_("County, to many"),
}
NOTICE_STATES = {
    "draft": N_("draft"),
    "sending": N_("being sent"),
    "done": N_("sent"),
    "stopped": N_("stopped"),
    "dropped": N_("dropped"),
}
NOTICE_COUNTS = {
    "queued": N_("in line"),
    "held": N_("held for quiet hours"),
    "sent": N_("sent, no receipt yet"),
    "delivered": N_("delivered"),
    "failed": N_("did not arrive"),
    "opted_out": N_("opted out since"),
    "left": N_("no longer reachable"),
    "stopped": N_("not sent: stopped"),
    "no_text": N_("no text in their language"),
    "no_voice": N_("cannot be told by call in their language"),
}
LEFT_OUT = {
    "no_text": N_("no text in their language"),
    "opted_out": N_("opted out"),
    "no_consent": N_("have not agreed to texts"),
    "undeliverable": N_("texts do not arrive"),
}
DELIVERIES = {
    "waiting": N_("waiting to be sent"),
    "attempted": N_("being sent"),
    "scheduled": N_("with the carrier"),
    "accepted": N_("with the carrier"),
    "queued": N_("with the carrier"),
    "sending": N_("with the carrier"),
    "sent": N_("sent, no receipt"),
    "delivered": N_("delivered"),
    "read": N_("read"),
    "partially_delivered": N_("arrived in part"),
    "undelivered": N_("did not arrive"),
    "failed": N_("did not arrive"),
    "canceled": N_("withdrawn"),
    "replied": N_("handed to the carrier"),
}
SILENCES = {
    "opted_out": N_("no answer: has opted out"),
    "taken_over": N_("no answer: an agent has taken over"),
    "automatic": N_("no answer: an automatic reply"),
    "carrier_answered": N_("no answer: the carrier answered"),
    "no_return_address": N_("no answer: no return address"),
    "failure": N_("the guide failed on this text"),
}
SENSES = {"seen": N_("Seen"), "smelt": N_("Smelt")}
KINDS = {
    "bay": N_("bay"),
    "subfloor": N_("subfloor"),
    "joist": N_("joist"),
    "sill": N_("sill"),
    "reference": N_("wood that stayed dry"),
}


class _LanguageNames(dict[str, str]):
    """Names of languages by CLDR, or as they name themselves: one that is added needs no line here."""

    def __contains__(self, code: object) -> bool:
        return True

    def __getitem__(self, code: str) -> str:
        return str(locale().languages.get(code) or own_name(code))


LANGUAGES = _LanguageNames()
TIES = {
    "own": N_("its own meter"),
    "named": N_("named with the checks"),
    "has": N_("says it has this meter; the checks name none"),
    "lent": N_("the meter was lent to it then; the checks name none"),
    "unnamed": N_("names no meter at all"),
    "holds": N_("has it, no check yet"),
}
"""What ties a household to a meter that was recalled."""
DELETION_WHY = {
    "rules": N_("its records rules say that it must be kept"),
    "need": N_("something in the house still needs a person"),
    "others": N_("someone else of this house wants to keep it"),
    "unproved": N_("it could not see that the asker decides for this house"),
}
OUTCOMES = {
    "answered": N_("Answered by text"),
    "called": N_("Spoke by phone"),
    "visited": N_("Visited"),
    "referred": N_("Passed on to another service"),
    "no_need": N_("No longer needed"),
    "identified": N_("Knows who it is"),
    "not_reached": N_("Could not be reached"),
}
"""What an agent can choose when settling."""
LIFTED = {
    "mould_lifted": N_("Mold report lifted"),
    "lent": N_("A meter was lent"),
    "meter_back": N_("The meter is back"),
    "loan_longer": N_("May keep the meter for longer"),
    "mould_taken_back": N_("Mold report taken back by the household"),
    "taken_back": N_("Taken back by the household"),
    "merged": N_("Merged with another file"),
    "recall_undone": N_("The recall was taken back"),
    "decided": N_("Decided by the records rules"),
}
FORECASTS = {
    "cannot_tell": N_("too early to tell"),
    "too_wet": N_("too wet to tell"),
    "air_cannot_dry": N_("not in this air"),
    "dry_now": N_("now"),
}


def word(table: dict[str, str], value: str | None) -> str:
    """The word for a stored value; the value itself, made readable, when the table has none."""
    if not value:
        return ""
    return gettext(table[value]) if value in table else value.replace("_", " ")


def outcome(value: str | None) -> str:
    return word(OUTCOMES | LIFTED, value)


def reason(value: str) -> str:
    return capital(word(REASONS, value))


def urgency(value: int) -> str:
    return gettext(URGENCIES.get(value, URGENCIES[4]))

"""Why something stands on the waiting list, in short facts: what the guide knew when it raised it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping

from guide_service.console import times, words
from guide_service.console.catalogue import N_, gettext
from guide_service.dialogue.effects import EscalationReason
from guide_service.records import Escalation, Household

CAUSES = {
    "humid_air": N_("probable cause: humid air"),
    "new_water": N_("probable cause: new water"),
    "one_place": N_("probable cause: something at that one place"),
    "treated_or_salt": N_("probable cause: treated wood or salt"),
    "unknown": N_("cause: not clear from the numbers"),
}
FINDINGS = {
    "stalled": N_("not shown to dry"),
    "too_slow": N_("dries, but too slowly"),
    "limit_out_of_reach": N_("limit out of reach as things are"),
}
LOOKED_AT = {
    "air": N_("they found: damp or still air"),
    "rain": N_("they found: rain or ground water comes in"),
    "leak": N_("they found: a leak"),
    "cover": N_("they found: something left on the wood"),
    "salts": N_("they found: salts"),
    "treated": N_("they found: treated wood"),
    "meter": N_("they found: the meter is in doubt"),
}
SIZES = {"small": N_("small"), "big": N_("larger than a household should clean")}
WHEN = {
    "before_cleaning": N_("before the first cleaning"),
    "after_cleaning": N_("after cleaning: it came back"),
    "after_closing": N_("in a closed wall"),
}
DANGERS = {
    "life": N_("somebody hurt or in danger"),
    "electric": N_("electricity"),
    "gas": N_("gas"),
    "carbon_monoxide": N_("exhaust, carbon monoxide"),
    "structure": N_("the house may not hold"),
    "chemical": N_("fumes or poison"),
    "self_harm": N_("may harm himself or herself"),
}
HOUSE_KINDS = {"masonry": N_("block or brick walls"), "manufactured": N_("manufactured home")}
BELOW = {"basement": N_("basement"), "crawl": N_("crawl space"), "slab": N_("slab")}
WATERS = {"sewage": N_("sewage water"), "river": N_("river water"), "rain": N_("rain water"), "tap": N_("tap water")}
BELLIES = {"yes": N_("belly wet or hanging"), "unsure": N_("belly not looked at")}
ABOUT = {"landlord does nothing": N_("the landlord does nothing"), "unanswered": N_("written while an agent had it")}

Told = Mapping[str, str]


def because(escalation: Escalation, home: Household | None = None) -> list[str]:
    """Each a short fact of its own; none where the reason says it all.

    ``home``: the household, where what its house is stands beside: what that says is not said twice.
    """
    told = {name: str(value) for name, value in escalation.detail.items()}
    facts = _FACTS.get(EscalationReason(escalation.reason)) if escalation.reason in set(EscalationReason) else None
    beside = house_of(home).split(", ") if home is not None else []
    return [fact for fact in facts(told) if fact and fact not in beside] if facts else []


def house_of(home: Household) -> str:
    """What the house is, as far as it was told: walls, what is below, kind of water, and whether it is old."""
    old = gettext(N_("older house: lead, asbestos")) if home.facts.get("old_house") == "yes" else ""
    known = (
        _known(HOUSE_KINDS, home.facts.get("house_kind")),
        _known(BELOW, home.facts.get("foundation")),
        _known(WATERS, home.facts.get("water")),
        old,
    )
    return ", ".join(part for part in known if part)


def _known(table: Mapping[str, str], value: object) -> str:
    return gettext(table[str(value)]) if str(value) in table else ""


def _stalled(told: Told) -> Iterator[str]:
    yield _at(told)
    yield _known(FINDINGS, told.get("finding"))
    yield _known(CAUSES, told.get("cause"))
    yield from (gettext(found) for name, found in LOOKED_AT.items() if told.get(name) == "yes")


def _mould(told: Told) -> Iterator[str]:
    yield words.word(words.SENSES, told.get("sense")).lower()
    yield _known(SIZES, told.get("size"))
    if told.get("ducts") == "True":
        yield gettext(N_("in the air ducts"))
    yield _known(WHEN, told.get("when"))
    yield _known(WATERS, told.get("water"))


def _lost(told: Told) -> Iterator[str]:
    if "band" in told:
        yield gettext(N_("last read: %(band)s")) % {"band": words.word(words.BANDS, told["band"])}


def _closed(told: Told) -> Iterator[str]:
    bands = [words.word(words.BANDS, band) for band in told.get("bands", "").split(", ") if band]
    if bands:
        yield gettext(N_("last read: %(band)s")) % {"band": ", ".join(bands)}


def _overdue(told: Told) -> Iterator[str]:
    due = times.day(dt.date.fromisoformat(told["due"])) if "due" in told else "?"
    yield gettext(N_("meter %(meter)s, due back %(day)s")) % {"meter": told.get("meter", "?"), "day": due}


def _language(told: Told) -> Iterator[str]:
    if told.get("language"):
        yield words.word(words.LANGUAGES, told["language"]) if len(told["language"]) <= 3 else told["language"]


def _new_water(told: Told) -> Iterator[str]:
    if "taken_back" in told:
        yield gettext(N_("the household says that it reached no wall"))
    elif told.get("where") == "walls":
        yield gettext(N_("in walls that are measured"))


def _at(told: Told) -> str:
    return gettext(N_("at %(places)s")) % {"places": told["places"]} if told.get("places") else ""


_FACTS: Mapping[EscalationReason, Callable[[Told], Iterator[str]]] = {
    EscalationReason.STALLED: _stalled,
    EscalationReason.MOULD: _mould,
    EscalationReason.LOST_FROM_SIGHT: _lost,
    EscalationReason.CLOSED_WHILE_WET: _closed,
    EscalationReason.METER_OVERDUE: _overdue,
    EscalationReason.LANGUAGE: _language,
    EscalationReason.NEW_WATER: _new_water,
    EscalationReason.DANGER: lambda told: iter((_known(DANGERS, told.get("kind")),)),
    EscalationReason.HOUSE_KIND: lambda told: iter(
        (_known(HOUSE_KINDS, told.get("kind")), _known(BELLIES, told.get("belly")))
    ),
    EscalationReason.PERSON: lambda told: iter((_known(ABOUT, told.get("about")),)),
    EscalationReason.TREATED_PLATE: lambda told: iter((_at(told),)),
    EscalationReason.READINGS_DISPUTED: lambda told: iter((_at(told),)),
}

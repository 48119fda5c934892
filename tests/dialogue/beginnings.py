"""Households from which the machine is walked: between them they let every guard be true and be false."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from guide_service.dialogue.events import Asked, Expect, Offer
from guide_service.dialogue.facts import Facts
from guide_service.dialogue.house_facts import HouseFacts
from guide_service.dialogue.machine import Standing
from guide_service.dialogue.offers import MORE_LANGUAGES
from guide_service.dialogue.stages import Stage
from guide_service.drying.terms import Circumstances, Place, PlaceKind, Wall
from tests.dialogue import whose_house
from tests.dialogue.in_the_middle import SETTLED, greeted, in_the_middle, stands
from tests.dialogue.world import TODAY, Household, dry_once, dry_twice, kitchen, larkwater, nobody, round_of

HOUSES: dict[str, dict[str, object]] = {
    "unknown": {},
    "stud": {"house_kind": "stud", "foundation": "basement", "water": "river", "old_house": "yes", "tap": "well"},
    "masonry": {"house_kind": "masonry", "foundation": "crawl", "water": "clean", "old_house": "no", "tap": "town"},
    "manufactured": {"house_kind": "manufactured", "belly": "wet", "water": "sewage", "old_house": "unsure"},
}
PINS: dict[str, object] = {"have": True, "kind": "pins"}


def households() -> dict[str, Household]:
    wet = replace(round_of(kitchen(), 6, K1=(26, 22, 19), K2=(18, 16, 15)), next_check_on=TODAY)
    bare = replace(kitchen(), walls=(), places=(), household={})
    return {
        **_many_languages(wet),
        **_in_the_recovery_order(bare),
        **in_the_middle(bare, wet),
        **_before_anything(bare),
        **_measured(wet),
        **_dried(),
        **_of_other_houses(bare, wet),
        **_measured_by_others(),
        **{name: _home(facts) for name, facts in whose_house.houses(wet, bare).items()},
    }


def _home(facts: Facts) -> Household:
    """Nothing is being asked."""
    return greeted("home.rest", facts)


def _in_the_recovery_order(bare: Facts) -> dict[str, Household]:
    """At every stage, in every kind of house, with everything still to be asked and with everything known."""
    return {
        f"{stage}_{name}_{role}_{bool(more)}": _home(
            replace(bare, stage=str(stage), role=role, household={**told, **more})
        )
        for stage in Stage
        for name, told in HOUSES.items()
        for role, more in (("owner", {}), ("owner", SETTLED), ("renter", {}))
        if role == "owner" or name == "unknown"
    }


def _many_languages(wet: Facts) -> dict[str, Household]:
    """A county of more languages than there are keys, whose list turns pages."""
    county = replace(nobody().county, languages=("en", "es", "fr", "vi", "ar", "zh", "so", "ht", "uk", "tl"))
    asked = Asked(Expect.CHOICE, (Offer("1", "fr"), Offer("8", MORE_LANGUAGES)))
    new = replace(nobody(), county=county)
    return {
        "many_languages": Household(Standing("welcome.language", {}, asked), new),
        "many_languages_joining": Household(Standing("joining.language", {}, asked), new),
        "many_languages_home": Household(
            Standing("home.language", {"greeted": True}, asked), replace(wet, county=county)
        ),
    }


def _before_anything(bare: Facts) -> dict[str, Household]:
    """Nobody is known, or nothing is set up."""
    english = replace(nobody(), county=replace(nobody().county, languages=("en",)))
    first = larkwater().flows.initial
    return {
        "one_language": stands(first, english),
        "one_language_home": _home(english),
        "new": stands(first, nobody()),
        "no_reminders": _home(replace(nobody(), role="owner")),
        "no_places": _home(bare),
        "named_only": _home(replace(bare, walls=(Wall("P", "pantry"),), household=kitchen().household)),
        "renter": _home(replace(bare, role="renter")),
    }


def _measured(wet: Facts) -> dict[str, Household]:
    """Places are followed, and most were read: wet, stalled, never yet."""
    stalled = kitchen()
    for days in (15, 10, 5, 0):
        stalled = round_of(stalled, days, K1=(24, 23, 23), K2=(11, 10, 10))
    lent = {**PINS, "whose": "A4"}
    return {
        "kitchen": _home(kitchen()),
        "wet": _home(wet),
        "wet_stopped": greeted("stopped", replace(wet, opted_out=True)),
        "stalled": _home(stalled),
        "unspoken": _home(replace(wet, unspoken=frozenset({wet.language}))),
        "by_phone": _home(replace(wet, house=replace(wet.house, by_phone=True))),
        "pinless": _home(replace(wet, household={"meter": {"have": True, "kind": "pinless"}})),
        "lent_meter": _home(replace(wet, household={"meter": lent})),
        "lent_meter in check.block": greeted(
            "check.block", replace(dry_once(), household={"meter": {**lent, "whose": "the county's A4"}})
        ),
        "printed_meter in check.block_printed": greeted("check.block_printed", dry_once(), block_shown=15.5),
    }


def _dried() -> dict[str, Household]:
    """Once or twice below the limit, and what keeps such walls from being ready."""
    ready = dry_twice()
    closed_office = replace(ready, office_open=False, office_opens=(TODAY + dt.timedelta(days=1), dt.time(8)))
    return {
        "dry_once": _home(dry_once()),
        "ready": _home(replace(ready, stage="close")),
        "ready_old": _home(ready).later(20),
        "ready_mould": _home(replace(ready, circumstances=Circumstances(mould_open=True))),
        "ready_flooded": _home(replace(ready, circumstances=Circumstances(flooded_again_on=TODAY))),
        "after_hours": _home(replace(closed_office, escalations={"person": "claimed"})),
    }


def _of_other_houses(bare: Facts, wet: Facts) -> dict[str, Household]:
    """Floors and wood that stayed dry beside the walls; walls without studs."""
    walls = (Wall("K", "kitchen", 4), Wall("S", "hall floor", 0), Wall("R", "dry wood", 0))
    places = (
        Place("K1", "K", treated_plate=True),
        Place("S1", "S", PlaceKind.SUBFLOOR),
        Place("R1", "R", PlaceKind.REFERENCE),
    )
    floors = replace(kitchen(), walls=walls, places=places)
    masonry = replace(nobody(), role="owner", consented=True, household={"house_kind": "masonry"}, stage="measure")
    return {
        "floors": _home(round_of(floors, 5, K1=(18, 13, 12), S1=(17,), R1=(9,))),
        "masonry": _home(masonry),
    }


def _measured_by_others() -> dict[str, Household]:
    """A contractor, and a household whose helper has sent readings that nobody of the house has confirmed."""
    contractor = round_of(replace(kitchen(), role="contractor"), 4, K1=(12, 11, 11), K2=(11, 11, 10))
    helped = replace(contractor, role="owner")
    return {
        "contractor": _home(contractor),
        "helper_sent": _home(helped),
        "helper_sent_silent": _home(replace(helped, house=HouseFacts(must_prove=True, code="482919"))),
        "helper_sent in confirming.ask": greeted("confirming.ask", helped, confirm_shown=["1", "2", "3"]),
    }

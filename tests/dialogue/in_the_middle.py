"""Households in the middle of something: a question is open, something is half told, or has to be proved."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from guide_service.dialogue.events import PlaceNamed, ReadingHeard
from guide_service.dialogue.facts import Facts
from guide_service.dialogue.house_facts import HouseFacts
from guide_service.dialogue.machine import Standing
from guide_service.dialogue.pending import queue_unknown
from guide_service.drying.terms import Circumstances
from tests.dialogue import whose_house
from tests.dialogue.world import LATER, TODAY, Household, dry_twice, kitchen, nobody

SETTLED: dict[str, object] = {
    "power_off": True, "septic": "yes", "power_on": True, "walls_open": True, "dirty_said": True, "tap": "town",
    "washed_on": "2026-05-10", "drying_since": "2026-05-10",
}  # fmt: skip
"""What is known once every question of the recovery order was answered."""
SEEN = {"sense": "seen"}


def stands(state: str, facts: Facts, **slots: object) -> Household:
    """A household whose conversation stands at a state, with what it remembers."""
    return Household(Standing(state, slots), facts)


def greeted(state: str, facts: Facts, **slots: object) -> Household:
    return stands(state, facts, greeted=True, **slots)


def in_the_middle(bare: Facts, wet: Facts) -> dict[str, Household]:
    """``bare``: an owner with nothing set up; ``wet``: one whose bays were read once."""
    return {
        **_being_greeted(bare, wet),
        **_in_the_order(bare, wet),
        **_telling_of_mould(bare, wet),
        **_misunderstood(bare, wet),
        **_proving(wet),
        **{f"{name} in {state}": stands(state, facts, **slots)
           for name, state, slots, facts in whose_house.in_the_middle(wet)},
    }  # fmt: skip


def _being_greeted(bare: Facts, wet: Facts) -> dict[str, Household]:
    """Something that matters came before we know who writes."""
    begun = {"after_welcome": "order.where"}
    address = "welcome.address"
    return {
        "welcome_mould": greeted(address, bare, mould=SEEN),
        "welcome_closed": greeted(address, replace(bare, escalations={"closed_while_wet": "waiting"})),
        "welcome_readings": greeted(address, wet),
        "welcome_places": greeted(address, kitchen()),
        "welcome_renter": greeted(address, replace(bare, role="renter")),
        "welcome_landlord": greeted(address, replace(bare, role="landlord")),
        "welcome_volunteer": greeted(address, replace(bare, role="volunteer")),
        "welcome_on_the_way": greeted(address, bare, **begun),
        "welcome_numbers": greeted(address, wet, **_numbers_of_the_attic()),
        "welcome_danger": stands("welcome.new", nobody(), danger_now=True),
        "joining_on_the_way": greeted("joining.role", replace(wet, role="unknown"), **begun),
        "joining_mould": greeted("joining.role", replace(wet, role="unknown"), mould=SEEN),
        "smell_open in welcome.address": greeted(address, replace(nobody(), household={"smell": "open"})),
        "address_told in welcome.area": greeted("welcome.area", nobody(), address_told="14 River St"),
        **{
            f"told_{role} in welcome.consent": greeted("welcome.consent", nobody(), role=role, role_told=True)
            for role in ("contractor", "renter")
        },
        **{
            f"of_one_call in {state}": greeted(state, replace(nobody(), house=HouseFacts(one_call=True)))
            for state in ("welcome.language", "joining.language")
        },
    }


def _numbers_of_the_attic() -> dict[str, object]:
    """Slots with numbers of a place that nobody knows, which are to be asked about."""
    slots: dict[str, object] = {}
    queue_unknown(slots, (ReadingHeard(PlaceNamed(None, "attic"), None, 13.0, raw="attic 13"),), "attic")
    return slots


def _in_the_order(bare: Facts, wet: Facts) -> dict[str, Household]:
    """On the way through the recovery order, up to the look back weeks after closing."""
    drying = {**SETTLED, "drying_since": "2026-05-18", "first_check_on": "2026-05-25"}
    looked_back = replace(kitchen(), stage="afterwards", household={**SETTLED, "looked_back_on": "2026-05-18"})
    below = {"water": "river", "house_kind": "stud", "foundation": "unsure"}
    measuring = replace(wet, stage="measure", household=SETTLED)
    return {
        "power_is_off": stands("order.inside", replace(bare, household={"power_off": True})),
        "gas_is_off": stands("order.inside", replace(bare, household={"power_off": True, "tap": "town"})),
        "not sure what is below": greeted("order.below", replace(bare, stage="mud_out", household=below)),
        "drying": stands("order.no_fire", replace(bare, stage="dry", household=drying)),
        "brick_drying": stands(
            "order.drying_on", replace(bare, stage="dry", household={**drying, "house_kind": "masonry"})
        ),
        "measuring": stands("order.drying_on", replace(measuring, next_check_on=LATER)),
        "measuring_ready": stands("order.drying_on", replace(dry_twice(), stage="measure", household=SETTLED)),
        "measuring_due": stands("home.rest", replace(wet, stage="measure")),
        "measuring_new": stands("home.rest", replace(kitchen(), stage="measure")),
        "places_removed": stands("home.rest", replace(wet, places=(), walls=())),
        "places_removed_due": stands(
            "order.drying_on", replace(wet, places=(), walls=(), household=SETTLED, next_check_on=None)
        ),
        "closing_lapsed": stands("order.close", replace(dry_twice(), stage="close")).later(20),
        "looked_back": stands("home.rest", looked_back),
        "looked_back_mould": stands("home.rest", replace(looked_back, circumstances=Circumstances(mould_open=True))),
    }


def _telling_of_mould(bare: Facts, wet: Facts) -> dict[str, Household]:
    unwashed = replace(bare, household={"water": "river"})
    asked_today = TODAY.isoformat()
    return {
        "mould_unwashed": greeted("mould.ducts", unwashed, mould=SEEN),
        "mould_at_risk": greeted("mould.size", replace(bare, household={"at_risk": "yes"}), mould={"sense": "smelt"}),
        "mould_denied": greeted("mould.size", unwashed, mould=SEEN),
        "mould_water": greeted("mould.water", wet, mould=SEEN),
        "mould_ducts": greeted("mould.ducts", replace(wet, household={"water": "river"}), mould=SEEN),
        "small_mould in mould.cleaned": greeted("mould.cleaned", wet, mould={**SEEN, "size": "small"}),
        "renter in mould.cleaned": greeted("mould.cleaned", replace(wet, role="renter"), mould=SEEN),
        "smell_open": greeted(
            "check.setting", replace(wet, household={**wet.household, "smell": "open"}), block_asked=asked_today
        ),
    }


def _misunderstood(bare: Facts, wet: Facts) -> dict[str, Household]:
    """Something was not heard, or is to be asked once more."""
    flooded = {"on": "2026-05-18", "before": None, "newest": "6"}
    passed_on = replace(wet, escalations={"not_understood": "waiting"})
    both_bedrooms = [{"words": "both bedrooms", "left": 2}]
    return {
        "missed_once, nothing set up": greeted("home.rest", bare, misses=1),
        **{
            f"gas_told in {state}": greeted(state, bare, fumes_on=f"{TODAY}")
            for state in ("order.where", "order.gas", "home.rest")
        },
        "dries already in order.where": greeted("order.where", replace(bare, stage="dry")),
        "dries already in renter.where": greeted("renter.where", replace(bare, stage="dry", role="renter")),
        "missed_twice": greeted("home.rest", wet, misses=2),
        "passed_on": greeted("home.rest", passed_on, misses=3),
        "rooms in places.room_one": greeted("places.room_one", bare, rooms=both_bedrooms),
        "flooded_before": greeted(
            "home.rest",
            replace(wet, circumstances=Circumstances(flooded_again_on=dt.date(2026, 5, 18))),
            new_water=flooded,
        ),
        **{
            f"back to {state}": greeted("home.rest", wet, trail=[state])
            for state in ("check.sure", "check.far", "check.which_place", "check.which_point", "check.new_place")
        },
    }


def _proving(wet: Facts) -> dict[str, Household]:
    """Whoever was silent for long shows whose house it is."""
    silent = replace(wet.house, must_prove=True)
    return {
        "proving_deletion": greeted(
            "file.prove", replace(wet, house=silent), proof_for="deletion", after_proof="home.rest"
        ),
        "proving_by_phone": greeted(
            "file.prove",
            replace(wet, house=replace(silent, by_phone=True)),
            proof_for="silence",
            after_proof="home.rest",
        ),
    }

"""A household in memory: what a turn's effects make of its facts. The machine is walked in it without a database."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from guide_service.clock import FixedClock
from guide_service.county import read_county
from guide_service.dialogue import effects as fx
from guide_service.dialogue.events import Asked, Event, EventName, Expect, Offer, PlaceNamed, ReadingHeard
from guide_service.dialogue.facts import CheckFacts, Facts
from guide_service.dialogue.flow import FlowSet
from guide_service.dialogue.house_facts import HouseFacts
from guide_service.dialogue.machine import Decision, Standing, advance
from guide_service.dialogue.offers import MORE_LANGUAGES
from guide_service.dialogue.pending import queue_unknown
from guide_service.dialogue.stages import Stage
from guide_service.drying.terms import (
    Air,
    Circumstances,
    Mode,
    Place,
    PlaceKind,
    Point,
    Reading,
    SelfCheck,
    Wall,
)
from guide_service.settings import EXAMPLE_COUNTY, read_settings
from guide_service.turning.deciding import as_sent
from guide_service.wiring import Service, build_service
from tests.dialogue import whose_house

TODAY = dt.date(2026, 5, 20)
LATER = TODAY + dt.timedelta(days=3)
GOOD = CheckFacts(Mode.WOOD_PINS, SelfCheck.PASSED)


@cache
def larkwater() -> Service:
    return build_service(
        read_settings(demo=True, database_url="sqlite:///:memory:"),
        clock=FixedClock(dt.datetime(2026, 5, 20, 15, tzinfo=dt.UTC)),
    )


@cache
def nobody() -> Facts:
    """A phone that was never heard."""
    return Facts(
        county=larkwater().county_facts,
        policy=read_county(EXAMPLE_COUNTY).first_policy(),
        air=Air(),
        today=TODAY,
        office_open=True,
        office_opens=(TODAY, dt.time(8)),
    )


@dataclass(frozen=True)
class Household:
    """Where the conversation stands, and all that is known."""

    standing: Standing
    facts: Facts

    def hears(self, flows: FlowSet, events: Sequence[Event]) -> tuple[Decision, Household]:
        """What is decided, and the household afterwards."""
        decision = advance(flows, self.standing, events, self.facts)
        return decision, Household(decision.standing, after(self.facts, decision.effects))

    def asked(self) -> Household:
        """With the question of its state put, and the answers kept as the person saw them."""
        put = advance(larkwater().flows, self.standing, (Event(EventName.REPEAT),), self.facts)
        kept = as_sent(put.standing.asked, put.says, larkwater(), self.facts.language)
        return replace(self, standing=replace(put.standing, asked=kept))

    def later(self, days: int) -> Household:
        return replace(self, facts=replace(self.facts, today=self.facts.today + dt.timedelta(days=days)))


def after(facts: Facts, effects: Sequence[fx.Effect]) -> Facts:
    for effect in effects:
        change = _CHANGES.get(type(effect))
        if change:
            facts = change(facts, effect)
    return facts


def _contact(facts: Facts, effect: fx.SetContact) -> Facts:
    consented = facts.consented if effect.consented is None else effect.consented
    by_phone = facts.house.by_phone if effect.channel is None else effect.channel == "call"
    house = replace(facts.house, by_phone=by_phone)
    return replace(facts, language=effect.language or facts.language, consented=consented, house=house)


def _household(facts: Facts, effect: fx.SetHousehold) -> Facts:
    told = {**facts.household, **effect.facts}
    washed = told.get("washed_on")
    circumstances = replace(
        facts.circumstances,
        washed_on=dt.date.fromisoformat(washed) if isinstance(washed, str) else None,
        mould_open=facts.circumstances.mould_open or told.get("smell") == "open",
    )
    return replace(
        facts,
        area=effect.area or facts.area,
        address=effect.address or facts.address,
        stage=effect.stage or facts.stage,
        household=told,
        circumstances=circumstances,
    )


def _add_wall(facts: Facts, effect: fx.AddWall) -> Facts:
    return replace(
        facts,
        walls=(*facts.walls, Wall(effect.letter, effect.name, effect.bays)),
        letters_used=facts.letters_used | {effect.letter},
    )


def _update_wall(facts: Facts, effect: fx.UpdateWall) -> Facts:
    changed = {name: value for name, value in (("name", effect.name), ("bays", effect.bays)) if value is not None}
    walls = [replace(wall, **changed) if wall.id == effect.letter else wall for wall in facts.walls]
    return replace(facts, walls=tuple(wall for wall in walls if not (effect.removed and wall.id == effect.letter)))


def _add_place(facts: Facts, effect: fx.AddPlace) -> Facts:
    place = Place(effect.label, effect.wall, PlaceKind(effect.kind), followed=effect.followed)
    return replace(facts, places=(*(p for p in facts.places if p.label != effect.label), place))


def _update_place(facts: Facts, effect: fx.UpdatePlace) -> Facts:
    changed = {
        name: value
        for name, value in (("treated_plate", effect.treated_plate), ("followed", effect.followed))
        if value is not None
    }
    places = [replace(p, **changed) if p.label == effect.label else p for p in facts.places]
    return replace(facts, places=tuple(p for p in places if not (effect.removed and p.label == effect.label)))


def _set_check(facts: Facts, effect: fx.SetCheck) -> Facts:
    known = facts.checks.get(effect.taken_on, CheckFacts())
    mode = Mode(effect.mode) if effect.mode else known.mode
    self_check = SelfCheck(effect.self_check) if effect.self_check else known.self_check
    visit = CheckFacts(mode, self_check)
    own = {Mode.PINLESS, Mode.OTHER_SCALE, Mode.COLOUR}
    readings = tuple(
        replace(r, mode=r.mode if r.mode in own else mode, self_check=self_check)
        if r.taken_on == effect.taken_on
        else r
        for r in facts.readings
    )
    return replace(facts, checks={**facts.checks, effect.taken_on: visit}, readings=readings)


def _record(facts: Facts, effect: fx.RecordReadings) -> Facts:
    gone = {new.replaces for new in effect.readings}
    kept = tuple(reading for reading in facts.readings if reading.id not in gone)
    number = max((int(reading.id) for reading in facts.readings), default=0)
    new = tuple(replace(each.reading, id=str(number + n)) for n, each in enumerate(effect.readings, 1))
    return replace(facts, readings=(*kept, *new), last_readings=new)


def _withdraw(facts: Facts, effect: fx.WithdrawReadings) -> Facts:
    left = tuple(reading for reading in facts.readings if reading.id not in effect.ids)
    return replace(facts, readings=left, last_readings=())


_CHANGES: dict[type, Callable[[Facts, Any], Facts]] = {
    fx.SetContact: _contact,
    fx.SetRole: lambda facts, effect: replace(facts, role=effect.role),
    fx.SetHousehold: _household,
    fx.AddWall: _add_wall,
    fx.UpdateWall: _update_wall,
    fx.AddPlace: _add_place,
    fx.UpdatePlace: _update_place,
    fx.SetCheck: _set_check,
    fx.RecordReadings: _record,
    fx.WithdrawReadings: _withdraw,
    fx.ConfirmReadings: lambda facts, effect: replace(
        facts, readings=tuple(replace(r, confirmed=r.confirmed or r.id in effect.ids) for r in facts.readings)
    ),
    fx.ScheduleCheck: lambda facts, effect: replace(facts, next_check_on=effect.on),
    fx.CancelChecks: lambda facts, _effect: replace(facts, next_check_on=None),
    fx.Escalate: lambda facts, e: replace(facts, escalations={str(e.reason): "waiting", **facts.escalations}),
    fx.ReportMould: lambda facts, _effect: replace(facts, circumstances=replace(facts.circumstances, mould_open=True)),
    fx.FloodedAgain: lambda facts, effect: replace(
        facts, circumstances=replace(facts.circumstances, flooded_again_on=effect.on)
    ),
    fx.NewWaterTakenBack: lambda facts, effect: replace(
        facts, circumstances=replace(facts.circumstances, flooded_again_on=effect.before)
    ),
    **whose_house.CHANGES,
    fx.OptOut: lambda facts, _effect: replace(facts, opted_out=True),
    fx.OptIn: lambda facts, _effect: replace(facts, opted_out=False, consented=True),
}


# --- households to begin with -------------------------------------------------------------------------------------


def round_of(facts: Facts, days_ago: int, **numbers: Sequence[float]) -> Facts:
    """With a round of readings so long ago, wood setting and block in order: ``K1=(22, 19, 17)``."""
    day = facts.today - dt.timedelta(days=days_ago)
    number = len(facts.readings)
    new = []
    for label, values in numbers.items():
        points = (Point.PLATE, Point.LOW_STUD, Point.MID_STUD) if len(values) == 3 else (Point.WOOD,)
        for point, value in zip(points, values, strict=True):
            number += 1
            new.append(
                Reading(
                    str(number), label, point, value, day, day.isoformat(),
                    mode=GOOD.mode, self_check=GOOD.self_check, confirmed=not facts.third_party,
                )
            )  # fmt: skip
    return replace(
        facts, readings=(*facts.readings, *new), last_readings=tuple(new), checks={**facts.checks, day: GOOD}
    )


@cache
def kitchen() -> Facts:
    """An owner with both open bays of the kitchen set up, a pin meter of her own, walls long open and washed."""
    told = {"meter": {"have": True, "kind": "pins"}, "house_kind": "stud", "washed_on": "2026-05-01"}
    return replace(
        nobody(),
        role="owner",
        consented=True,
        area="millrace",
        address="12 Weir St",
        household=told,
        walls=(Wall("K", "kitchen", 2),),
        letters_used=frozenset("K"),
        places=(Place("K1", "K"), Place("K2", "K")),
    )


HOUSES: dict[str, dict[str, object]] = {
    "unknown": {},
    "stud": {"house_kind": "stud", "foundation": "basement", "water": "river", "old_house": "yes", "tap": "well"},
    "masonry": {"house_kind": "masonry", "foundation": "crawl", "water": "clean", "old_house": "no", "tap": "town"},
    "manufactured": {"house_kind": "manufactured", "belly": "wet", "water": "sewage", "old_house": "unsure"},
}
SETTLED: dict[str, object] = {
    "power_off": True, "septic": "yes", "power_on": True, "walls_open": True, "dirty_said": True, "tap": "town",
    "washed_on": "2026-05-10", "drying_since": "2026-05-10",
}  # fmt: skip


def dry_twice() -> Facts:
    """Two rounds that meet the limit, the second one today."""
    once = round_of(kitchen(), 4, K1=(12, 11, 11), K2=(11, 11, 10))
    return round_of(once, 0, K1=(11, 11, 10), K2=(11, 10, 10))


def _in_the_recovery_order(home: Standing, bare: Facts) -> dict[str, Household]:
    """At every stage, in every kind of house, with everything still to be asked and with everything known."""
    return {
        f"{stage}_{name}_{role}_{bool(more)}": Household(
            home, replace(bare, stage=str(stage), role=role, household={**told, **more})
        )
        for stage in Stage
        for name, told in HOUSES.items()
        for role, more in (("owner", {}), ("owner", SETTLED), ("renter", {}))
        if role == "owner" or name == "unknown"
    }


def _of_the_attic() -> dict[str, object]:
    """Slots with numbers of a place that nobody knows, which are to be asked about."""
    slots: dict[str, object] = {}
    queue_unknown(slots, (ReadingHeard(PlaceNamed(None, "attic"), None, 13.0, raw="attic 13"),), "attic")
    return slots


def _in_the_middle(bare: Facts, wet: Facts) -> dict[str, Household]:
    """Where a conversation stands when something earlier is still open, or only half is known."""
    mould = {"greeted": True, "mould": {"sense": "seen"}}
    address = Standing("welcome.address", {"greeted": True})
    unwashed = replace(bare, household={"water": "river"})
    smelt = {"greeted": True, "mould": {"sense": "smelt"}}
    begun = {"greeted": True, "after_welcome": "order.where"}
    looked_back = replace(kitchen(), stage="afterwards", household={**SETTLED, "looked_back_on": "2026-05-18"})
    drying = {**SETTLED, "drying_since": "2026-05-18", "first_check_on": "2026-05-25"}
    return {
        "welcome_mould": Household(Standing("welcome.address", mould), bare),
        "welcome_closed": Household(address, replace(bare, escalations={"closed_while_wet": "waiting"})),
        "welcome_readings": Household(address, wet),
        "welcome_places": Household(address, kitchen()),
        "welcome_renter": Household(address, replace(bare, role="renter")),
        "welcome_landlord": Household(address, replace(bare, role="landlord")),
        "welcome_volunteer": Household(address, replace(bare, role="volunteer")),
        "measuring": Household(
            Standing("order.drying_on"), replace(wet, stage="measure", household=SETTLED, next_check_on=LATER)
        ),
        "measuring_ready": Household(
            Standing("order.drying_on"), replace(dry_twice(), stage="measure", household=SETTLED)
        ),
        "measuring_due": Household(Standing("home.rest"), replace(wet, stage="measure")),
        "measuring_new": Household(Standing("home.rest"), replace(kitchen(), stage="measure")),
        "brick_drying": Household(
            Standing("order.drying_on"), replace(bare, stage="dry", household={**drying, "house_kind": "masonry"})
        ),
        "closing_lapsed": Household(Standing("order.close"), replace(dry_twice(), stage="close")).later(20),
        "looked_back": Household(Standing("home.rest"), looked_back),
        "looked_back_mould": Household(
            Standing("home.rest"), replace(looked_back, circumstances=Circumstances(mould_open=True))
        ),
        "mould_unwashed": Household(Standing("mould.ducts", mould), unwashed),
        "mould_at_risk": Household(Standing("mould.size", smelt), replace(bare, household={"at_risk": "yes"})),
        "mould_denied": Household(Standing("mould.size", mould), unwashed),
        "smell_open": Household(
            Standing("check.setting", {"greeted": True, "block_asked": TODAY.isoformat()}),
            replace(wet, household={**wet.household, "smell": "open"}),
        ),
        "proving_deletion": Household(
            Standing("file.prove", {"greeted": True, "proof_for": "deletion", "after_proof": "home.rest"}),
            replace(wet, house=replace(wet.house, must_prove=True)),
        ),
        "proving_by_phone": Household(
            Standing("file.prove", {"greeted": True, "proof_for": "silence", "after_proof": "home.rest"}),
            replace(wet, house=replace(wet.house, by_phone=True, must_prove=True)),
        ),
        "welcome_on_the_way": Household(Standing("welcome.address", begun), bare),
        "joining_on_the_way": Household(Standing("joining.role", begun), replace(wet, role="unknown")),
        "joining_mould": Household(Standing("joining.role", mould), replace(wet, role="unknown")),
        "welcome_numbers": Household(Standing("welcome.address", {"greeted": True, **_of_the_attic()}), wet),
        "welcome_danger": Household(Standing("welcome.new", {"danger_now": True}), nobody()),
        "mould_water": Household(Standing("mould.water", mould), wet),
        "mould_ducts": Household(Standing("mould.ducts", mould), replace(wet, household={"water": "river"})),
        "power_is_off": Household(Standing("order.inside"), replace(bare, household={"power_off": True})),
        "not sure what is below": Household(
            Standing("order.below", {"greeted": True}),
            replace(bare, stage="mud_out", household={"water": "river", "house_kind": "stud", "foundation": "unsure"}),
        ),
        "gas_is_off": Household(Standing("order.inside"), replace(bare, household={"power_off": True, "tap": "town"})),
        "drying": Household(Standing("order.no_fire"), replace(bare, stage="dry", household=drying)),
        "places_removed": Household(Standing("home.rest"), replace(wet, places=(), walls=())),
        "places_removed_due": Household(
            Standing("order.drying_on"), replace(wet, places=(), walls=(), household=SETTLED, next_check_on=None)
        ),
    }


def _many_languages(wet: Facts) -> dict[str, Household]:
    """A county of more languages than there are keys, whose list turns pages."""
    county = replace(nobody().county, languages=("en", "es", "fr", "vi", "ar", "zh", "so", "ht", "uk", "tl"))
    asked = Asked(Expect.CHOICE, (Offer("1", "fr"), Offer("8", MORE_LANGUAGES)))
    return {
        "many_languages": Household(Standing("welcome.language", {}, asked), replace(nobody(), county=county)),
        "many_languages_joining": Household(Standing("joining.language", {}, asked), replace(nobody(), county=county)),
        "many_languages_home": Household(
            Standing("home.language", {"greeted": True}, asked), replace(wet, county=county)
        ),
    }


def households() -> dict[str, Household]:
    """Beginnings that between them let every guard be true and be false."""
    home, first = Standing("home.rest", {"greeted": True}), Standing(larkwater().flows.initial)
    wet = replace(round_of(kitchen(), 6, K1=(26, 22, 19), K2=(18, 16, 15)), next_check_on=TODAY)
    dry = round_of(kitchen(), 4, K1=(12, 11, 11), K2=(11, 11, 10))
    ready = dry_twice()
    mouldy = Circumstances(mould_open=True)
    more = (
        Place("K1", "K", treated_plate=True),
        Place("S1", "S", PlaceKind.SUBFLOOR),
        Place("R1", "R", PlaceKind.REFERENCE),
    )
    floors = replace(kitchen(), walls=(Wall("K", "kitchen", 4), Wall("S", "hall floor", 0), Wall("R", "dry wood", 0)),
                     places=more)  # fmt: skip
    stalled = kitchen()
    for days in (15, 10, 5, 0):
        stalled = round_of(stalled, days, K1=(24, 23, 23), K2=(11, 10, 10))
    masonry = replace(nobody(), role="owner", consented=True, household={"house_kind": "masonry"}, stage="measure")
    closed = replace(ready, office_open=False, office_opens=(TODAY + dt.timedelta(days=1), dt.time(8)))
    contractor = round_of(replace(kitchen(), role="contractor"), 4, K1=(12, 11, 11), K2=(11, 11, 10))
    bare = replace(kitchen(), walls=(), places=(), household={})
    english = replace(nobody(), county=replace(nobody().county, languages=("en",)))
    return {
        **_many_languages(wet),
        **_in_the_recovery_order(home, bare),
        **_in_the_middle(bare, wet),
        "missed_twice": Household(Standing("home.rest", {"greeted": True, "misses": 2}), wet),
        "passed_on": Household(
            Standing("home.rest", {"greeted": True, "misses": 3}),
            replace(wet, escalations={"not_understood": "waiting"}),
        ),
        "address_told in welcome.area": Household(
            Standing("welcome.area", {"greeted": True, "address_told": "14 River St"}), nobody()
        ),
        "rooms in places.room_one": Household(
            Standing("places.room_one", {"greeted": True, "rooms": [{"words": "both bedrooms", "left": 2}]}), bare
        ),
        "renter in mould.cleaned": Household(
            Standing("mould.cleaned", {"greeted": True, "mould": {"sense": "seen"}}), replace(wet, role="renter")
        ),
        "smell_open in welcome.address": Household(
            Standing("welcome.address", {"greeted": True}), replace(nobody(), household={"smell": "open"})
        ),
        "small_mould in mould.cleaned": Household(
            Standing("mould.cleaned", {"greeted": True, "mould": {"sense": "seen", "size": "small"}}), wet
        ),
        "one_language": Household(first, english),
        "one_language_home": Household(home, english),
        "new": Household(first, nobody()),
        "no_reminders": Household(home, replace(nobody(), role="owner")),
        "no_places": Household(home, bare),
        "unspoken": Household(home, replace(wet, unspoken=frozenset({wet.language}))),
        "by_phone": Household(home, replace(wet, house=replace(wet.house, by_phone=True))),
        "renter": Household(home, replace(bare, role="renter")),
        "kitchen": Household(home, kitchen()),
        "wet": Household(home, wet),
        "wet_stopped": Household(Standing("stopped", {"greeted": True}), replace(wet, opted_out=True)),
        "dry_once": Household(home, dry),
        "ready": Household(home, replace(ready, stage="close")),
        "ready_old": Household(home, ready).later(20),
        "ready_mould": Household(home, replace(ready, circumstances=mouldy)),
        "flooded_before": Household(
            Standing("home.rest", {"greeted": True, "new_water": {"on": "2026-05-18", "before": None, "newest": "6"}}),
            replace(wet, circumstances=Circumstances(flooded_again_on=dt.date(2026, 5, 18))),
        ),
        "named_only": Household(home, replace(bare, walls=(Wall("P", "pantry"),), household=kitchen().household)),
        **{
            f"back to {state}": Household(Standing("home.rest", {"greeted": True, "trail": [state]}), wet)
            for state in ("check.sure", "check.far", "check.which_place", "check.which_point", "check.new_place")
        },
        "ready_flooded": Household(home, replace(ready, circumstances=Circumstances(flooded_again_on=TODAY))),
        "after_hours": Household(home, replace(closed, escalations={"person": "claimed"})),
        "contractor": Household(home, contractor),
        "pinless": Household(home, replace(wet, household={"meter": {"have": True, "kind": "pinless"}})),
        "helper_sent": Household(home, replace(contractor, role="owner")),
        "helper_sent_silent": Household(
            home, replace(contractor, role="owner", house=HouseFacts(must_prove=True, code="482919"))
        ),
        "helper_sent in confirming.ask": Household(
            Standing("confirming.ask", {"greeted": True, "confirm_shown": ["1", "2", "3"]}),
            replace(contractor, role="owner"),
        ),
        "lent_meter": Household(home, replace(wet, household={"meter": {"have": True, "kind": "pins", "whose": "A4"}})),
        "lent_meter in check.block": Household(
            Standing("check.block", {"greeted": True}),
            replace(dry, household={"meter": {"have": True, "kind": "pins", "whose": "the county's A4"}}),
        ),
        "printed_meter in check.block_printed": Household(
            Standing("check.block_printed", {"greeted": True, "block_shown": 15.5}), dry
        ),
        "floors": Household(home, round_of(floors, 5, K1=(18, 13, 12), S1=(17,), R1=(9,))),
        "stalled": Household(home, stalled),
        "masonry": Household(home, masonry),
        **{name: Household(home, facts) for name, facts in whose_house.houses(wet, bare).items()},
        **{f"{name} in {state}": Household(Standing(state, slots), facts)
           for name, state, slots, facts in whose_house.in_the_middle(wet)},
        **{
            f"told_{role} in welcome.consent": Household(
                Standing("welcome.consent", {"greeted": True, "role": role, "role_told": True}), nobody()
            )
            for role in ("contractor", "renter")
        },
        **{
            f"of_one_call in {state}": Household(
                Standing(state, {"greeted": True}), replace(nobody(), house=HouseFacts(one_call=True))
            )
            for state in ("welcome.language", "joining.language")
        },
    }  # fmt: skip

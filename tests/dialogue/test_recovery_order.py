"""The recovery order walked through in every way that answers allow, by owners and by renters."""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import pytest

from guide_service.county import read_county
from guide_service.dialogue.effects import Effect, SetHousehold
from guide_service.dialogue.events import Event, EventName
from guide_service.dialogue.facts import CountyFacts, Facts
from guide_service.dialogue.flow_loader import load_flows
from guide_service.dialogue.guidance import Guidance
from guide_service.dialogue.machine import Decision, Standing, advance
from guide_service.dialogue.stages import Stage
from guide_service.drying.policy import Policy
from guide_service.drying.terms import Air
from guide_service.settings import FLOWS_DIR, SettingsError
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.render import render

FLOWS = load_flows(FLOWS_DIR)
TODAY = dt.date(2026, 5, 20)
OF_THE_ORDER = ("order.", "renter.")
WORK_ON_WALLS = frozenset(
    {"order.cut", "order.block", "order.mobile", "order.lead_asbestos", "order.pump", "order.crawl_water",
     "order.scoop", "order.mud", "order.crawl"}
)  # fmt: skip
COUNTY = CountyFacts("Larkwater County", "Larkwater County Extension", "202-555-0110", "911", (), ("en",))


def facts(role: str = "owner", stage: str = "unknown", guidance: Guidance | None = None, **household: object) -> Facts:
    return Facts(
        county=replace(COUNTY, guidance=guidance or Guidance()),
        policy=Policy(),
        air=Air(),
        today=TODAY,
        office_open=True,
        office_opens=(TODAY, dt.time(8)),
        role=role,
        stage=stage,
        household=household,
    )


def step(state: str, event: Event, known: Facts) -> tuple[Decision, Facts]:
    """One event, and what the household told of itself by it."""
    decision = advance(FLOWS, Standing(state, {"greeted": True}), (event,), known)
    return decision, after(known, decision.effects)


def after(known: Facts, effects: tuple[Effect, ...]) -> Facts:
    for effect in effects:
        if isinstance(effect, SetHousehold):
            known = replace(known, stage=effect.stage or known.stage, household={**known.household, **effect.facts})
    return known


@dataclass(frozen=True)
class Move:
    state: str
    event: str
    to: str
    said: tuple[str, ...]
    known: Facts


def events_in(state: str) -> Iterator[Event]:
    for answer in FLOWS.states[state].answers:
        yield Event(EventName.CHOICE, answer.key)
    for name in (EventName.DONE, EventName.SKIP, EventName.WHY, EventName.LATER, EventName.UNSURE, EventName.CHECK_DUE):
        yield Event(name)


ALIKE = {"sewage": "dirty", "river": "dirty", "rain": "clean", "tap": "clean", "stud": "other", "slab": "other",
         "yes": "worse", "unsure": "worse"}  # fmt: skip
"""Answers that no guard tells apart lead to the same ways on."""
LEADS_NOWHERE_ELSE = frozenset({"skipped", "tap", "crawl_open", "dirty_said", "landlord_asked_on", "first_check_on"})
"""Kept for the agent, or only for what is said."""


def differing(told: Facts) -> tuple[object, ...]:
    """What the ways on of a household may depend on."""
    kept = {k: v for k, v in told.household.items() if k not in LEADS_NOWHERE_ELSE and v is not None}
    return told.stage, *sorted((name, ALIKE.get(str(value), str(value))) for name, value in kept.items())


def walks(start: str, known: Facts) -> list[Move]:
    """Every move that answers can make within the order, each state met once for each set of facts that differ.

    A household that comes back to the question where it stands begins anew, and is not followed again.
    """
    moves: list[Move] = []
    waiting, seen = deque([(start, known)]), set()
    while waiting:
        state, told = waiting.popleft()
        key = (state, *(() if state == start else differing(told)))
        if key in seen or not state.startswith(OF_THE_ORDER):
            continue
        seen.add(key)
        for event in events_in(state):
            decision, now = step(state, event, told)
            to = decision.standing.state
            moves.append(Move(state, f"{event.name}:{event.value}", to, tuple(say.id for say in decision.says), now))
            waiting.append((to, now))
    return moves


@pytest.fixture(scope="module")
def owner_moves() -> list[Move]:
    return walks("order.where", facts())


@pytest.fixture(scope="module")
def renter_moves() -> list[Move]:
    return walks("renter.where", facts("renter"))


def test_owners_reach_every_state_of_the_order(owner_moves: list[Move]) -> None:
    passed_through = {"order.go"} | {id_ for id_ in FLOWS.states if FLOWS.states[id_].ask is None}
    asked = {id_ for id_ in FLOWS.states if id_.startswith("order.")} - passed_through
    reached = {move.state for move in owner_moves} | {move.to for move in owner_moves}
    needs_more = {"order.close", "order.gas_word"}  # readings; gas that was told of
    print(f"{len(asked)} states that ask, {len(owner_moves)} moves")  # noqa: T201 - the count is wanted
    assert asked - reached == needs_more


def test_renters_are_led_past_all_work_on_walls(renter_moves: list[Move]) -> None:
    reached = {move.to for move in renter_moves}
    print(f"{len({move.state for move in renter_moves})} states, {len(renter_moves)} moves")  # noqa: T201 - as above
    assert reached & WORK_ON_WALLS == set()
    assert {"renter.letter", "renter.things", "renter.answer", "order.power_off"} <= reached


@pytest.mark.parametrize("stage", list(Stage))
def test_a_renter_at_any_stage_goes_on_without_work_on_walls(stage: Stage) -> None:
    decision, _ = step("home.rest", Event(EventName.SKIP), facts("renter", stage))
    assert decision.standing.state not in WORK_ON_WALLS
    assert decision.says


@pytest.mark.parametrize("stage", list(Stage))
def test_next_goes_on_from_every_stage(stage: Stage) -> None:
    decision, now = step("home.rest", Event(EventName.SKIP), facts(stage=stage, washed_on="2026-05-01"))
    assert decision.standing.state != "order.where"
    assert decision.says
    assert now.stage in set(Stage)


def test_nothing_leads_nowhere(owner_moves: list[Move], renter_moves: list[Move]) -> None:
    """Whatever is answered, something is said."""
    silent = [f"{move.state} {move.event}" for move in [*owner_moves, *renter_moves] if not move.said]
    assert silent == []


def test_done_and_skip_never_stand_still_at_a_step(owner_moves: list[Move], renter_moves: list[Move]) -> None:
    steps = [m for m in [*owner_moves, *renter_moves] if "did" in {a.key for a in FLOWS.states[m.state].answers}]
    assert len({move.state for move in steps}) > 20
    still = {f"{m.state} {m.event}" for m in steps if m.event in ("done:None", "skip:None") and m.to == m.state}
    assert still == set()


def test_why_explains_and_the_step_stays(owner_moves: list[Move], renter_moves: list[Move]) -> None:
    moves = [move for move in [*owner_moves, *renter_moves] if move.event == "why:None"]
    unexplained = {move.state for move in moves if "why.nothing" in move.said or move.to != move.state}
    assert unexplained <= {"order.where", "renter.where"}


def test_the_meter_comes_only_after_open_washed_and_dried(owner_moves: list[Move], renter_moves: list[Move]) -> None:
    to_meter = [move for move in [*owner_moves, *renter_moves] if move.to.startswith(("places.", "check."))]
    assert to_meter
    too_early = {
        move.event
        for move in to_meter
        if not (
            move.known.household.get("open_and_dried")
            or (move.known.household.get("walls_open") and move.known.household.get("washed_on"))
        )
    }
    assert too_early == set()


def test_a_house_of_block_or_a_wet_belly_always_reaches_a_person() -> None:
    for start, answer in (("order.house", "masonry"), ("order.belly", "yes"), ("order.belly", "unsure")):
        decision, _ = step(start, Event(EventName.CHOICE, answer), facts(stage="open_walls", house_kind="manufactured"))
        assert "house_kind" in {str(getattr(effect, "reason", "")) for effect in decision.effects}


@pytest.mark.parametrize(
    ("known", "asked"),
    [
        ({}, "order.water"),
        ({"water": "river"}, "order.house"),
        ({"water": "river", "house_kind": "stud"}, "order.below"),
        ({"water": "river", "house_kind": "manufactured"}, "order.belly"),
        ({"water": "river", "house_kind": "stud", "foundation": "slab"}, "order.scoop"),
        ({"water": "river", "house_kind": "stud", "foundation": "basement"}, "order.pump"),
        ({"water": "river", "house_kind": "stud", "foundation": "crawl"}, "order.crawl_water"),
    ],
)
def test_only_what_the_next_step_needs_is_asked(known: dict[str, str], asked: str) -> None:
    kept = dict(known)
    if asked == "order.belly":
        decision, _ = step(
            "order.house", Event(EventName.CHOICE, "manufactured"), facts(stage="water_out", water="river")
        )
    else:
        decision, _ = step("home.rest", Event(EventName.SKIP), facts(stage="water_out", **kept))
    assert decision.standing.state == asked


def said_with(guidance: Guidance, state: str, catalogues: Catalogues) -> str:
    decision, _ = step(state, Event(EventName.REPEAT), facts(guidance=guidance, first_check_on="2026-05-27"))
    return " ".join(render(say, "en", catalogues) for say in decision.says)


@pytest.mark.parametrize(
    ("changed", "state", "said"),
    [
        ({"cut_inches": 24}, "order.cut", "24 inches"),
        ({"board_feet": 8}, "order.cut", "8 foot"),
        ({"pump_parts": 4}, "order.pump", "1/4 of it"),
        ({"pump_feet": 1}, "order.pump", "1 feet"),
        ({"bleach_cups": "3/4", "bleach_gallons": "1"}, "order.bleach", "3/4 cup plain bleach in 1 gallons"),
        ({"bleach_spoons": "2"}, "order.bleach", "2 tablespoon"),
        ({"mould_feet": 5}, "mould.size", "5 by 5 feet"),
        ({"old_house": 1978}, "order.age", "1978"),
        ({"dry_days": 10}, "order.drying_on", "10 days"),
    ],
)
def test_the_countys_figure_is_the_one_that_is_said(
    changed: dict[str, object], state: str, said: str, english: Catalogues
) -> None:
    make: Callable[..., Guidance] = Guidance
    assert said in said_with(make(**changed), state, english)
    assert said not in said_with(Guidance(), state, english)


@pytest.fixture(scope="module")
def english() -> Catalogues:
    return Catalogues.load(FLOWS_DIR.parent / "locales", FLOWS.messages, ("en",))


def test_the_county_file_holds_the_figures_of_advice(tmp_path) -> None:  # type: ignore[no-untyped-def]
    shipped = (FLOWS_DIR.parent / "guide_service" / "larkwater.toml").read_text(encoding="utf-8")
    path = tmp_path / "county.toml"
    path.write_text(shipped.replace("cut_inches = 12 ", "cut_inches = 20 "), encoding="utf-8")
    assert read_county(path).guidance.figures() == replace(Guidance(), cut_inches=20)
    path.write_text(shipped.replace("cut_inches = 12 ", "cut_inches = 0 "), encoding="utf-8")
    with pytest.raises(SettingsError, match="cut_inches"):
        read_county(path)

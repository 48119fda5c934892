"""What must come of a text in the middle of things: a household in a state of the flows, a text, the whole decision.

``data/said_<language>.toml`` and its seconds. An outcome is a list of requirements with commas between them,
alternatives with ``|``:
  at order.cut              where the conversation stands afterwards
  says topic.bleach         a message that is said
  not says ..., not at ...
  asks                      nothing is stored, and the person is asked again in other words
  silent                    nothing is said
  reads K1 22 19 17 K2 14 on 2026-05-19   the readings that are recorded, in this order, and no others
  reads K1 low_stud=18      ... at this point; "over" for a number over the range
  fact old_house=no         what the house is known to be; ``meter.have=True`` of a part
  role, area, language, wall <name>, place <label>, mode <of the meter>, escalates <reason>, next <date>
  address, consents         some address is kept; the person agrees
Readings that are recorded and not wanted are a wrong reading, whatever else is right.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache

from guide_service.dialogue import effects as fx
from guide_service.dialogue.answers import understand
from guide_service.dialogue.events import Event, EventName
from guide_service.dialogue.facts import Facts
from guide_service.dialogue.machine import Decision, Standing, advance
from guide_service.drying.terms import Point
from guide_service.turning.knowing import listening_of
from tests.dialogue.answers.situations import DATA, Judged, Message, lexicons
from tests.dialogue.effects_taken import after
from tests.dialogue.world import TODAY, Household, kitchen, larkwater, nobody, round_of

OVER = "over"
"""A number over the meter's range, in what is wanted."""
BAY = (Point.PLATE, Point.LOW_STUD, Point.MID_STUD)
ASKS = (
    "unknown.",
    "check.",
    "unsure.",
    "places.room_name",
    "places.which_range",
    "places.bays_range",
    "order.step_how",
    "order.age_again",
)
"""Messages that ask again, or say that something was not counted."""


WAYS = {
    "check.setting": (Event(EventName.CHECK),),
    "check.block": (Event(EventName.CHECK), Event(EventName.CHOICE, "yes")),
    "check.point": (Event(EventName.CHECK), Event(EventName.CHOICE, "yes"), Event(EventName.CHOICE, "yes")),
}
"""States that are come to, not begun in: the events that lead there from rest."""


def houses() -> dict[str, tuple[Facts, dict[str, object]]]:
    bare = replace(kitchen(), walls=(), places=(), household={})
    wet = replace(round_of(kitchen(), 6, K1=(26, 22, 19), K2=(18, 16, 15)), next_check_on=TODAY)
    order: dict[str, object] = {"power_off": True, "water": "river", "house_kind": "stud", "foundation": "slab"}
    return {
        "new": (nobody(), {}),
        "agreed": (replace(nobody(), consented=True), {"greeted": True}),
        "bare": (bare, {"greeted": True}),
        "kitchen": (kitchen(), {"greeted": True}),
        "wet": (wet, {"greeted": True}),
        "due": (wet, {"greeted": True}),
        "order": (replace(bare, household=order), {"greeted": True}),
        "mould": (replace(bare, household=order), {"greeted": True, "mould": {"sense": "seen"}}),
        "renter": (replace(bare, role="renter"), {"greeted": True}),
    }


@dataclass(frozen=True)
class Said:
    language: str
    house: str
    state: str
    text: str
    wanted: str


def said_corpus(name: str) -> Iterator[Said]:
    """The messages of ``data/said_<name>.toml``, whose name begins with their language."""
    table = tomllib.loads((DATA / f"said_{name}.toml").read_text(encoding="utf-8"))
    for part in table["said"]:
        for text, wanted in part["messages"]:
            yield Said(name[:2], part["house"], part["state"], text, wanted)


@cache
def _asked_in(language: str, house: str, state: str) -> Household:
    """The household in that state, with its question put and the answers kept as the person saw them."""
    facts, slots = houses()[house]
    facts = replace(facts, language=language)
    if state == "welcome.new":
        return Household(Standing(state), facts)
    stands = Household(Standing("home.rest" if state in WAYS else state, slots), facts)
    for event in WAYS.get(state, ()):
        _, stands = stands.hears(larkwater().flows, (event,))
    asked = stands.asked()
    assert asked.standing.state == state, f"{state} leads on to {asked.standing.state}"
    return asked


@dataclass(frozen=True)
class Outcome:
    before: Household
    events: tuple[Event, ...]
    decision: Decision

    @property
    def now(self) -> Facts:
        return after(self.before.facts, self.decision.effects)

    @property
    def says(self) -> list[str]:
        return [say.id for say in self.decision.says if say.id != "offer"]

    def effects(self, kind: type) -> list[fx.Effect]:
        return [effect for effect in self.decision.effects if isinstance(effect, kind)]

    @property
    def readings(self) -> list[fx.NewReading]:
        return [
            each
            for effect in self.decision.effects
            if isinstance(effect, fx.RecordReadings)
            for each in effect.readings
        ]

    def told(self) -> str:
        """For whoever reads why it failed."""
        numbers = " ".join(f"{n.reading.place} {n.reading.point}={n.reading.value}" for n in self.readings)
        kinds = " ".join(type(effect).__name__ for effect in self.decision.effects)
        heard = " + ".join(f"{event.name} {event.value or ''}".strip() for event in self.events)
        return f"heard {heard[:90]}; at {self.decision.standing.state}, says {' '.join(self.says)}; {numbers} [{kinds}]"


def outcome(said: Said) -> Outcome:
    before = _asked_in(said.language, said.house, said.state)
    events = understand(said.text, listening_of(before.facts, before.standing), lexicons())
    return Outcome(before, events, advance(larkwater().flows, before.standing, events, before.facts))


def judged_said(said: Said) -> Judged:
    found = outcome(said)
    message = Message(said.language, f"{said.house}/{said.state}", said.text, (said.wanted,))
    wanted = [[part.strip() for part in one.split(",")] for one in said.wanted.split("|")]
    good = any(all(_holds(part, found) for part in parts) for parts in wanted)
    may_read = good and any(part.startswith("reads") for parts in wanted for part in parts)
    if found.readings and not may_read:
        return Judged(message, "wrong reading", found.told())
    if good and not (_asks(found, "") and not said.wanted.startswith("asks")):
        return Judged(message, "understood", found.told())
    return Judged(message, "asked" if good or _asks(found, "") else "wrong", found.told())


def _holds(part: str, found: Outcome) -> bool:
    if part.startswith("not "):
        return not _holds(part.removeprefix("not "), found)
    verb, _, rest = part.partition(" ")
    return HOLDS[verb](found, rest)


def _asks(found: Outcome, _rest: str) -> bool:
    stored = (fx.RecordReadings, fx.OptOut, fx.ReportMould, fx.Escalate, fx.AddWall, fx.ScheduleCheck)
    unclear = any(event.name in (EventName.UNCLEAR, EventName.NOT_UNDERSTOOD) for event in found.events)
    pending = found.decision.standing.state in (
        "check.sure",
        "check.which_place",
        "check.which_point",
        "check.new_place",
    )
    again = any(said.startswith(ASKS) for said in found.says)
    return not any(found.effects(kind) for kind in stored) and (unclear or pending) and again


def _reads(found: Outcome, rest: str) -> bool:
    words, _, day = rest.partition(" on ")
    wanted: list[tuple[str, str, float | None]] = []
    place, nth = "", 0
    for word in words.split():
        if word[0].isalpha() and "=" not in word:
            place, nth = word, 0
            continue
        point, _, number = word.rpartition("=")
        wanted.append((place, point or str(BAY[nth]), None if number == OVER else float(number)))
        nth += 1
    got = [(n.reading.place, str(n.reading.point), n.reading.value) for n in found.readings]
    days = {str(n.reading.taken_on) for n in found.readings}
    return sorted(got, key=str) == sorted(wanted, key=str) and days == {day or str(TODAY)}


def _fact(found: Outcome, rest: str) -> bool:
    name, _, wanted = rest.partition("=")
    value: object = found.now.household
    for part in name.split("."):
        value = value.get(part) if isinstance(value, dict) else None
    return str(value) == wanted


def _slot(found: Outcome, rest: str) -> bool:
    name, _, wanted = rest.partition("=")
    value: object = dict(found.decision.standing.slots)
    for part in name.split("."):
        value = value.get(part) if isinstance(value, dict) else None
    return str(value) == wanted


def _mode(found: Outcome, rest: str) -> bool:
    return any(
        isinstance(e, fx.SetCheck) and e.mode is not None and str(e.mode) == rest for e in found.decision.effects
    )


HOLDS: dict[str, Callable[[Outcome, str], bool]] = {
    "at": lambda found, rest: found.decision.standing.state == rest,
    "says": lambda found, rest: rest in found.says,
    "asks": _asks,
    "silent": lambda found, _rest: not found.decision.says,
    "reads": _reads,
    "fact": _fact,
    "fact_slot": _slot,
    "role": lambda found, rest: found.now.role == rest,
    "area": lambda found, rest: found.now.area == rest,
    "address": lambda found, _rest: found.now.address is not None and found.now.address != found.before.facts.address,
    "language": lambda found, rest: found.now.language == rest,
    "wall": lambda found, rest: any(wall.name.casefold() == rest for wall in found.now.walls),
    "place": lambda found, rest: any(place.label == rest for place in found.now.places),
    "mode": _mode,
    "escalates": lambda found, rest: any(
        isinstance(e, fx.Escalate) and str(e.reason) == rest for e in found.decision.effects
    ),
    "next": lambda found, rest: str(found.now.next_check_on) == rest,
    "status": lambda found, _rest: any(event.name == EventName.STATUS for event in found.events),
    "consents": lambda found, _rest: any(isinstance(e, fx.SetContact) and e.consented for e in found.decision.effects),
}

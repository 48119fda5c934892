"""The situations that the corpora of messages are understood in, and the notation of what must be understood.

Notation, events joined with `` + ``, alternatives with ``|``:
  readings K1 22 low_stud=19 >30 surface=drywall:14 green; H1 12 ?jump on 2026-05-19 temp 20
  unclear jump, choice yes, topic gas, count 7, bays 1 3, date 2026-05-21, name Kitchen, stop ...
A number after a label has no point unless one is named; ``?why`` is something that is asked besides; ``~attic`` is a
place that is not known and will be asked about, ``?`` none named.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from guide_service.dialogue.answers import Lexicon, load_lexicons, understand
from guide_service.dialogue.events import (
    Asked,
    Event,
    EventName,
    Expect,
    Listening,
    Offer,
    PlaceKnown,
    ReadingHeard,
    ReadingsHeard,
    Unclear,
)
from guide_service.drying.terms import Mode, PlaceKind, Point, Qualifier

ROOT = Path(__file__).parents[3]
DATA = Path(__file__).with_name("data")
TODAY = dt.date(2026, 5, 20)
LANGUAGES = tuple(sorted(path.parent.name for path in (ROOT / "locales").glob("*/words.toml")))


def _of(language: str) -> dict[str, Any]:
    """What ``data/<language>.toml`` says of the household: names of its rooms, words of the roles offered."""
    return dict(tomllib.loads((DATA / f"{language}.toml").read_text(encoding="utf-8"))["household"])


def places(language: str) -> tuple[PlaceKnown, ...]:
    kitchen, hall, living, bedroom, den = _of(language)["names"]
    return (
        PlaceKnown("K1", "w1", kitchen),
        PlaceKnown("K2", "w1", kitchen),
        PlaceKnown("H1", "w2", hall),
        PlaceKnown("L1", "w3", living),
        PlaceKnown("L2", "w3", living),
        PlaceKnown("B1", "w4", bedroom),
        PlaceKnown("S1", "w5", den, PlaceKind.SUBFLOOR),
    )


def situations(language: str) -> dict[str, Listening]:
    known = places(language)
    one_each = (known[0], known[2])
    bay = (Point.PLATE, Point.LOW_STUD, Point.MID_STUD)
    last = PlaceKnown("K1", "w1", known[0].wall_name, last=dict(zip(bay, (22.0, 19.0, 17.0), strict=True)))
    yes_no = (Offer("1", "yes"), Offer("2", "no"), Offer("3", "unsure"))
    roles = enumerate(_of(language)["roles"].items(), start=1)
    role = tuple(Offer(str(n), key, tuple(words)) for n, (key, words) in roles)

    def at(asked: Asked | None = None, here: tuple[PlaceKnown, ...] = known, **more: bool) -> Listening:
        return Listening(language, asked or Asked(), here, TODAY, **more)

    return {
        "idle": at(),
        "small": at(here=one_each),
        "last": at(here=(last, *known[1:])),
        "check_K1": at(Asked(Expect.READINGS, place="K1", points=bay)),
        "check_one": at(Asked(Expect.READINGS, place="K1", points=bay[2:])),
        "first": at(here=(), first_contact=True, introducing=True),
        "opted_out": at(opted_out=True),
        "yesno": at(Asked(Expect.CHOICE, yes_no)),
        "role": at(Asked(Expect.CHOICE, role)),
        "count": at(Asked(Expect.COUNT)),
        "number": at(Asked(Expect.NUMBER)),
        "bays": at(Asked(Expect.BAYS, bays=6)),
        "name": at(Asked(Expect.NAME)),
        "date": at(Asked(Expect.DATE)),
        "date_past": at(Asked(Expect.DATE, past=True)),
    }


@dataclass(frozen=True)
class Message:
    language: str
    situation: str
    text: str
    wanted: tuple[str, ...]


def corpus(name: str) -> Iterator[Message]:
    """The messages of ``data/<name>.toml``, whose name begins with their language."""
    table = tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))
    table.pop("household", None)
    for situation, section in table.items():
        for text, wanted in section["messages"]:
            yield Message(name[:2], situation, text, tuple(wanted.split("|")))


_loaded: dict[tuple[str, ...], Mapping[str, Lexicon]] = {}


def lexicons(languages: tuple[str, ...] = LANGUAGES) -> Mapping[str, Lexicon]:
    if languages not in _loaded:
        _loaded[languages] = load_lexicons(ROOT / "locales", languages)
    return _loaded[languages]


def heard(message: Message) -> tuple[Event, ...]:
    return understand(message.text, situations(message.language)[message.situation], lexicons())


def written(events: tuple[Event, ...]) -> str:
    """``events`` in the notation of the corpora."""
    return " + ".join(_one(event) for event in events)


def _one(event: Event) -> str:
    value = event.value
    if isinstance(value, ReadingsHeard):
        return f"{event.name.value} {_readings(value)}"
    if isinstance(value, Unclear):
        return f"unclear {value.why.value}"
    if isinstance(value, tuple):
        return f"{event.name.value} " + " ".join(map(str, value))
    if isinstance(value, float):
        return f"{event.name.value} {value:g}"
    if value is None or event.name is EventName.THANKS:
        return event.name.value  # that "ok" thanks nobody is seen by what is said (said_en_mended.toml)
    return f"{event.name.value} {value}"


def _readings(value: ReadingsHeard) -> str:
    groups: dict[str, list[str]] = {}
    for item in value.items:
        label = (item.place.label or f"~{item.place.words}") if item.place is not None else "?"
        groups.setdefault(label, []).append(_item(item))
    text = "; ".join(f"{label} {' '.join(items)}" for label, items in groups.items())
    text += "".join(f" ?{unclear.why.value}" for unclear in value.unclear)
    text += f" on {value.taken_on}" if value.taken_on else ""
    return text + (f" temp {round(value.temp_c, 1):g}" if value.temp_c is not None else "")


def _item(item: ReadingHeard) -> str:
    sign = {Qualifier.ABOVE: ">", Qualifier.BELOW: "<", Qualifier.EXACT: ""}[item.qualifier]
    point = f"{item.point.value}=" if item.point else ""
    material = f"{item.material.value}:" if item.material else ""
    material += "pinless:" if item.mode is Mode.PINLESS else "other_scale:" if item.mode is Mode.OTHER_SCALE else ""
    amount = item.colour or ("OL" if item.value is None else f"{item.value:g}")
    return f"{point}{material}{sign}{amount}"


@dataclass(frozen=True)
class Judged:
    message: Message
    outcome: str
    """``understood``, ``asked``, ``wrong`` or ``wrong reading``."""
    got: str


def judged(message: Message) -> Judged:
    events = heard(message)
    got = written(events)
    if got in message.wanted or any(_stands_for(wanted, events) for wanted in message.wanted):
        return Judged(message, "understood", got)
    if any(_stored(event) for event in events):
        return Judged(message, "wrong reading", got)
    asked = all(event.name in (EventName.UNCLEAR, EventName.NOT_UNDERSTOOD) for event in events)
    return Judged(message, "asked" if asked else "wrong", got)


def _stored(event: Event) -> bool:
    """Whether the event holds a reading of a place that is known: one that nothing will be asked about."""
    return isinstance(event.value, ReadingsHeard) and any(
        i.place is not None and i.place.label for i in event.value.items
    )


def _stands_for(wanted: str, events: tuple[Event, ...]) -> bool:
    """A wanted ``unclear`` without a reason accepts any reason."""
    return wanted == "unclear" and all(event.name is EventName.UNCLEAR for event in events)

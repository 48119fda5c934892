"""Conversations in which the texts appear, for whoever translates them: who typed what, and what was said, as data.

``locales/scenes.json`` is made by playing the conversations of the tests (``python -m tests.conversations.scenes``);
a scene holds message ids with arguments and no sentences of ours, so that it reads in every language and never grows
stale in its words. One that no longer fits the texts is left out.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from guide_service.dialogue.saying import Argument, ByLanguage, Say
from guide_service.wording import formats
from guide_service.wording.catalogue import Catalogues, Sourced, UnknownMessage
from guide_service.wording.longest import typical
from guide_service.wording.render import MissingArgument, render
from guide_service.wording.template import placeholders

FILE_NAME = "scenes.json"
_A_DAY, _A_TIME = dt.date(2026, 12, 1), dt.time(9)
_DAYS = frozenset({"date", "day", "earliest", "latest", "check"})
_OF_OURS = {"point": "point.low_stud", "label": "label.owner", "reason": "reason.too_old"}


@dataclass(frozen=True, slots=True)
class Turn:
    """One side of a conversation: what a person typed, or what was said to it."""

    typed: str | None
    says: tuple[Say, ...] = ()


Scene = tuple[Turn, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One thing said, in words."""

    words: str
    meant: bool
    """It is the text that is looked for, or holds it."""


@lru_cache(maxsize=4)
def read_scenes(path: Path) -> Mapping[str, Scene]:
    """By message id; nothing without a file."""
    if not path.is_file():
        return {}
    table = json.loads(path.read_text(encoding="utf-8"))
    scenes = [tuple(Turn(turn.get("typed"), tuple(map(decoded, turn.get("says", ())))) for turn in scene)
              for scene in table["scenes"]]  # fmt: skip
    return {message: scenes[number] for message, number in table["of"].items()}


def in_words(
    scene: Scene, message_id: str, language: str, catalogues: Catalogues, *, spoken: bool
) -> list[tuple[str | None, list[Line]]] | None:
    """The turns of a scene in a language: what was typed, or the lines that were said. None when it no longer fits."""

    def line(say: Say) -> Line:
        return Line(render(say, language, catalogues, spoken=spoken), holds(say, message_id))

    try:
        return [(turn.typed, list(map(line, turn.says))) for turn in scene]
    except (UnknownMessage, MissingArgument, TypeError, KeyError):
        return None


def alone(entry: Sourced) -> Scene:
    """The text by itself, with example values in its places."""
    return (Turn(None, (_example_of(entry, 3 if len(entry.forms) > 1 else None),)),)


def examples(entry: Sourced, language: str, catalogues: Catalogues, counts: Iterable[int | None]) -> list[str]:
    """The text with example values as it is said for each of ``counts``, as it would stand on paper."""
    return [render(_example_of(entry, count), language, catalogues, spoken=entry.spoken) for count in counts]


def example(name: str, language: str, catalogues: Catalogues) -> str:
    """What usually stands in a place, as the language has it."""
    value = _example(name)
    if isinstance(value, Say):
        return render(value, language, catalogues)
    if isinstance(value, dt.date):
        return formats.short_date(value, language, True)
    return formats.clock_time(value, language, True) if isinstance(value, dt.time) else str(value)


def _example_of(entry: Sourced, count: int | None) -> Say:
    names = frozenset().union(*map(placeholders, entry.forms)) - ({"count"} if count is not None else set())
    return Say(entry.message.id, {name: _example(name) for name in names}, count)


def _example(name: str) -> Argument:
    last = name.rpartition("_")[2]
    if name in _OF_OURS:
        return Say(_OF_OURS[name])
    if last in _DAYS:
        return _A_DAY
    if last in ("time", "opens"):
        return _A_TIME
    return typical(name)


def holds(say: Say, message_id: str) -> bool:
    inner: Iterable[Argument] = say.args.values()
    return say.id == message_id or any(
        holds(each, message_id)
        for value in inner
        for each in (value if isinstance(value, tuple) else (value,))
        if isinstance(each, Say)
    )


def ids_in(say: Say) -> set[str]:
    """The messages that a ``Say`` is made of."""
    inner = [each for value in say.args.values() for each in (value if isinstance(value, tuple) else (value,))]
    return {say.id}.union(*(ids_in(each) for each in inner if isinstance(each, Say)))


def encoded(say: Say) -> dict[str, Any]:
    """A ``Say`` as JSON has it."""
    found: dict[str, Any] = {"id": say.id}
    if say.args:
        found["args"] = {name: _value(value) for name, value in say.args.items()}
    if say.count is not None:
        found["count"] = say.count
    return found


def _value(value: Argument) -> Any:
    if isinstance(value, Say):
        return encoded(value)
    if isinstance(value, tuple):
        return [_value(each) for each in value]
    if isinstance(value, ByLanguage):
        return {"plain": value.plain, "own": dict(value.own)}
    if isinstance(value, dt.date):
        return {"day": value.isoformat()}
    return {"time": value.isoformat()} if isinstance(value, dt.time) else value


def decoded(table: Mapping[str, Any]) -> Say:
    return Say(
        table["id"], {name: _argument(value) for name, value in table.get("args", {}).items()}, table.get("count")
    )


def _argument(value: Any) -> Argument:
    if isinstance(value, list):
        return tuple(map(_argument, value))  # type: ignore[arg-type]
    if isinstance(value, dict):
        if "day" in value:
            return dt.date.fromisoformat(value["day"])
        if "plain" in value:
            return ByLanguage(value["plain"], value["own"])
        return dt.time.fromisoformat(value["time"]) if "time" in value else decoded(value)
    return value  # type: ignore[no-any-return]

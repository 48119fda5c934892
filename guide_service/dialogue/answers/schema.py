"""What a words.toml must hold, and the refusal of anything else by file and key."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from guide_service.dialogue.answers.spellers import LEAST_ALIKE
from guide_service.dialogue.events import Danger, EventName
from guide_service.drying.terms import Material, PlaceKind, Point

COMMANDS = frozenset({
    "person", "help", "repeat", "back", "why", "skip", "done", "later", "undo", "greeting", "thanks", "check", "status",
})  # fmt: skip
"""Commands understood in every shipped language when they are all that a text says."""

TOPICS: tuple[str, ...] = (
    "just_flooded",
    "power_on", "power_off", "gas", "water_in_basement", "sewage", "enter_house", "mold_general", "what_to_throw_out",
    "open_walls",
    "bleach", "fans_windows", "generator", "drinking_water", "asbestos_lead", "insurance", "sleep_there", "how_long",
    "what_meter", "where_pins", "what_number", "why_not_closed", "test_mold", "contractor", "renter", "kids_health",
    "treated_wood", "electric_appliances", "wet_car", "what_is_stud", "looks_dry", "mud", "crawl_space", "photos",
    "privacy", "cost", "help_lines", "who_are_you", "food", "pets", "septic", "permit", "who_pays", "heater", "mask",
    "carpet_out", "small_hole", "cut", "cold", "clothes", "meter_dead", "not_drying",
)  # fmt: skip
"""Questions in free words that are recognised. Every words.toml must know the words of each."""

WHAT_BURNS = ("generator", "heater")
"""Topics of what breathes out carbon monoxide: beside somebody who is ill they are danger, in every language."""
BURNS = "burns"
"""The kind of their phrases where they are looked for as that."""

SAME_WORDS: Mapping[str, str] = {
    "joining.role": "welcome.role",
    "places.kind": "order.house",
    "mould.water": "order.water",
    "renter.where": "order.where",
    "renter.photos": "order.photos",
    "renter.things": "order.throw_dirty",
    "renter.air": "order.no_power",
    "order.throw_clean": "order.throw_dirty",
    "order.block": "order.cut",
    "order.mobile": "order.cut",
    "order.crawl": "order.cut",
}
"""Questions that are answered in the words of another one, too: they stand in the file once."""

WORST_FIRST: Mapping[str, tuple[str, ...]] = {
    "order.water": ("sewage", "river", "rain", "tap"),
    "afterwards.look_back": ("smell", "stain", "swelling", "unsure", "nothing"),
}
"""Questions of which several answers may hold at once ("a pipe burst, then the river came"): the worst one counts."""

NOT_BY_OK: frozenset[str] = frozenset({"order.power", "order.dry_power", "check.setting", "check.block"})
"""Questions to which "ok" is no yes: what they ask has to have been looked at."""

CHOICES = ("yes", "no", "unsure", "ok")
STEPS = ("part", "to_do")
"""What is said of a step: that it is done in part ("almost", "not the bedrooms yet"); that it is still to come, asked
or forbidden, where these words stand before it ("do I cut", "won't let me cut")."""
ENTRY_KEYS = frozenset({"whole", "phrases", "first", "not"})

TEXTS, TEXT_TABLE, LISTS = "texts", "text lists", "lists of texts"
NUMBER_TABLE, NUMBER, FLAG = "numbers", "a number", "true or false"

SHAPE: Mapping[str, Mapping[str, str]] = {
    "language": {"names": TEXTS, "asks": TEXTS, "greetings": TEXTS, "common": TEXTS},
    "padding": {"words": TEXTS},
    "negation": {"words": TEXTS, "fillers": TEXTS, "after": TEXTS},
    "typos": {"words": TEXTS, "known": TEXTS, "same": TEXT_TABLE},
    "names": {"leads": TEXTS, "rooms": TEXTS, "both": TEXTS, "articles": TEXTS, "joins": TEXTS, "room_leads": TEXTS,
              "no_rooms": TEXTS},
    "addresses": {"streets": TEXTS, "before": TEXTS},
    "spelling": {"marks": FLAG, "articles": TEXTS, "particles": TEXTS, "alike": TEXTS, "alike_from": NUMBER,
                 "written": TEXT_TABLE, "kept": TEXTS},
    "numbers": {"decimal_comma": FLAG, "words": NUMBER_TABLE, "half": TEXTS, "point": TEXTS, "doubtful": TEXTS},
    "readings": {"points": TEXT_TABLE, "materials": TEXT_TABLE, "kinds": TEXT_TABLE, "colours": TEXT_TABLE,
                 "words": TEXT_TABLE, "sides": TEXT_TABLE},
    "times": {"morning": TEXTS, "evening": TEXTS, "noon": TEXTS, "hour": TEXTS, "half": TEXTS},
    "dates": {"month_first": FLAG, "told_behind": FLAG, "weekdays": TEXT_TABLE, "weekdays_short": TEXT_TABLE,
              "days": TEXT_TABLE, "months": LISTS, "words": TEXT_TABLE},
}  # fmt: skip

READING_WORDS = frozenset({
    "above", "below", "over_range", "about", "percent", "link", "anchor", "bay", "range", "between", "and", "not", "no",
    "minus", "fix", "dry", "temperature", "fahrenheit", "celsius", "degrees", "humidity", "air", "unit", "harmless",
    "all", "none", "or", "dozen", "now", "after", "supposing", "asks", "asks_last",
    "was", "for", "elapsed", "pinless", "scale", "address",
})  # fmt: skip
"""Kinds of word that the grammar of readings, counts and bays knows."""

DATE_WORDS = frozenset({
    "day", "week", "in", "later", "ago", "ago_first", "next", "last", "this", "ordinal", "of", "a",
})  # fmt: skip

VALUES: Mapping[tuple[str, str], frozenset[str]] = {
    ("readings", "points"): frozenset({*(p.value for p in Point), "stud"}),
    ("readings", "materials"): frozenset(m.value for m in Material),
    ("readings", "kinds"): frozenset(k.value for k in PlaceKind),
    ("readings", "colours"): frozenset({"green", "yellow", "red"}),
    ("readings", "words"): READING_WORDS,
    ("readings", "sides"): frozenset({"inside", "outside"}),
    ("dates", "words"): DATE_WORDS,
    ("dates", "weekdays"): frozenset("0123456"),
    ("dates", "weekdays_short"): frozenset("0123456"),
    ("dates", "days"): frozenset({"-2", "-1", "0", "1", "2"}),
}
"""Keys that a table of the file may have; a table not named here may have any."""


class WrongWords(ValueError):
    """A words.toml that cannot be used: which file, which key, why."""

    def __init__(self, path: Path, key: str, why: str) -> None:
        super().__init__(f"{path}: {key or 'the file'}: {why}")
        self.path, self.key, self.why = path, key, why


DEFAULTS: Mapping[str, Mapping[str, Any]] = {
    "spelling": {
        "marks": False,
        "articles": [],
        "particles": [],
        "alike": [],
        "alike_from": LEAST_ALIKE,
        "written": {},
        "kept": [],
    },
    "negation": {"after": []},
    "numbers": {"doubtful": []},
    "typos": {"same": {}},
    "dates": {"told_behind": False},
    "names": {"rooms": [], "both": [], "articles": [], "joins": [], "room_leads": [], "no_rooms": []},
    "addresses": {"streets": [], "before": []},
    "times": {"morning": [], "evening": [], "noon": [], "hour": [], "half": []},
    "commands": {},
    "answers": {},
}
"""What a file may leave out."""
_MAY_BE_MISSING = frozenset({"spelling", "times", "commands", "answers", "addresses"})


def with_defaults(table: Mapping[str, Any]) -> dict[str, Any]:
    filled = dict(table)
    for section, keys in DEFAULTS.items():
        given = table.get(section, {} if section in _MAY_BE_MISSING else None)
        if isinstance(given, dict):
            filled[section] = {**keys, **given}
    return filled


_PHRASES = ("groups", "stop", "start", "danger", "events", "topics", "choices", "steps", "commands", "answers")


def check_shape(path: Path, table: Mapping[str, Any]) -> None:
    """Raise ``WrongWords`` unless every key of the file is known, present where needed, and of the right type."""
    for section in (*_PHRASES, *SHAPE):
        if not isinstance(table.get(section), dict):
            raise WrongWords(path, section, "table missing")
    for section in table:
        if section not in SHAPE and section not in _PHRASES:
            raise WrongWords(path, section, "unknown table")
    for section, keys in SHAPE.items():
        _check_section(path, section, table[section], keys)
    _check_entries(path, table)
    for english, word in table["commands"].items():
        if not (english.isupper() and isinstance(word, str) and word.strip()):
            raise WrongWords(path, f"commands.{english}", "an English command in capitals, and the word for it")


def _check_section(path: Path, section: str, entry: Mapping[str, Any], keys: Mapping[str, str]) -> None:
    for key in (*keys, *entry):
        name = f"{section}.{key}"
        if key not in keys:
            raise WrongWords(path, name, "unknown key")
        if key not in entry:
            raise WrongWords(path, name, "key missing")
        if not _fits(entry[key], keys[key]):
            raise WrongWords(path, name, f"must be {keys[key]}")
        allowed = VALUES.get((section, key))
        for value in entry[key] if allowed is not None else ():
            if allowed is not None and value not in allowed:
                raise WrongWords(path, f"{name}.{value}", "unknown key")


def _fits(value: Any, kind: str) -> bool:
    if kind == FLAG:
        return isinstance(value, bool)
    if kind == NUMBER:
        return type(value) is int
    if kind == TEXTS:
        return _are_texts(value)
    if kind == LISTS:
        return isinstance(value, list) and all(_are_texts(one) for one in value)
    if kind == NUMBER_TABLE:
        return isinstance(value, dict) and all(type(one) in (int, float) for one in value.values())
    return isinstance(value, dict) and all(_are_texts(one) for one in value.values())


def _are_texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) and one.strip() for one in value)


def _check_entries(path: Path, table: Mapping[str, Any]) -> None:
    for group, members in table["groups"].items():
        if not _are_texts(members):
            raise WrongWords(path, f"groups.{group}", "must be texts")
    for section in ("stop", "start"):
        _check_entry(path, section, table[section])
    known = {"danger": {d.value for d in Danger}, "choices": set(CHOICES), "steps": set(STEPS), "topics": set(TOPICS)}
    for section, names in known.items():
        for name in sorted(names - table[section].keys()):
            raise WrongWords(path, f"{section}.{name}", "table missing")
    for section in ("danger", "choices", "steps", "events", "topics"):
        for name, entry in table[section].items():
            if name not in known.get(section, {name}):
                raise WrongWords(path, f"{section}.{name}", "unknown key")
            if section == "events" and name.partition(".")[0] not in set(EventName):
                raise WrongWords(path, f"{section}.{name}", "no such event")
            _check_entry(path, f"{section}.{name}", entry)
    for question, keys in table["answers"].items():
        if not isinstance(keys, dict):
            raise WrongWords(path, f"answers.{question}", "must be a table")
        for key, entry in keys.items():
            _check_entry(path, f"answers.{question}.{key}", entry)


def _check_entry(path: Path, key: str, entry: Any) -> None:
    if not isinstance(entry, dict):
        raise WrongWords(path, key, "must be a table")
    for name, phrases in entry.items():
        if name not in ENTRY_KEYS:
            raise WrongWords(path, f"{key}.{name}", "unknown key")
        if not _are_texts(phrases):
            raise WrongWords(path, f"{key}.{name}", "must be texts")

"""A language that nobody speaks, made from English by changing every letter: files only, as for any other language.

Its words are as long as the English ones, so its texts keep the English budgets; no word of it is a word of English.
"""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from babel.messages.pofile import write_po

from guide_service.settings import FLOWS_DIR, LOCALES_DIR
from guide_service.wording import importing, maintenance
from guide_service.wording.catalogue import as_forms, catalogue_path, read_catalogue

CODE = "qlk"
"""Of the codes that ISO 639-2 leaves for local use (qaa to qtz)."""
_FROM, _TO = "aeiouybcdfghjklmnpqrstvwxz", "ouyaeimnpqrstvwxzbcdfghjkl"
_LETTERS = str.maketrans(_FROM + _FROM.upper(), _TO + _TO.upper())
_KEPT = re.compile(r"%\(\w+\)s|<\w+>|\b(?:STOP|START)\b|[A-Za-z]+(?=\d)")


def spoken(english: str) -> str:
    """English in the ninth language; places, group names, STOP, START and labels such as K1 stay."""
    parts, last = [], 0
    for kept in _KEPT.finditer(english):
        parts += [english[last : kept.start()].translate(_LETTERS), kept.group()]
        last = kept.end()
    return "".join([*parts, english[last:].translate(_LETTERS)])


def add_to(locales: Path) -> None:
    """Everything that a language needs, by the steps of docs/translators.md, into a folder that holds English."""
    shutil.copytree(LOCALES_DIR / "en", locales / "en")
    folder = locales / CODE
    folder.mkdir()
    words = tomllib.loads((LOCALES_DIR / "en" / "words.toml").read_text(encoding="utf-8"))
    english = (w for w in re.findall(r"\b[A-Z]{3,}\b", " ".join(_english_texts())) if w not in ("STOP", "START"))
    table = _translated(words)
    table["commands"] = {word: spoken(word) for word in sorted(set(english))} | {"STOP": "STOP", "START": "START"}
    (folder / "words.toml").write_text("\n".join(_toml(table)), encoding="utf-8")
    (folder / "formats.toml").write_text("\n".join(_toml(_formats())), encoding="utf-8")
    maintenance.extract(FLOWS_DIR, locales)
    maintenance.update(FLOWS_DIR, locales, [CODE])
    importing.take(FLOWS_DIR, locales, CODE, _from_a_translator(locales))


def _english_texts() -> list[str]:
    catalogue = read_catalogue(catalogue_path(LOCALES_DIR, "en"))
    return [re.sub(r"%\(\w+\)s", " ", form) for entry in catalogue if entry.context for form in as_forms(entry.string)]


def _formats() -> dict[str, Any]:
    days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
    months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
    named = {"weekdays": days, "weekdays_long": days, "months": months, "months_long": months}
    return {
        "alphabet": "GSM-7",
        "plurals_like": "en",
        "name": spoken("English"),
        **{name: [spoken(each) for each in texts] for name, texts in named.items()},
        "date": "%(weekday)s %(month)s %(day)s",
        "date_long": "%(weekday)s %(month)s %(day)s",
        "decimal": ".",
        "list_last": spoken(", and "),
    }


def _from_a_translator(locales: Path) -> Path:
    """The catalogue as it comes back, every text of it translated."""
    catalogue = read_catalogue(catalogue_path(locales, CODE))
    for entry in catalogue:
        if entry.context:
            forms = tuple(spoken(form) for form in as_forms(entry.id))
            entry.string = forms if len(forms) > 1 else forms[0]
    path = locales.parent / f"{CODE}.po"
    with path.open("wb") as file:
        write_po(file, catalogue, width=0)
    return path


def _translated(value: Any, key: str = "", top: str = "") -> Any:
    if isinstance(value, str):
        return spoken(value)
    if isinstance(value, list):
        return [_translated(each) for each in value]
    if isinstance(value, dict):
        in_words = top == "numbers" and key == "words"
        return {
            spoken(name) if in_words else name: _translated(inner, name, top or name) for name, inner in value.items()
        }
    return value


def _toml(table: Mapping[str, Any], path: tuple[str, ...] = ()) -> Iterator[str]:
    if path:
        yield f"[{'.'.join(json.dumps(part) for part in path)}]"
    for name, value in table.items():
        if not isinstance(value, dict):
            yield f"{json.dumps(name, ensure_ascii=False)} = {json.dumps(value, ensure_ascii=False)}"
    for name, value in table.items():
        if isinstance(value, dict):
            yield from _toml(value, (*path, name))

"""Who vouches for a translation: ``locales/<language>/reviews.toml``, a record for each text that a speaker signed.

A record holds the English text and the translation as they were signed. A text is signed while a record holds exactly
both, wherever it stands and whatever its state is called; every other text needs a speaker's review. When either has
changed, the translation signed last stays in use until the new one is signed.
"""

from __future__ import annotations

import datetime as dt
import json
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from guide_service.wording.template import placeholders

FILE_NAME = "reviews.toml"
UNSIGNED = "needs a speaker's review"
_HEAD = "# Written by `locales sign`: texts that a speaker has signed, as they were then. Roles, never names.\n"

A_ROLE = "a mark names a role, such as: community translator"

Forms = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Signed:
    id: str
    source: Forms
    target: Forms
    role: str
    on: dt.date

    @property
    def comment(self) -> str:
        return f"reviewed by {self.role}, {self.on}"


class WrongReviews(ValueError):
    """A reviews.toml that cannot be read."""


@dataclass(frozen=True, slots=True)
class Reviews:
    signed: tuple[Signed, ...] = ()

    def of(self, source: Forms, target: Forms) -> Signed | None:
        """The last signature under exactly these texts."""
        found = (one for one in reversed(self.signed) if one.source == source and one.target == target)
        return next(found, None)

    def last(self, context: str, source: Forms) -> Signed | None:
        """The translation signed last for a message that still fits its places."""
        places = frozenset().union(*map(placeholders, source))
        for one in reversed(self.signed):
            if one.id == context and frozenset().union(*map(placeholders, one.target)) <= places:
                same = frozenset().union(*map(placeholders, one.source)) == places
                return one if same and len(one.source) == len(source) else None
        return None

    def state(self, source: Forms, target: Forms) -> str:
        """What stands as a comment in the catalogue."""
        found = self.of(source, target)
        return UNSIGNED if found is None else found.comment

    def with_signed(self, more: Iterable[Signed]) -> Reviews:
        """With these as the last ones: what is signed anew stands at the end."""
        new = {(one.id, one.source, one.target): one for one in more}
        kept = (one for one in self.signed if (one.id, one.source, one.target) not in new)
        return Reviews((*kept, *new.values()))

    def without(self, source: Forms, target: Forms) -> Reviews:
        """With no signature under these texts, wherever they stand."""
        return Reviews(tuple(one for one in self.signed if (one.source, one.target) != (source, target)))


def is_role(text: str) -> bool:
    """Whether ``text`` can stand in a catalogue's comment as the role of a reviewer."""
    return bool(text.strip()) and not any(character in text for character in "\n,")


def reviews_path(locales_dir: Path, language: str) -> Path:
    return locales_dir / language / FILE_NAME


def read_reviews(locales_dir: Path, language: str) -> Reviews:
    """The signatures of a language, none without a file. Raises ``WrongReviews``, naming the file."""
    path = reviews_path(locales_dir, language)
    return Reviews(read_records(path, "signed")) if path.is_file() else Reviews()


def read_records(path: Path, table: str) -> tuple[Signed, ...]:
    """The records of one table of a reviews file: ``signed`` or ``taken_back``. Raises ``WrongReviews``."""
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8")).get(table, [])
        return tuple(_record(entry) for entry in found)
    except (OSError, tomllib.TOMLDecodeError, KeyError, TypeError, ValueError) as wrong:
        raise WrongReviews(f"{path}: {wrong!r}") from wrong


def _record(entry: dict[str, object]) -> Signed:
    on = entry["on"]
    source, target = entry["source"], entry["target"]
    if not isinstance(on, dt.date) or not isinstance(source, list) or not isinstance(target, list):
        raise ValueError(f"{entry.get('id')}: source and target are lists of texts, on is a date")
    return Signed(str(entry["id"]), tuple(map(str, source)), tuple(map(str, target)), str(entry["role"]), on)


def write_reviews(locales_dir: Path, language: str, reviews: Reviews) -> Path:
    path = reviews_path(locales_dir, language)
    path.write_text(as_toml(reviews.signed), encoding="utf-8")
    return path


def as_toml(signed: Iterable[Signed], taken_back: Iterable[Signed] = ()) -> str:
    """What a reviews file holds; ``taken_back`` only in one that is on its way to be imported."""
    return "\n".join([_HEAD, *_lines("signed", signed), *_lines("taken_back", taken_back)]) + "\n"


def _lines(table: str, records: Iterable[Signed]) -> Iterator[str]:
    for one in records:
        yield f"[[{table}]]"
        yield f"id = {_toml(one.id)}"
        yield f"source = [{', '.join(map(_toml, one.source))}]"
        yield f"target = [{', '.join(map(_toml, one.target))}]"
        yield f"role = {_toml(one.role)}"
        yield f"on = {one.on}\n"


def _toml(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")

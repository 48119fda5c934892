"""The words that our texts tell people to send, in each language: the ``[commands]`` table of its words.toml."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from guide_service.wording.catalogue import Forms

Commands = Mapping[str, str]
"""An English command as it stands in a text (``READINGS``) to the word of the language."""

_PLACE = re.compile(r"%\(\w+\)s|%%")
_CAPITALS = re.compile(r"\b[A-Z]{3,}\b")


def commands_of(locales_dir: Path, language: str) -> Commands:
    """The commands of a language, none without a file."""
    path = locales_dir / language / "words.toml"
    return _read(path, path.stat().st_mtime_ns) if path.is_file() else {}


@lru_cache(maxsize=64)
def _read(path: Path, _changed: int) -> Commands:
    table = tomllib.loads(path.read_text(encoding="utf-8")).get("commands", {})
    return {str(english): str(word) for english, word in table.items()}


def lacking(english: Forms, forms: Forms, commands: Commands) -> tuple[tuple[str, str], ...]:
    """(English command, the language's word) that the English text names and the translation does not."""
    named = dict.fromkeys(_CAPITALS.findall(_PLACE.sub(" ", " ".join(english))))
    said = " ".join(forms)
    return tuple((one, commands[one]) for one in named if one in commands and commands[one] not in said)

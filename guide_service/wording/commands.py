"""The words that our texts tell people to send, in each language: the ``[commands]`` table of its words.toml."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from guide_service.wording.catalogue import Forms

Commands = Mapping[str, str]
"""An English command as it stands in a text (``READINGS``, ``NO CALLS``) to the word of the language."""

_PLACE = re.compile(r"%\(\w+\)s|%%")


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
    texts, said = _PLACE.sub(" ", " ".join(english)), " ".join(forms)
    named = ((one, word) for one, word in commands.items() if re.search(rf"\b{one}\b", texts))
    return tuple((one, word) for one, word in named if word not in said)

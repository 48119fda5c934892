"""How a language is spoken and heard on a call: ``locales/<language>/speech.toml``. A new language takes no code.

    says_in     the code under which the carrier speaks it, with ``voice``
    voice       the carrier's voice
    hears_in    the code under which the carrier recognises it; without it answers are keys alone
    model       the carrier's model of recognition, where its standard one does not serve
    recorded    true: nobody synthesises this language. Every phrase is a recording, and a call whose phrases are not
                all recorded says so and offers a text, another language or a person

A language without the file is not spoken.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

_KEYS = {"says_in": str, "voice": str, "hears_in": str, "model": str, "recorded": bool}


class WrongSpeech(ValueError):
    """A speech.toml that cannot be used."""


@dataclass(frozen=True, slots=True)
class Speech:
    language: str
    says_in: str = ""
    voice: str = ""
    hears_in: str = ""
    model: str = ""
    recorded: bool = False

    @property
    def heard(self) -> bool:
        """Whether words are understood, not keys alone."""
        return bool(self.hears_in)


@lru_cache(maxsize=64)
def speech_of(locales_dir: Path, language: str) -> Speech | None:
    """None for a language that is not spoken. Raises ``WrongSpeech`` for a file that cannot be used."""
    path = locales_dir / language / "speech.toml"
    if not path.is_file():
        return None
    return _read(tomllib.loads(path.read_text(encoding="utf-8")), language, path)


def _read(table: Mapping[str, object], language: str, path: Path) -> Speech:
    for key, value in table.items():
        if key not in _KEYS or not isinstance(value, _KEYS[key]):
            raise WrongSpeech(f"{path}: {key}: {'must be ' + _KEYS[key].__name__ if key in _KEYS else 'unknown key'}")
    found = Speech(language, **table)  # type: ignore[arg-type]
    if found.recorded == bool(found.voice and found.says_in):
        raise WrongSpeech(f"{path}: either recorded, or a voice with its says_in")
    return found

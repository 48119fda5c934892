"""Every number word of every language is read as its number or asked, with halves and tenths, never as another."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest

from guide_service.dialogue.answers import understand
from guide_service.dialogue.answers.settling import SURE_UP_TO
from guide_service.dialogue.events import ReadingsHeard, Unclear
from tests.dialogue.answers.situations import LANGUAGES, ROOT, lexicons, situations

WHOLE = range(61)
LEAST_PLAUSIBLE = 5
"""Lower numbers are asked again, in digits too: no meter shows them on wood."""


def table(language: str) -> dict:
    return tomllib.loads((ROOT / "locales" / language / "words.toml").read_text(encoding="utf-8"))["numbers"]


def first_words(language: str) -> dict[int, str]:
    """The word that the file names first for each number."""
    found: dict[int, str] = {}
    for word, value in table(language)["words"].items():
        found.setdefault(int(value), word)
    return found


def read(language: str, text: str, *, asked: bool = False) -> float | None:
    """The one value that is stored of a text, None when it is asked; ``asked``: the value that is read back."""
    situation = situations(language)["idle"]
    events = understand(text, replace(situation, language=language), lexicons())
    if asked:
        unclear = [event.value.suggestion for event in events if isinstance(event.value, Unclear)]
        return unclear[0] if len(unclear) == 1 else None
    heard = [event.value for event in events if isinstance(event.value, ReadingsHeard)]
    values = [item.value for value in heard for item in value.items]
    return values[0] if len(values) == 1 else None if not values else float("nan")


def _heard(language: str, word: str, number: int) -> bool:
    """Read as it is; what is high, and may be two digits the wrong way round, is read back."""
    return number in (read(language, f"K1 {word}"), number > SURE_UP_TO and read(language, f"K1 {word}", asked=True))


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_number_word_is_read_as_another_number(language: str) -> None:
    wrong = {word: got for word, value in table(language)["words"].items()
             if (got := read(language, f"K1 {word}")) not in (value, None)}  # fmt: skip
    assert wrong == {}


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_numbers_to_sixty_are_understood_in_words(language: str) -> None:
    words, doubtful = first_words(language), set(table(language).get("doubtful", ()))
    assert sorted(set(WHOLE) - words.keys()) == []
    missed = {
        n: words[n]
        for n in WHOLE
        if n >= LEAST_PLAUSIBLE and words[n] not in doubtful and not _heard(language, words[n], n)
    }
    assert missed == {}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("kind", ["half", "point"])
def test_halves_and_tenths_are_understood_in_words(language: str, kind: str) -> None:
    words, missed = first_words(language), {}
    joining = table(language)[kind]
    assert joining
    for n in range(6, 61):
        tail = joining[0] if kind == "half" else f"{joining[0]} {words[5]}"
        glue = "" if any("\u4e00" <= c <= "\u9fff" for c in words[n]) else " "
        text = f"K1 {words[n]}{glue}{tail}"
        if read(language, text) != n + 0.5:
            missed[text] = read(language, text)
    assert missed == {}

"""An offered answer typed as it is shown is that answer, whatever else its words might mean."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import lru_cache

from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexemes import Lexeme
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.questions import STATED, answer
from guide_service.dialogue.answers.readings import lexemes_of
from guide_service.dialogue.answers.spelling import is_word, plain_words
from guide_service.dialogue.events import Asked, Event, EventName, Expect, Listening, Offer, Unclear, WhyUnclear

_BESIDE_A_DAY = frozenset({"date", "link", "comma", "break", "harmless", "for", "about"})
"""Kinds of word that say nothing beside a day."""


def typed_out(heard: Heard, asked: Asked) -> Event | None:
    """ "I have one", where "1 I have one" was sent."""
    if not asked.offers:
        return None
    key = _shown(asked.offers).get(tuple(token.text for token in heard.tokens if is_word(token.text)))
    if key in STATED and heard.is_asked(0, 1):
        return None  # "done?" asks
    return None if key is None else Event(EventName.CHOICE, key, heard.text.strip())


@lru_cache(maxsize=1024)
def _shown(offers: tuple[Offer, ...]) -> dict[tuple[str, ...], str]:
    """Words of the offered answers to their keys; of two that read the same the first."""
    found: dict[tuple[str, ...], str] = {}
    for offer in offers:
        for words in offer.words:
            found.setdefault(plain_words(words), offer.key)
    return found


def day_instead(
    heard: Heard, listening: Listening, lexicon: Lexicon, wanted: bool = False, later: bool = False
) -> Event | None:
    """A day to come: where readings were asked for, where a check shall be moved (``wanted``), or where nothing else is
    said (``later``: in a word that puts off, too).

    A check may come early: "next Friday" is the nearest one, and of two days the first.
    """
    expect = listening.asked.expect
    asked = replace(listening, asked=replace(listening.asked, expect=Expect.DATE, past=False))
    lexemes = lexemes_of(heard, asked, lexicon, nearest=True)
    bare = expect in (Expect.CHOICE, Expect.NOTHING) and not listening.introducing and _is_only_a_day(heard, lexemes)
    if expect is not Expect.READINGS and not wanted and not bare:
        return None
    found = answer(heard, lexemes, asked, lexicon)
    if found is not None and isinstance(found.value, Unclear) and found.value.why is WhyUnclear.WHICH_DATE:
        found = _one_of_several(found, lexemes, listening.today)
    if found is None or (bare and not (isinstance(found.value, dt.date) and found.value > listening.today)):
        return None
    if found.name is EventName.DATE and bare and not wanted and (later or expect is Expect.CHOICE):
        return replace(found, name=EventName.LATER)
    named = found.name is EventName.DATE and isinstance(found.value, dt.date)
    return found if named or found.name is EventName.LATER else None


def _one_of_several(unclear: Event, lexemes: list[Lexeme], today: dt.date) -> Event:
    """Of several days the first one to come; a week beside a day puts that day off ("Friday, of next week")."""
    days = sorted({lexeme.value for lexeme in lexemes if lexeme.kind == "date" and lexeme.value})
    coming = [day for day in days if day > today]
    if not coming:
        return replace(unclear, name=EventName.LATER, value=None)  # the answer tells which day we wait for
    week = today + dt.timedelta(days=7)
    return replace(unclear, name=EventName.DATE, value=week if week in coming else coming[0])


def _is_only_a_day(heard: Heard, lexemes: list[Lexeme]) -> bool:
    kinds = {lexeme.kind for lexeme in lexemes}
    return "date" in kinds and kinds <= _BESIDE_A_DAY and any(token.text[0].isalpha() for token in heard.tokens)

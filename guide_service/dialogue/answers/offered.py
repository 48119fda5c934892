"""An offered answer typed as it is shown is that answer, whatever else its words might mean."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import lru_cache

from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.questions import STATED, answer
from guide_service.dialogue.answers.readings import lexemes_of
from guide_service.dialogue.answers.spelling import is_word, plain_words
from guide_service.dialogue.events import Asked, Event, EventName, Expect, Listening, Offer, Unclear, WhyUnclear


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


def day_instead(heard: Heard, listening: Listening, lexicon: Lexicon, wanted: bool = False) -> Event | None:
    """A day to come ("Friday", "tomorrow"), where readings were asked for or a check shall be moved (``wanted``)."""
    if listening.asked.expect is not Expect.READINGS and not wanted:
        return None
    asked = replace(listening, asked=replace(listening.asked, expect=Expect.DATE, past=False))
    found = answer(heard, lexemes_of(heard, asked, lexicon), asked, lexicon)
    if found is not None and isinstance(found.value, Unclear) and found.value.why is WhyUnclear.WHICH_DATE:
        return replace(found, name=EventName.LATER, value=None)  # "next Friday": the answer tells which day we wait for
    named = found is not None and found.name is EventName.DATE and isinstance(found.value, dt.date)
    return found if named else None

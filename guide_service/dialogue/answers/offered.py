"""An offered answer typed as it is shown is that answer, whatever else its words might mean."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.questions import answer
from guide_service.dialogue.answers.readings import lexemes_of
from guide_service.dialogue.answers.spelling import plain_words
from guide_service.dialogue.events import Asked, Event, EventName, Expect, Listening


def typed_out(heard: Heard, asked: Asked) -> Event | None:
    """ "I have one", where "1 I have one" was sent."""
    if not asked.offers:
        return None
    said = plain_words(heard.text)
    for offer in asked.offers:
        if any(said == plain_words(words) for words in offer.words):
            return Event(EventName.CHOICE, offer.key, heard.text.strip())
    return None


def day_instead(heard: Heard, listening: Listening, lexicon: Lexicon) -> Event | None:
    """A day to come ("Friday", "tomorrow"), where readings were asked for: "not today, but then"."""
    if listening.asked.expect is not Expect.READINGS:
        return None
    asked = replace(listening, asked=replace(listening.asked, expect=Expect.DATE, past=False))
    found = answer(heard, lexemes_of(heard, asked, lexicon), asked, lexicon)
    named = found is not None and found.name is EventName.DATE and isinstance(found.value, dt.date)
    return found if named else None

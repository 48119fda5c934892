"""What a room may be called: the person's words without "add the", and never a greeting, a command or a sentence.

What is refused here is asked again, so a room's name errs on the side of being asked.
"""

from __future__ import annotations

from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.spelling import plain_words, size_of, stands_in

QUESTIONS = frozenset({"places.room", "places.rename_to"})
"""Those that a room's name answers."""
MOST_WORDS = 6
"""More are a sentence."""


def room_of(name: str, lexicon: Lexicon) -> str | None:
    """``name`` as the room is called, or ``None`` when it is none."""
    words = name.split()
    said = plain_words(name)
    while lead := next(
        (lead for lead in lexicon.room_leads if said[: len(lead)] == lead and len(said) > len(lead)), ()
    ):
        words, said = words[len(lead) :], said[len(lead) :]
    if size_of(said) > MOST_WORDS or any(stands_in(phrase, said) for phrase in lexicon.no_rooms):
        return None
    return " ".join(words) or None

"""A number alone that puts another one right: "no 27", "not 72, 27", "I mistyped, 27", "era 27 no 72".

Only of the numbers that this phone has just sent, and only where it is plain that one of them is meant: the text says
which one it takes back, or its digits are those of one of them the other way round, or it says that something was a
slip and no number was asked for.
"""

from __future__ import annotations

from dataclasses import replace

from guide_service.dialogue.answers.figures import swapped
from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexicon import NO_OR_NOT, Lexicon
from guide_service.dialogue.answers.readings import lexemes_of, read_readings
from guide_service.dialogue.events import Asked, Event, EventName, Expect, Listening

_MAY_STAND = frozenset({
    "figure", "comma", "break", "link", "and", "percent", "harmless", "dash", "colon", "fix", "no", "not", NO_OR_NOT,
    "was", "now", "for", "points", "anchor", "after",
})  # fmt: skip
_A_NUMBER_IS_ASKED = frozenset({Expect.COUNT, Expect.NUMBER, Expect.BAYS, Expect.NAME, Expect.DATE})


def bare_correction(heard: Heard, listening: Listening, lexicon: Lexicon) -> Event | None:
    """The correction, or ``None`` when the text is anything else."""
    if not listening.latest or not any(token.text[0].isdigit() for token in heard.tokens):
        return None
    free = replace(listening, asked=Asked())
    lexemes = lexemes_of(heard, free, lexicon)
    kinds = {lexeme.kind for lexeme in lexemes}
    if not kinds <= _MAY_STAND:
        return None
    outcome = read_readings(heard, lexemes, free, lexicon)
    if len(outcome.items) != 1 or outcome.unclear or outcome.items[0].value is None:
        return None
    values = {value for _place, _point, value in listening.latest}
    taken_back = bool(values & set(outcome.instead_of))
    turned = outcome.corrects and swapped(outcome.items[0].value) in values
    slip = "fix" in kinds and not outcome.instead_of and listening.asked.expect not in _A_NUMBER_IS_ASKED
    if not (taken_back or turned or slip):
        return None
    return Event(EventName.CORRECTION, replace(outcome.heard(), items=tuple(outcome.items)), heard.text.strip())

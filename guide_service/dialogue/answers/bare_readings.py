"""Numbers alone while another question is open: "17 16 15" is a bay's reading, whatever was asked last.

Only where the text is nothing but two or three numbers that wood can have, of a household that measures something, and
the question waits for a choice: counts, bays, dates and single numbers keep the meaning that was asked for.
"""

from __future__ import annotations

from dataclasses import replace

from guide_service.dialogue.answers.figures import Figure
from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.readings import lexemes_of, read_readings
from guide_service.dialogue.events import Asked, Expect, Listening, ReadingsHeard
from guide_service.drying.terms import Qualifier

LEAST, MOST = 5.0, 60.0
"""[% MC] What a pin meter shows on wood, wet or dry (common practice)."""
HOW_MANY = range(2, 4)
_BETWEEN = frozenset({"figure", "comma", "break", "slash", "link", "and", "percent", "harmless"})


def bare_readings(heard: Heard, listening: Listening, lexicon: Lexicon) -> ReadingsHeard | None:
    """The numbers as readings without a place, or ``None`` when the text is anything else."""
    if listening.asked.expect not in (Expect.CHOICE, Expect.NUMBER) or not listening.places:
        return None
    free = replace(listening, asked=Asked())
    lexemes = lexemes_of(heard, free, lexicon)
    figures = [lexeme.value for lexeme in lexemes if lexeme.kind == "figure"]
    if len(figures) not in HOW_MANY or any(lexeme.kind not in _BETWEEN for lexeme in lexemes):
        return None
    if not all(_is_wood(figure) for figure in figures):
        return None
    outcome = read_readings(heard, lexemes, free, lexicon)
    return outcome.heard() if outcome.items and not outcome.unclear else None


def _is_wood(figure: Figure) -> bool:
    if figure.value is None or figure.why is not None:
        return False
    return figure.qualifier is not Qualifier.EXACT or LEAST <= figure.value <= MOST

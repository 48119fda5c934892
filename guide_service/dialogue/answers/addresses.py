"""Where the house is, told in passing: a street with its number, and the county's areas by their names.

Only what is certain to be an address: a number, one to four words, a word for a street ("14 river st"), or a word for
a street, its name and a number ("calle river 14"). Anything else is asked by the question for the address.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexicon import Lexicon
from guide_service.dialogue.answers.slips import may_be_slip
from guide_service.dialogue.answers.spelling import Token, is_word, plain_words, tidy

LONGEST_ADDRESS = 60
MOST_NAME_WORDS = 4
"""Words between the number and the word for the street ("14 old ossery river rd")."""
_LONGEST_NUMBER = 5
_OF = frozenset({"de", "on", "en", "la", "the", "no", "num", "numero", "number"})
"""Small words between a number and its street."""
_NO_NAME = frozenset({"on", "in", "at", "by", "near"})
"""Words that no street's name holds ("3 families on weir st")."""


def address_told(heard: Heard, lexicon: Lexicon) -> str | None:
    """The only address that the text names, as it was typed."""
    found = list(dict.fromkeys(_addresses(heard, lexicon)))
    return tidy(found[0], LONGEST_ADDRESS) if len(found) == 1 else None


def area_told(heard: Heard, areas: Sequence[tuple[str, str]]) -> str | None:
    """Id of the only area whose name the text holds, with one slip in a long word."""
    found = {id_ for id_, name in areas if _holds(heard.words, plain_words(name))}
    return found.pop() if len(found) == 1 else None


def _addresses(heard: Heard, lexicon: Lexicon) -> Iterator[str]:
    at = 0
    while at < len(heard.tokens):
        end = _number_first(heard.tokens, at, lexicon) or _street_first(heard.tokens, at, lexicon)
        if end:
            yield heard.raw(at, end)
        at = end or at + 1


def _number_first(tokens: Sequence[Token], at: int, lexicon: Lexicon) -> int | None:
    """The end of "14 river st", "14b mill lane", "9 de mill lane", "14 calle river" from token ``at``."""
    if not _is_house_number(tokens[at]):
        return None
    i = at + 1
    if i < len(tokens) and tokens[i].glued and len(tokens[i].text) == 1 and tokens[i].text.isalpha():
        i += 1
    while i < len(tokens) and tokens[i].text in _OF:
        i += 1
    if i < len(tokens) and tokens[i].text in lexicon.before_streets:
        return i + 2 if i + 1 < len(tokens) and tokens[i + 1].text.isalpha() else None
    for end in range(i, min(i + MOST_NAME_WORDS + 1, len(tokens))):
        if not is_word(tokens[end].text) or tokens[end].text.isdigit() or tokens[end].text in _NO_NAME:
            return None
        if end > i and tokens[end].text in lexicon.streets:
            return end + 1
    return None


def _street_first(tokens: Sequence[Token], at: int, lexicon: Lexicon) -> int | None:
    """The end of "calle river 14", "calle del rio numero 14" from token ``at``."""
    if tokens[at].text not in lexicon.before_streets:
        return None
    for end in range(at + 1, min(at + MOST_NAME_WORDS + 3, len(tokens))):
        if end > at + 1 and _is_house_number(tokens[end]):
            return end + 1
        if not is_word(tokens[end].text) and tokens[end].text not in (",", "#"):
            return None
    return None


def _is_house_number(token: Token) -> bool:
    return token.text.isdigit() and len(token.text) <= _LONGEST_NUMBER and token.text[0] != "0"


def _holds(words: Sequence[str], name: Sequence[str]) -> bool:
    size = len(name)
    return any(all(map(_same, words[start : start + size], name)) for start in range(len(words) - size + 1))


def _same(typed: str, meant: str) -> bool:
    return typed == meant or may_be_slip(typed, meant)

"""From tokens to the parts of the readings' grammar: places, points, numbers, dates, qualifiers, and other words."""

from __future__ import annotations

from typing import Any, NamedTuple

from guide_service.dialogue.answers.bays_said import bay_behind_wall, find_misread, find_misread_apart, find_numbered
from guide_service.dialogue.answers.dates import Calendar, find_date
from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexicon import NO_OR_NOT, Lexicon, Term
from guide_service.dialogue.answers.numerals import Number, read_number
from guide_service.dialogue.answers.phrases import longest
from guide_service.dialogue.answers.places import (
    AS_DIGITS,
    LOOKS_LIKE_DIGITS,
    Atlas,
    PlaceHeard,
    find_label,
    find_wall,
)
from guide_service.dialogue.answers.spelling import BREAK
from guide_service.dialogue.events import WhyUnclear

_SIGNS = {
    BREAK: "break", ",": "comma", "/": "slash", ":": "colon", "-": "dash", "+": "plus", "%": "percent", "<": "below",
    ">": "above", "=": "link", "~": "about", "°": "degrees", "º": "degrees", "(": "comma", ")": "comma", "#": "link",
    '"': "comma", "≈": "about", "≥": "above", "≤": "below", "&": "and", "*": "link", "|": "comma",
}  # fmt: skip
_DATE_STARTS = frozenset({"days", "weekdays", "weekdays_short", "months", "next", "last", "this", "in", "number", "a",
                          "ago_first", "week"})  # fmt: skip
_DENIALS = frozenset({"no", "not", NO_OR_NOT})
_VALUED = frozenset({"points", "materials", "kinds", "colours"})
_BEFORE_A_NUMBER = frozenset({"colon", "link", "comma", "dash", "number"})
_FRACTION_PARTS = frozenset({"2", "3", "4", "8"})


class Lexeme(NamedTuple):
    kind: str
    value: Any
    start: int
    end: int


class LexemeReader:
    """Walks once over the tokens of a text."""

    def __init__(self, heard: Heard, lexicon: Lexicon, atlas: Atlas, calendar: Calendar, single: bool,
                 counted: bool = False, awaited: bool = False) -> None:  # fmt: skip
        self.counted = counted
        """A number is asked for: a word that is "no" too is the number."""
        self.number_next = awaited
        """A reading may begin here: behind a place or the number before, or where readings were asked for."""
        self.numbered = False
        """A number was read since the last place."""
        self.heard, self.lexicon, self.atlas, self.calendar, self.single = heard, lexicon, atlas, calendar, single
        self.tokens, self.spoken, self.said = heard.tokens, heard.spoken, heard.said

    def read(self) -> list[Lexeme]:
        found: list[Lexeme] = []
        at = 0
        while at < len(self.tokens):
            lexeme = (self._typed_apart(at) if self.number_next else None) or self._one(at)
            self.number_next = lexeme.kind == "place" or (self.number_next and lexeme.kind in _BEFORE_A_NUMBER)
            self.numbered = lexeme.kind == "number" or (self.numbered and lexeme.kind != "place")
            found.append(lexeme)
            at = lexeme.end
        return found

    def _one(self, i: int) -> Lexeme:
        text = self.spoken[i]
        if text[0].isdigit():
            return self._typed_number(i)
        if text in _SIGNS:
            return self._sign(i)
        label = find_label(self.tokens, i, self.atlas) or find_misread_apart(self.tokens, i, self.atlas)
        if label is not None:
            return Lexeme("place", label[1], i, label[0])
        wall = find_wall(self.spoken, i, self.atlas)
        if wall is not None:
            end, place = bay_behind_wall(self.tokens, wall)
            return Lexeme("place", place, i, end)
        short = self._short(i)
        if short is not None:
            return Lexeme("place", short[1], i, short[0])
        return self._letters_for_digits(i) or self._word(i)

    def _short(self, i: int) -> tuple[int, PlaceHeard] | None:
        """A place by a room cut short; a word of the language keeps its own sense."""
        if self.said[i] in self.lexicon.terms:
            return None
        numbered = find_numbered(self.tokens, i, self.atlas)
        return (
            numbered if numbered or self.spoken[i] in self.lexicon.known else find_misread(self.tokens, i, self.atlas)
        )

    def _sign(self, i: int) -> Lexeme:
        kind = _SIGNS[self.spoken[i]]
        if kind == "above" and self.tokens[i].glued and self.spoken[i - 1] in "-=":
            kind = "or"  # an arrow: from one value to another
        if kind == "dash":
            before = self.tokens[i].glued
            after = i + 1 < len(self.tokens) and self.tokens[i + 1].glued
            kind = "minus" if after and not before else "dash"
        value = self.heard.folded[self.tokens[i].start] if kind == "break" else self.spoken[i]
        return Lexeme(kind, value, i, i + 1)

    def _word(self, i: int) -> Lexeme:
        found = longest(self.lexicon.terms, self.said, i)
        if found is None:
            return Lexeme("word", self.spoken[i], i, i + 1)
        end, term = found
        if term.kind in _DATE_STARTS:
            date = find_date(self.tokens, self.said, i, self.lexicon, self.calendar)
            if date is not None:
                return Lexeme("date", date[1], i, date[0])
        return self._term(term, i, end)

    def _term(self, term: Term, i: int, end: int) -> Lexeme:
        if term.kind == "number" and term.doubtful:
            return Lexeme("number", Number((), WhyUnclear.NOT_A_READING, float(term.value)), i, end)
        if term.kind == "number" or (self.counted and term.kind in _DENIALS and term.value != ""):
            return Lexeme("number", Number((float(term.value),), spelled=True), i, end)
        if term.kind in _VALUED:
            return Lexeme(term.kind, term.value, i, end)
        kind = {"in": "link", "a": "link", "this": "link", "of": "link"}.get(term.kind, term.kind)
        return Lexeme(kind, "in" if term.kind == "in" else self.spoken[i], i, end)

    def _typed_number(self, i: int) -> Lexeme:
        after = i + 1
        alone = after >= len(self.tokens) or not self.tokens[after].glued
        if not alone or (after < len(self.tokens) and self.said[after] in self.lexicon.terms):
            odd = self._more_than_a_number(i, alone)
            if odd is not None:
                return odd
        number = read_number(self.spoken[i], self.lexicon.decimal_comma, self.single)
        return Lexeme("word" if number is None else "number", number, i, after)

    def _more_than_a_number(self, i: int, alone: bool) -> Lexeme | None:
        """A fraction, date, time, phone number, or a number with letters in it."""
        if not alone and self._follows_number(i):
            fraction = self._fraction(i)
            if fraction is not None:
                return fraction
        date = find_date(self.tokens, self.said, i, self.lexicon, self.calendar)
        if date is not None:
            return Lexeme("date", date[1], i, date[0])
        if alone:
            return None
        return self._fraction(i) or self._date_like_or_phone(i) or self._time(i) or self._letters_inside(i)

    def _follows_number(self, i: int) -> bool:
        return i > 0 and (self.spoken[i - 1].isdigit() or (i > 1 and self.spoken[i - 2].isdigit()))

    def _glued(self, i: int, count: int) -> list[str]:
        """The texts of up to ``count`` tokens from ``i`` that are written in one piece."""
        texts = [self.spoken[i]]
        while len(texts) < count and i + len(texts) < len(self.tokens) and self.tokens[i + len(texts)].glued:
            texts.append(self.spoken[i + len(texts)])
        return texts

    def _fraction(self, i: int) -> Lexeme | None:
        parts = self._glued(i, 4)
        if len(parts) == 3 and parts[1] == "/" and parts[2] in _FRACTION_PARTS and parts[0].isdigit():
            value = int(parts[0]) / int(parts[2])
            return Lexeme("fraction", value, i, i + 3) if 0 < value < 1 else None
        return None

    def _date_like_or_phone(self, i: int) -> Lexeme | None:
        """12/14/15 may be a date; 202-555-0123 is nobody's reading."""
        parts = self._glued(i, 5)
        if len(parts) < 3 or parts[1] not in "/-" or not parts[2].isdigit():
            return None
        if len(parts) == 5 and parts[1] == parts[3] == "/" and int(parts[2]) <= 31 and parts[0].isdigit():
            return self._ask(i, 5) if int(parts[0]) <= 12 else None
        if len(parts[2]) >= 3 and len(parts[0]) >= 3:
            return Lexeme("word", "", i, i + len(parts))
        return None

    def _ask(self, i: int, count: int) -> Lexeme:
        return Lexeme("number", Number((), WhyUnclear.MANY_NUMBERS), i, i + count)

    def _time(self, i: int) -> Lexeme | None:
        parts = self._glued(i, 3)
        is_time = len(parts) == 3 and parts[1] == ":" and parts[2].isdigit() and len(parts[2]) == 2
        return Lexeme("word", "", i, i + 3) if is_time else None

    def _letters_inside(self, i: int) -> Lexeme | None:
        """1O, 2l4: letters that look like digits among digits; any other glued letters are left to the grammar."""
        parts = self._glued(i, 4)
        letters = [part for part in parts[1:] if part.isalpha()]
        if not letters or not all(set(part) <= LOOKS_LIKE_DIGITS for part in letters):
            return None
        joined = [part for part in parts if part.isalnum()]
        return self._looks_like(i, "".join(joined), len(joined)) if joined == parts[: len(joined)] else None

    def _letters_for_digits(self, i: int) -> Lexeme | None:
        """l4, I9, O9, also where the letter is a word of the language ("i", Spanish "o")."""
        parts = self._glued(i, 2)
        if len(parts) == 2 and set(parts[0]) <= LOOKS_LIKE_DIGITS and parts[1].isdigit():
            return self._looks_like(i, "".join(parts), 2)
        return None

    def _typed_apart(self, i: int) -> Lexeme | None:
        return self._letter_apart(i) or self._decimal_apart(i)

    def _decimal_apart(self, i: int) -> Lexeme | None:
        """ "K1 14 . 5", "14 ,5", "14. 5", and "14, 5" alone: 14.5 more likely than two readings."""
        parts = [token.text for token in self.tokens[i : i + 3]]
        if len(parts) < 3 or not (parts[0].isdigit() and parts[2].isdigit() and len(parts[2]) == 1):
            return None
        point = parts[1] == BREAK and self.heard.folded[self.tokens[i + 1].start] == "."
        rest = self.tokens[i + 3 :]
        alone = not self.numbered and all(token.text == BREAK for token in rest)
        comma = parts[1] == "," and (self.lexicon.decimal_comma or alone or not self.tokens[i + 1].glued)
        if not (point or comma) or (rest and rest[0].text[0].isalpha()):
            return None
        if any(token.text[0].isdigit() for token in rest[:2]):
            return self._ask(i, 3)  # "22. 8. 17"
        return Lexeme("number", Number((), WhyUnclear.NO_DECIMAL, float(f"{parts[0]}.{parts[2]}")), i, i + 3)

    def _letter_apart(self, i: int) -> Lexeme | None:
        """ "K1 l 4", "K1 1 O": a number with a letter for a digit and a blank inside. In "K1 9 i think" and "1 o 2" the
        letter is a word."""
        parts = [token.text for token in self.tokens[i : i + 2]]
        typed, end = "".join(parts), i + 2
        if len(typed) != 2 or len(parts) != 2 or self.tokens[i + 1].glued or typed.isdigit() or typed[0] == "o":
            return None
        if not all(part.isdigit() or part in LOOKS_LIKE_DIGITS for part in parts):
            return None
        after = self.tokens[end].text if end < len(self.tokens) else BREAK
        ends = after == BREAK or ((after[0].isdigit() or after in _SIGNS) and parts[1].isdigit())
        glued = after != BREAK and self.tokens[end].glued and after[0].isalnum()
        return self._looks_like(i, typed, 2) if ends and not glued else None

    def _looks_like(self, i: int, typed: str, count: int) -> Lexeme:
        digits = typed.translate(AS_DIGITS)
        suggestion = float(digits) if digits.isdigit() and len(digits) <= 2 else None
        return Lexeme("number", Number((), WhyUnclear.LETTERS_IN_NUMBER, suggestion), i, i + count)

"""From numbers with what stands around them to figures: decimals in words, halves, ranges, qualifiers, units.

A figure is either a value that is certain or a reason to ask. A number with another unit (feet, days, children) becomes
an ordinary word, a number with F or C a temperature.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from guide_service.dialogue.answers.lexemes import Lexeme
from guide_service.dialogue.answers.numerals import Number
from guide_service.dialogue.events import WhyUnclear
from guide_service.drying.terms import Qualifier

HIGHEST = 100.0
"""% of oven-dry mass that a reading is believed up to; pin meters show at most about 99.9."""
LEAST_OVER_RANGE = 20.0
"""No wood meter's range ends below this (common practice: 28 % and more), so "over 15" is not "over range"."""
MOST_BELOW_RANGE = 8.0
"""No wood meter's range begins above this (common practice: 5 to 7 %), so "under 15" is not "under range"."""
NO_DECIMAL_SPAN = (50, 999)
"""145 may be 14.5, typed without its point."""


@dataclass(frozen=True, slots=True)
class Figure:
    value: float | None
    qualifier: Qualifier = Qualifier.EXACT
    why: WhyUnclear | None = None
    suggestion: float | None = None
    colour: str | None = None
    resolution: float = 1.0
    chat: bool = False
    """Another word follows that makes it a count of something ("2 kids")."""
    marked: bool = False
    """A per cent sign, decimal or qualifier says that it is a measurement."""


def read_figures(lexemes: list[Lexeme]) -> list[Lexeme]:
    """``lexemes`` with numbers and what belongs to them replaced by ``figure``, ``temperature_c``, ``humidity_is``."""
    return _FigureReader(lexemes).read()


class _FigureReader:
    def __init__(self, lexemes: list[Lexeme]) -> None:
        self.lexemes = lexemes
        self.found: list[Lexeme] = []

    def kind(self, i: int) -> str:
        return self.lexemes[i].kind if 0 <= i < len(self.lexemes) else ""

    def read(self) -> list[Lexeme]:
        at = 0
        while at < len(self.lexemes):
            at = self._step(at)
        return self.found

    def _step(self, i: int) -> int:
        match self.kind(i):
            case "number":
                return self._numbers(i)
            case "above" | "below" | "about" | "minus" | "between":
                return self._before_number(i)
            case "temperature" | "humidity":
                return self._named_quantity(i)
            case "over_range":
                if self.kind(i + 1) == "link" and self.kind(self._links(i + 1)) == "number":
                    return self._before_number(i)
                self._put(Figure(None, Qualifier.ABOVE, marked=True), i, i + 1)
            case "colours":
                self._put(Figure(None, colour=self.lexemes[i].value), i, i + 1)
            case "fraction":
                self._put(Figure(None, why=WhyUnclear.MANY_NUMBERS), i, i + 1)
            case _:
                self.found.append(self.lexemes[i])
        return i + 1

    def _put(self, figure: Figure, start: int, end: int) -> None:
        span = (self.lexemes[start].start, self.lexemes[end - 1].end)
        self.found.append(Lexeme("figure", figure, *span))

    def _links(self, i: int) -> int:
        while self.kind(i) in ("link", "colon", "was"):
            i += 1
        return i

    def _before_number(self, i: int) -> int:
        """A word or sign that changes the number after it; without a number it is an ordinary word."""
        word, at = self.kind(i), self._links(i + 1)
        if self.kind(at) != "number":
            self.found.append(self.lexemes[i]._replace(kind="word" if self.lexemes[i].value != "~" else "comma"))
            return i + 1
        if word == "between":
            return self._between(i, at)
        figure, end = self._amount(at)
        if self.kind(end) in ("range", "dash") and self.kind(end + 1) == "number":
            _, end = self._amount(end + 1)
            self._put(Figure(None, why=WhyUnclear.MANY_NUMBERS), i, end)
            return end
        end, tail = self._tail(end, figure)
        if tail is not None:
            self.found.append(tail._replace(start=self.lexemes[i].start))
            return end
        self._put(self._changed(figure, word), i, end)
        return end

    def _changed(self, figure: Figure, word: str) -> Figure:
        denied = bool(self.found) and self.found[-1].kind == "not"
        if word == "minus":
            return replace(figure, why=WhyUnclear.NEGATIVE, suggestion=figure.value, value=None)
        if word == "about" or denied:
            return as_question(figure)
        return _qualified(figure, Qualifier.BELOW if word == "below" else Qualifier.ABOVE)

    def _between(self, i: int, at: int) -> int:
        low, end = self._amount(at)
        if self.kind(end) in ("and", "range", "dash") and self.kind(end + 1) == "number":
            high, end = self._amount(end + 1)
            end, _ = self._tail(end, high)
            self._put(_worst(low, high), i, end)
            return end
        self._put(as_question(low), i, end)
        return end

    def _numbers(self, i: int) -> int:
        number: Number = self.lexemes[i].value
        if len(number.values) > 1:
            for value in number.values:
                self._put(_judged(Figure(value, resolution=_resolution(value), marked=number.decimals)), i, i + 1)
            return i + 1
        figure, end = self._amount(i)
        figure, end = self._range(figure, end, i)
        end, tail = self._tail(end, figure)
        if tail is not None:
            self.found.append(tail._replace(start=self.lexemes[i].start))
            return end
        if self.kind(end) == "plus":
            figure, end = _qualified(figure, Qualifier.ABOVE), end + 1
        if self.kind(end) == "about" and self.lexemes[end].value != "~":
            figure, end = self._more_or_less(figure, end)
        marked = figure.marked or any(self.kind(at) == "percent" for at in range(i, end))
        self._put(figure if marked == figure.marked else replace(figure, marked=marked), i, end)
        return end

    def _more_or_less(self, figure: Figure, i: int) -> tuple[Figure, int]:
        """ "15ish" is asked; in "15 maybe 16" two numbers stand for one."""
        if self.kind(self._links(i + 1)) == "number":
            return Figure(None, why=WhyUnclear.MANY_NUMBERS), i + 1
        return as_question(figure), i + 1

    def _amount(self, i: int) -> tuple[Figure, int]:
        """One amount from lexeme ``i``: a number with its fraction, half or decimals in words."""
        number: Number = self.lexemes[i].value
        end = i + 1
        if not number.values:
            return Figure(None, why=number.why, suggestion=number.suggestion), end
        value = number.values[-1]
        if number.spelled and self._is_hundreds(i):
            return self._hundreds(i)
        if number.spelled and self._spelled_digit(i) and self._spelled_digit(end):
            return self._digit_by_digit(i)
        dash = self.kind(end) == "dash" and self.kind(end + 1) == "fraction"
        if dash or self.kind(end) == "fraction":
            end += dash
            return _judged(Figure(value + self.lexemes[end].value, resolution=0.5, marked=True)), end + 1
        if self.kind(end) == "half":
            return _judged(Figure(value + 0.5, resolution=0.5, marked=True)), end + 1
        if self.kind(end) == "point" and self.kind(end + 1) == "number":
            return self._decimals_in_words(value, end + 1)
        return _judged(Figure(value, resolution=_resolution(value), marked=number.decimals)), end

    def _spelled_digit(self, i: int) -> bool:
        if self.kind(i) != "number":
            return False
        number: Number = self.lexemes[i].value
        return number.spelled and number.values[0] < 10

    def _spelled(self, i: int) -> float | None:
        number = self.lexemes[i].value if self.kind(i) == "number" else None
        return number.values[0] if isinstance(number, Number) and number.spelled else None

    def _is_hundreds(self, i: int) -> bool:
        """Whether a number in words goes on beyond the table: "two hundred", "a hundred and five"."""
        after = i + 2 if self.kind(i + 1) == "and" else i + 1
        this, that = self._spelled(i), self._spelled(after)
        if this is None or that is None:
            return False
        return this >= HIGHEST or (that >= HIGHEST and after == i + 1)

    def _hundreds(self, i: int) -> tuple[Figure, int]:
        while self._spelled(i) is not None or (self.kind(i) == "and" and self._spelled(i + 1) is not None):
            i += 1
        return Figure(None, why=WhyUnclear.TOO_HIGH), i

    def _digit_by_digit(self, i: int) -> tuple[Figure, int]:
        """ "one four": 14, or 1 and 4?"""
        digits = []
        while self._spelled_digit(i):
            digits.append(str(int(self.lexemes[i].value.values[0])))
            i += 1
        suggestion = float("".join(digits)) if len(digits) == 2 else None
        return Figure(None, why=WhyUnclear.MANY_NUMBERS, suggestion=suggestion), i

    def _decimals_in_words(self, value: float, i: int) -> tuple[Figure, int]:
        number: Number = self.lexemes[i].value
        if len(number.values) != 1 or number.values[0] > 9 or value % 1 or number.values[0] % 1:
            return Figure(None, why=WhyUnclear.MANY_NUMBERS), i + 1
        return _judged(Figure(value + number.values[0] / 10, resolution=0.1, marked=True)), i + 1

    def _range(self, low: Figure, end: int, start: int) -> tuple[Figure, int]:
        """ "16-19", "16 to 19": the worst counts. "22-19-17" is a list, "22-19" may be one: asked."""
        if self.kind(end) == "percent" and self.kind(end + 1) in ("dash", "range"):
            end += 1
        sign = self.kind(end)
        if sign not in ("dash", "range") or self.kind(end + 1) != "number":
            return low, end
        if sign == "dash" and self.kind(start - 1) == "dash" and self.kind(start - 2) == "number":
            return low, end
        high, after = self._amount(end + 1)
        if sign == "dash" and self.kind(after) == "dash" and self.kind(after + 1) == "number":
            return low, end
        return _worst(low, high), after

    def _tail(self, end: int, figure: Figure) -> tuple[int, Lexeme | None]:
        """What the unit after a number makes of it: nothing, a temperature, a humidity, or an ordinary word."""
        if self.kind(end) == "percent":
            end += 1
        at = end
        while self.kind(at) in ("degrees", "link") and self.kind(at + 1) in ("degrees", "fahrenheit", "celsius"):
            at += 1
        span = (self.lexemes[end - 1].start, self.lexemes[min(at, len(self.lexemes) - 1)].end)
        match self.kind(at):
            case "fahrenheit" | "celsius":
                return at + 1, Lexeme("temperature_c", _celsius(figure, self.kind(at)), *span)
            case "degrees" | "air":
                return at + 1, Lexeme("temperature_asked", figure, *span)
            case "humidity" if self.kind(self._links(at + 1)) != "number":
                return at + 1, Lexeme("humidity_is", figure.value, *span)
            case "unit" | "day" | "week" | "ordinal" | "ago":
                return at + 1, Lexeme("counted", figure, *span)
        return end, None

    def _named_quantity(self, i: int) -> int:
        """ "temp 75 F", "humidity 60%"; "temp 75" without a unit is asked."""
        at = self._links(i + 1)
        if self.kind(at) != "number":
            self.found.append(self.lexemes[i]._replace(kind="word"))
            return i + 1
        figure, end = self._amount(at)
        end, tail = self._tail(end, figure)
        if tail is None or tail.kind == "counted":
            kind = "temperature_asked" if self.kind(i) == "temperature" else "humidity_is"
            value = figure if self.kind(i) == "temperature" else figure.value
            tail = Lexeme(kind, value, self.lexemes[i].start, self.lexemes[end - 1].end)
        self.found.append(tail._replace(start=self.lexemes[i].start))
        return end


def _resolution(value: float) -> float:
    return 1.0 if value % 1 == 0 else 0.1


def _celsius(figure: Figure, unit: str) -> float | None:
    value = figure.value if figure.value is not None else figure.suggestion
    if value is None:
        return None
    return value if unit == "celsius" else (value - 32) / 1.8


def _judged(figure: Figure) -> Figure:
    """``figure``, or the reason why its value is not believed."""
    value = figure.value
    if value is None or value <= HIGHEST:
        return figure
    low, high = NO_DECIMAL_SPAN
    if value % 1 == 0 and low <= value <= high and value / 10 < HIGHEST:
        return replace(figure, value=None, why=WhyUnclear.NO_DECIMAL, suggestion=value / 10)
    return replace(figure, value=None, why=WhyUnclear.TOO_HIGH)


def swapped(value: float) -> float | None:
    """27 of 72: the same two digits the other way round; ``None`` for any other number."""
    typed = f"{value:g}"
    return float(typed[::-1]) if len(typed) == 2 and typed.isdigit() and typed[0] != typed[1] else None


def as_question(figure: Figure) -> Figure:
    """``figure`` with its value as a suggestion only."""
    suggestion = figure.suggestion if figure.value is None else figure.value
    return replace(figure, value=None, why=figure.why or WhyUnclear.NOT_A_READING, suggestion=suggestion)


def _qualified(figure: Figure, qualifier: Qualifier) -> Figure:
    value = figure.value
    if value is None:
        return figure
    in_range = value >= LEAST_OVER_RANGE if qualifier is Qualifier.ABOVE else value <= MOST_BELOW_RANGE
    return replace(figure, qualifier=qualifier, marked=True) if in_range else as_question(figure)


def _worst(low: Figure, high: Figure) -> Figure:
    if low.value is None or high.value is None or low.value >= high.value:
        return Figure(None, why=low.why or high.why or WhyUnclear.MANY_NUMBERS)
    return replace(high, marked=True)

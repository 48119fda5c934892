"""Dates as people write them: "yesterday", "Sat", "12 May", "5/12", "in 3 days". What could be two dates is asked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from guide_service.dialogue.answers.lexicon import Lexicon, Term
from guide_service.dialogue.answers.phrases import every_meaning, longest
from guide_service.dialogue.answers.spelling import BREAK, Token

FARTHEST = dt.timedelta(days=150)
"""A day and month without a year is not carried farther than this: it would be a guess at the year."""

_TOLD = ("next", "last", "this")
DateFound = tuple[int, dt.date | None]
"""The token after it, and the date; ``None``: it names a date, but which?"""


@dataclass(frozen=True, slots=True)
class Calendar:
    """How dates of one text are understood."""

    today: dt.date
    past: bool
    """Whether the day that is meant lies behind."""
    asked: bool
    """A date was asked for: short names of days count."""
    nearest: bool = False
    """Of two days to come that may be meant the nearer one counts: "next Friday" of a check, which may come early."""


def find_date(
    tokens: Sequence[Token], spoken: Sequence[str], i: int, lexicon: Lexicon, cal: Calendar
) -> DateFound | None:
    """The date that begins at token ``i``, if one does."""
    if spoken[i].isdigit():
        return (
            _iso(tokens, i)
            or _slashed(tokens, i, lexicon, cal)
            or _numbered_month(spoken, i, lexicon, cal)
            or _day_month(spoken, i, lexicon, cal)
            or _counted(spoken, i, lexicon, cal, ago=True)
        )
    found = _term(spoken, i, lexicon)
    if found is None:
        return None
    end, term = found
    match term.kind:
        case "days":
            return end, cal.today + dt.timedelta(days=int(term.value))
        case "weekdays":
            return _weekday_told_behind(spoken, end, term, lexicon, cal)
        case "weekdays_short" if cal.asked:
            return _weekday_told_behind(spoken, end, term, lexicon, cal)
        case "week":
            return _week_told_behind(spoken, end, lexicon, cal)
        case "months":
            return _month_day(spoken, end, int(term.value), lexicon, cal)
        case "next" | "last" | "this":
            return _told_weekday(spoken, end, term.kind, lexicon, cal)
        case "in":
            return _counted(spoken, end, lexicon, cal, ago=False) or _short_weekday(spoken, end, lexicon, cal)
        case "ago_first":
            return _counted(spoken, end, lexicon, cal, ago=False, back=True)
        case "number" | "a":
            return _counted(spoken, i, lexicon, cal, ago=True)
    return None


def _term(spoken: Sequence[str], i: int, lexicon: Lexicon) -> tuple[int, Term] | None:
    return longest(lexicon.terms, spoken, i) if i < len(spoken) else None


def _kinds(spoken: Sequence[str], i: int, lexicon: Lexicon) -> tuple[int, frozenset[str]]:
    """All kinds that the term at ``i`` may be of (Vietnamese "sau": six without its tone, or after), and its end."""
    found = every_meaning(lexicon.terms, spoken, i) if i < len(spoken) else None
    return (i, frozenset()) if found is None else (found[0], frozenset(term.kind for term in found[1]))


def _weekday(day: int, cal: Calendar) -> dt.date | None:
    """Of the name of this very day: the next one where a day to come was asked for, else nobody knows which."""
    ahead = (day - cal.today.weekday()) % 7
    if ahead == 0:
        return cal.today + dt.timedelta(days=7) if cal.asked and not cal.past else None
    return cal.today + dt.timedelta(days=ahead - 7 if cal.past else ahead)


def _short_weekday(spoken: Sequence[str], i: int, lexicon: Lexicon, cal: Calendar) -> DateFound | None:
    found = _term(spoken, i, lexicon)
    if found and found[1].kind in ("weekdays", "weekdays_short"):
        return _weekday_told_behind(spoken, found[0], found[1], lexicon, cal)
    return None


def _told_weekday(spoken: Sequence[str], i: int, told: str, lexicon: Lexicon, cal: Calendar) -> DateFound | None:
    """ "last friday", "this sat"; "next friday" and "next week" are nobody's single day, unless the nearest will do."""
    found = _term(spoken, i, lexicon)
    if found is None or found[1].kind not in ("weekdays", "weekdays_short", "week"):
        return None
    return found[0], _told(found[1], told, cal)


def _told(named: Term, told: str, cal: Calendar) -> dt.date | None:
    if told == "next" and cal.nearest:
        return _in_a_week(cal) if named.kind == "week" else _weekday(int(named.value), cal)
    if told == "next" or named.kind == "week":
        return None
    ahead = (int(named.value) - cal.today.weekday()) % 7
    return cal.today + dt.timedelta(days=ahead if told == "this" else ahead - 7)


def _in_a_week(cal: Calendar) -> dt.date:
    return cal.today + dt.timedelta(days=7)


def _in_next_week(day: int, cal: Calendar) -> dt.date:
    return cal.today + dt.timedelta(days=7 - cal.today.weekday() + day)


def _weekday_told_behind(spoken: Sequence[str], i: int, named: Term, lexicon: Lexicon, cal: Calendar) -> DateFound:
    """ "monday", "lunes pasado"; "monday next week" and "lundi prochain" are asked."""
    behind = _term(spoken, i, lexicon)
    if behind is None or behind[1].kind not in _TOLD:
        return _behind_time_of_day(spoken, i, lexicon), _weekday(int(named.value), cal)
    week = _term(spoken, behind[0], lexicon)
    if week is not None and week[1].kind == "week":
        if behind[1].kind == "next" and cal.nearest:
            return week[0], _in_next_week(int(named.value), cal)
        return (week[0], _told(named, "this", cal)) if behind[1].kind == "this" else (week[0], None)
    if lexicon.told_behind:
        return behind[0], _told(named, behind[1].kind, cal)
    return i, _weekday(int(named.value), cal)


def _behind_time_of_day(spoken: Sequence[str], i: int, lexicon: Lexicon) -> int:
    """ "el sábado en la mañana": no second day, though "mañana" alone is tomorrow."""
    hour = longest(lexicon.times, spoken, i) if i < len(spoken) else None
    return hour[0] if hour is not None and hour[1].kind in ("morning", "evening") else i


def _week_told_behind(spoken: Sequence[str], i: int, lexicon: Lexicon, cal: Calendar) -> DateFound | None:
    """ "la semana que viene", "tuần sau": a week is nobody's single day."""
    end, kinds = _kinds(spoken, i, lexicon)
    comes = cal.nearest and kinds & {"next", "elapsed"}
    return (end, _in_a_week(cal) if comes else None) if lexicon.told_behind and kinds & {*_TOLD, "elapsed"} else None


def _counted(
    spoken: Sequence[str], i: int, lexicon: Lexicon, cal: Calendar, ago: bool, back: bool = False
) -> DateFound | None:
    """ "3 days ago", "3 days later" (``ago``: a word follows), "3 days" behind "in" or ``back`` behind "hace"."""
    count, at = _small_number(spoken, i, lexicon)
    unit = _term(spoken, at, lexicon) if count is not None else None
    if count is None or unit is None or unit[1].kind not in ("day", "week"):
        return None
    days = dt.timedelta(days=count * (7 if unit[1].kind == "week" else 1))
    if not ago:
        return unit[0], cal.today - days if back or cal.past else cal.today + days
    end, kinds = _kinds(spoken, unit[0], lexicon)
    if "ago" in kinds:
        return end, cal.today - days
    # "3 days after the flood" are not counted from today
    ends_there = end >= len(spoken) or spoken[end] == BREAK
    if "later" in kinds or (kinds & {"elapsed", "next"} and ends_there):
        return end, None if cal.past else cal.today + days
    return None


def _small_number(spoken: Sequence[str], i: int, lexicon: Lexicon) -> tuple[int | None, int]:
    if i < len(spoken) and spoken[i].isdigit() and len(spoken[i]) <= 2:
        return int(spoken[i]), i + 1
    found = _term(spoken, i, lexicon)
    if found and found[1].kind == "a":
        return 1, found[0]
    if found and found[1].kind == "number" and float(found[1].value) < 100:
        return int(float(found[1].value)), found[0]
    return None, i


def _iso(tokens: Sequence[Token], i: int) -> DateFound | None:
    parts = [token.text for token in tokens[i : i + 5]]
    if len(parts) == 5 and parts[1] == parts[3] == "-" and len(parts[0]) == 4 and all(p.isdigit() for p in parts[::2]):
        try:
            return i + 5, dt.date(int(parts[0]), int(parts[2]), int(parts[4]))
        except ValueError:
            return None
    return None


def _slashed(tokens: Sequence[Token], i: int, lexicon: Lexicon, cal: Calendar) -> DateFound | None:
    """ "5/12" in the order of the language; where the other order would name another day there, it is asked."""
    if i + 2 >= len(tokens) or tokens[i + 1].text not in "/" or not (tokens[i + 1].glued and tokens[i + 2].glued):
        return None
    first, second = tokens[i].text, tokens[i + 2].text
    if not second.isdigit() or len(first) > 2 or len(second) > 2 or (i + 3 < len(tokens) and tokens[i + 3].text == "/"):
        return None
    a, b = int(first), int(second)
    if lexicon.month_first:
        month, day = (a, b) if a <= 12 else (b, a)
    else:
        month, day = (b, a) if b <= 12 else (a, b)
        if a <= 12 and b <= 12 and a != b:
            return i + 3, None
    return (i + 3, _nearest(month, day, cal)) if 1 <= month <= 12 and 1 <= day <= 31 else None


def _day_month(spoken: Sequence[str], i: int, lexicon: Lexicon, cal: Calendar) -> DateFound | None:
    """ "12 May", "12th of May", "the 12th"."""
    if len(spoken[i]) > 2 or not 1 <= int(spoken[i]) <= 31:
        return None
    at = i + 1
    found = _term(spoken, at, lexicon)
    ordinal = found is not None and found[1].kind == "ordinal"
    while found is not None and found[1].kind in ("ordinal", "of"):
        at = found[0]
        found = _term(spoken, at, lexicon)
    if found is not None and found[1].kind == "months":
        return found[0], _nearest(int(found[1].value), int(spoken[i]), cal)
    return (at, _day_of_month(int(spoken[i]), cal)) if ordinal else None


def _numbered_month(spoken: Sequence[str], i: int, lexicon: Lexicon, cal: Calendar) -> DateFound | None:
    """A month whose name begins with its number (Chinese "5月20日")."""
    found = _term(spoken, i, lexicon)
    if found is None or found[1].kind != "months":
        return None
    return _month_day(spoken, found[0], int(found[1].value), lexicon, cal)


def _month_day(spoken: Sequence[str], at: int, month: int, lexicon: Lexicon, cal: Calendar) -> DateFound | None:
    if at >= len(spoken) or not spoken[at].isdigit() or len(spoken[at]) > 2 or not 1 <= int(spoken[at]) <= 31:
        return None
    day, end = int(spoken[at]), at + 1
    found = _term(spoken, end, lexicon)
    if found is not None and found[1].kind == "ordinal":
        end = found[0]
    return end, _nearest(month, day, cal)


def _day_of_month(day: int, cal: Calendar) -> dt.date | None:
    months = range(cal.today.month - 1, cal.today.month + 2)
    days = [_date(cal.today.year + (m - 1) // 12, (m - 1) % 12 + 1, day) for m in months]
    return _choose([d for d in days if d is not None], cal)


def _nearest(month: int, day: int, cal: Calendar) -> dt.date | None:
    years = range(cal.today.year - 1, cal.today.year + 2)
    return _choose([d for d in (_date(year, month, day) for year in years) if d is not None], cal)


def _choose(days: Sequence[dt.date], cal: Calendar) -> dt.date | None:
    fitting = [d for d in days if (d <= cal.today if cal.past else d >= cal.today) and abs(d - cal.today) <= FARTHEST]
    return min(fitting, key=lambda d: abs(d - cal.today), default=None)


def _date(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None

"""Answers to the question that is open: an offered answer, a count, a number, bays, a name, a date."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import lru_cache

from guide_service.dialogue.answers.figures import Figure
from guide_service.dialogue.answers.hearing import (
    LONGEST_DENIAL,
    Heard,
    done_in_part,
    is_denied,
    is_to_come,
    meant,
    vetoed,
)
from guide_service.dialogue.answers.lexemes import Lexeme
from guide_service.dialogue.answers.lexicon import NO_OR_NOT, Lexicon
from guide_service.dialogue.answers.phrases import Match, Meaning, longest
from guide_service.dialogue.answers.schema import NOT_BY_OK, SAME_WORDS, WORST_FIRST
from guide_service.dialogue.answers.slips import may_be_slip
from guide_service.dialogue.answers.spelling import BREAK, is_word, plain_words, size_of, tidy
from guide_service.dialogue.events import Asked, Event, EventName, Expect, Listening, Offer, Unclear, WhyUnclear
from guide_service.drying.terms import Qualifier

LONGEST_NAME = 30
LONGEST_ADDRESS = 60
"""Characters; a house has to be found by it, and it is said back in a text."""
LONGEST_LEAD = 12
"""Words up to which a message that begins with yes or no is that answer."""
MOST_BAYS = 60
"""Of one wall."""
YES, NO, UNSURE, OK = "yes", "no", "unsure", "ok"
FIRST_YEAR = 1600
"""No house of the county is older; a smaller number is no year. Our choice."""
_SETTING = "check.setting"
STATED = frozenset({"did", "clear"})
"""Answers that a step was done: never heard out of a question about it ("how do I get the mud out", "done?")."""
DID, PART = "did", "part"
"""That a step was done; that it was in part, which no list offers: how to go on is told."""
_DENIES = frozenset({"not", NO_OR_NOT, "no"})
_STEP = frozenset({DID, "go_on"})
"""What the list of a step offers."""
_DENIED_IN_LISTS = frozenset({"afterwards.look_back"})
"""Questions whose answers are denied together ("no mold or stains"): what the file takes back of an answer's other
words holds for the words that were shown, too."""
CONSENT = "welcome.consent"
"""The question whether we may write: "ok" in a longer text ("ok but who is this") is no consent."""
_TIME_TO_MEASURE, _BARE = "check.due", 2
"""The reminder that ends with "not today?": a bare yes begins the check, a bare no puts it off."""
_COMMANDS = frozenset({"later", "skip", "back", "repeat", "help", "why", "undo", "person"})
"""What is said to the guide and not to its question, when it is all that is said."""
_WAITING = frozenset({"later"})
"""Of these, what is no answer by part of the words in the question's own table either: "wait a little"."""
_LANGUAGES = "welcome.language"
"""Its keys are codes, of which some are words: "there is so much water" names no Somali, "en la casa" no English."""
_TRIVIAL = frozenset(
    {"link", "comma", "break", "harmless", "colon", "and", "bay", "unit", "counted", "percent", "anchor"}
)


def answer(heard: Heard, lexemes: Sequence[Lexeme], listening: Listening, lexicon: Lexicon) -> Event | None:
    """The answer to the open question that the text gives, an ``UNCLEAR`` one, or ``None``."""
    asked = listening.asked
    offered = asked.expect in (Expect.CHOICE, Expect.NOTHING, Expect.NUMBER)
    by_number = _numbered(heard, lexemes, asked, lexicon) if offered else None
    if by_number is not None:
        return by_number
    pointed = _pointed(heard, lexemes, asked)
    if pointed is not None:
        return pointed
    if done_in_part(heard) and _STEP.issubset(offer.key for offer in asked.offers):
        return _event(EventName.CHOICE, PART, heard)
    told = _told(heard, asked, lexicon, whole=_is_a_command(heard, _WAITING))
    if told is not None:
        return told
    commanded = _is_a_command(heard, _COMMANDS)
    match asked.expect:
        case Expect.COUNT | Expect.NUMBER if not commanded:
            found = _quantity(heard, lexemes, asked.expect)
        case Expect.BAYS if not commanded:
            found = _bays(heard, lexemes, asked, lexicon)
        case Expect.DATE:
            found = _date(heard, lexemes, listening, lexicon)
        case _:
            found = None
    return found or _worded(heard, asked, lexicon, whole=commanded)


def _is_a_command(heard: Heard, kinds: frozenset[str]) -> bool:
    """Whether all that is said is a word to the guide: "one moment" counts nothing, "wait a little" tells no size."""
    return any(heard.is_whole(match) for match in meant(heard, *kinds))


def _event(name: EventName, value: object, heard: Heard) -> Event:
    return Event(name, value, heard.text.strip())


def _ask(why: WhyUnclear, heard: Heard, suggestion: float | None = None) -> Event:
    raw = heard.text.strip()
    return Event(EventName.UNCLEAR, Unclear(why, raw, suggestion=suggestion), raw)


def _figures(lexemes: Sequence[Lexeme]) -> list[Figure]:
    figures = [lexeme.value for lexeme in lexemes if lexeme.kind in ("figure", "counted")]
    return [figure for figure in figures if figure.colour is None]


# offered answers


def _numbered(heard: Heard, lexemes: Sequence[Lexeme], asked: Asked, lexicon: Lexicon) -> Event | None:
    """ "2", "2.", "(2)", "#2", "two", "2 renter": the number as the person saw it."""
    if not asked.offers:
        return None
    figures = _figures(lexemes)
    numbers = {f"{figure.value:g}" for figure in figures if figure.value is not None}
    others = ("word", "place", "points", "materials")
    if not numbers or any(one.kind in others or _is_amount(one, heard, lexicon) for one in lexemes):
        return _number_and_words(heard, asked)
    if _is_pronoun(heard, lexemes):
        return None
    if len(numbers) > 1:
        return _ask(WhyUnclear.MANY_NUMBERS, heard) if len(figures) == 2 else None
    return _chosen(numbers.pop(), asked, heard)


def _pointed(heard: Heard, lexemes: Sequence[Lexeme], asked: Asked) -> Event | None:
    """ "low stud", "at the bottom": the point that is said, where points are offered and no number stands beside it."""
    said = {str(lexeme.value) for lexeme in lexemes if lexeme.kind == "points"}
    points = said & {offer.key for offer in asked.offers}
    alone = len(said) == 1 and not _figures(lexemes) and not heard.asks
    return _event(EventName.CHOICE, points.pop(), heard) if alone and points else None


def _is_amount(lexeme: Lexeme, heard: Heard, lexicon: Lexicon) -> bool:
    """ "2 ft": so much of something, not the second answer."""
    if lexeme.kind != "counted":
        return False
    unit = longest(lexicon.terms, heard.said, lexeme.end - 1)
    return unit is not None and unit[1].kind in ("unit", "day", "week")


def _is_pronoun(heard: Heard, lexemes: Sequence[Lexeme]) -> bool:
    """ "I need one": a number in words, in a sentence of more than politeness."""
    spelled = any(lexeme.kind == "figure" and not heard.spoken[lexeme.start][0].isdigit() for lexeme in lexemes)
    return spelled and any(lexeme.kind not in _TRIVIAL and lexeme.kind != "figure" for lexeme in lexemes)


def _number_and_words(heard: Heard, asked: Asked) -> Event | None:
    """ "2 renter", "option 2": a number first or last, whose words agree or say nothing."""
    words = [word for i, word in enumerate(heard.words) if word != BREAK and i not in heard.padded]
    if len(words) > 3 or not words:
        return None
    for offer in asked.offers:
        rest = tuple(word for word in words if word != offer.number)
        if len(rest) == len(words) - 1 and any(rest == phrase for phrase, _ in _phrases_of((offer,))):
            return _event(EventName.CHOICE, offer.key, heard)
    return None


def _chosen(number: str, asked: Asked, heard: Heard) -> Event | None:
    key = next((offer.key for offer in asked.offers if offer.number == number), None)
    return None if key is None else _event(EventName.CHOICE, key, heard)


@lru_cache(maxsize=1024)
def _phrases_of(offers: tuple[Offer, ...]) -> tuple[tuple[tuple[str, ...], str], ...]:
    """(words, key) of all offers, the longest first."""
    found = [(plain_words(phrase), offer.key) for offer in offers for phrase in (*offer.words, offer.key)]
    return tuple(sorted((one for one in found if one[0]), key=lambda one: -len(one[0])))


def _worded(heard: Heard, asked: Asked, lexicon: Lexicon, whole: bool) -> Event | None:
    """An offered answer by its words (``whole``: by all of them), then yes, no and unsure in all their shapes."""
    keys = {offer.key for offer in asked.offers}
    named = _offered_words(heard, asked, lexicon, whole)
    if len(named) == 1:
        return _event(EventName.CHOICE, named.pop(), heard)
    if named:
        return None
    affirmed = YES in keys and asked.question not in NOT_BY_OK
    said = yes_no(heard, affirmed=affirmed, sentences=bool(keys & {YES, NO, UNSURE}))
    if asked.question == _TIME_TO_MEASURE and said in (YES, NO) and heard.size <= _BARE:
        return _event(EventName.CHOICE, YES, heard) if said == YES else _event(EventName.LATER, None, heard)
    if said is None or (said not in keys and asked.expect not in (Expect.NOTHING, Expect.CHOICE) and said != UNSURE):
        return None
    return _event(EventName.CHOICE, said, heard)


def _told(heard: Heard, asked: Asked, lexicon: Lexicon, whole: bool) -> Event | None:
    """The offered answer that the file's words of this question tell ("newer" of a house's year).

    ``whole``: by all that is said. Two are asked, unless one is the worse case of the other: then that one is acted on.
    """
    if not asked.question or not asked.offers:
        return None
    question = SAME_WORDS.get(asked.question, asked.question)
    offered = {f"{of}/{offer.key}": offer.key for of in (question, asked.question) for offer in asked.offers}
    if heard.asks:
        offered = {name: key for name, key in offered.items() if key not in STATED}
    leads = bool(heard.spoken) and heard.spoken[0] in lexicon.asks  # unless the answer begins with it (Arabic "ما في")
    found = {
        offered[match.meaning.value]
        for match in heard.matches
        if match.meaning.kind == "answer"
        and match.meaning.value in offered
        and not match.meaning.veto
        and (heard.is_whole(match) if whole else heard.applies(match))
        and not vetoed(match, heard.vetoes)
        and not is_denied(heard, match, lexicon)
        and not (offered[match.meaning.value] in STATED and leads and match.start > 0)
        and not (offered[match.meaning.value] in STATED and is_to_come(heard, match.start, match.end))
    }
    worst = next((key for key in WORST_FIRST.get(question, ()) if key in found), None)
    if len(found) > 1 and worst is None:
        return _ask(WhyUnclear.NOT_A_READING, heard)
    return _event(EventName.CHOICE, worst or found.pop(), heard) if found else None


def _offered_words(heard: Heard, asked: Asked, lexicon: Lexicon, whole: bool) -> set[str]:
    """Keys of the offers whose words stand in the text (``whole``: are all of it), a longer phrase hiding the shorter
    ones inside it."""
    named: set[str] = set()
    covered: set[int] = set()
    question = asked.question
    vetoes = heard.vetoes if question in _DENIED_IN_LISTS else []
    for phrase, key in _phrases_of(asked.offers):
        if phrase[0] in (YES, NO, UNSURE):
            continue
        start = _find(heard.words, phrase)
        span = set(range(start, start + len(phrase)))
        alone = whole or question == CONSENT or (question == _LANGUAGES and phrase == (key,))
        if start < 0 or span & covered or (alone and not span.issuperset(heard.core)):
            continue
        end = start + len(phrase)
        if key in STATED and (heard.is_asked(start, end) or is_to_come(heard, start, end)):
            continue
        if is_denied(heard, Match(start, start + len(phrase), Meaning("choice")), lexicon):
            return set()
        if vetoed(Match(start, start + len(phrase), Meaning("answer", f"{question}/{key}")), vetoes):
            continue
        covered |= span
        named.add(key)
    return named


def _find(words: Sequence[str], phrase: tuple[str, ...]) -> int:
    size = len(phrase)
    for start in range(len(words) - size + 1):
        if all(_same(words[start + i], phrase[i]) for i in range(size)):
            return start
    return -1


def _same(typed: str, meant: str) -> bool:
    return typed == meant or (meant.isalpha() and may_be_slip(typed, meant))


def yes_no(heard: Heard, affirmed: bool, sentences: bool = False) -> str | None:
    """Yes, no or unsure, when the text is one of them, or (``sentences``) begins with one and says no other.

    ``affirmed``: "ok" is a yes, because a yes was offered.
    """
    found = [m for m in heard.matches if m.meaning.kind in ("choice", "first_choice") and not m.meaning.veto]
    found = [m for m in found if not vetoed(m, heard.vetoes)]
    whole = [match for match in found if match.meaning.kind == "choice" and heard.is_whole(match)]
    if whole:
        longest_one = max(whole, key=lambda match: match.end - match.start)
        if _is_greeting(heard, longer_than=longest_one):
            return None  # Chinese "hello" holds "good"
        return _settled(longest_one.meaning.value, affirmed)
    return _leading([m for m in found if m.meaning.kind == "first_choice"], heard) if sentences else None


def _is_greeting(heard: Heard, longer_than: Match) -> bool:
    least = longer_than.end - longer_than.start
    return any(m.meaning.kind == "greeting" and not m.meaning.veto and m.end - m.start > least for m in heard.matches)


def _leading(leads: Sequence[Match], heard: Heard) -> str | None:
    first = heard.core[0] if heard.core else -1
    lead = max((match for match in leads if match.start == first), key=lambda match: match.end, default=None)
    if lead is None or size_of([heard.words[i] for i in heard.core]) > LONGEST_LEAD:
        return None
    others = {match.meaning.value for match in leads if match.start >= lead.end and match.start + 1 == len(heard.words)}
    return None if others - {lead.meaning.value} else lead.meaning.value


def _settled(value: str, affirmed: bool) -> str | None:
    """ "ok" is a yes where a yes was offered, and no answer otherwise."""
    if value != OK:
        return value
    return YES if affirmed else None


def says_ok(heard: Heard) -> bool:
    """Whether "ok", in whatever word, is all that is said, without thanks."""
    oks = [m for m in heard.matches if (m.meaning.kind, m.meaning.value) == ("choice", OK) and heard.is_whole(m)]
    thanks = [m for m in heard.matches if m.meaning.kind == "thanks" and not m.meaning.veto]
    return bool(oks) and all(any(ok.start <= m.start and m.end <= ok.end for ok in oks) for m in thanks)


def setting_told(heard: Heard, lexicon: Lexicon) -> bool:
    """Whether the text tells how the meter is set, in the words of that question, and asks nothing. One word of it in a
    longer text is about something else ("20 sheets of drywall", "the floor is flat")."""
    return not heard.asks and any(
        match.meaning.value.startswith(f"{_SETTING}/")
        and not match.meaning.value.endswith(UNSURE)
        and (match.end - match.start > 1 or heard.size == 1)
        and not is_denied(heard, match, lexicon)
        for match in meant(heard, "answer")
    )


# quantities


def _quantity(heard: Heard, lexemes: Sequence[Lexeme], expect: Expect) -> Event | None:
    """One number, whatever is counted; several, or half a bay, are asked."""
    figures = _figures(lexemes)
    worded = [lexeme for lexeme in lexemes if lexeme.kind in ("none", "dozen")]
    if not figures and len(worded) == 1 and expect is Expect.COUNT:
        return _event(EventName.COUNT, 0 if worded[0].kind == "none" else 12, heard)
    if len(figures) != 1:
        return _ask(WhyUnclear.MANY_NUMBERS, heard) if figures else None
    figure = figures[0]
    value = figure.value if figure.why is not WhyUnclear.NOT_A_READING else figure.suggestion
    year = _year(heard) if expect is Expect.NUMBER else None
    if year is not None:
        return _event(EventName.NUMBER, year, heard)
    if value is None:
        return _ask(figure.why or WhyUnclear.NOT_A_READING, heard, figure.suggestion)
    if expect is Expect.NUMBER and figure.qualifier is not Qualifier.EXACT:
        return _ask(WhyUnclear.NOT_A_READING, heard)
    if expect is Expect.NUMBER:
        return _event(EventName.NUMBER, value, heard)
    return _event(EventName.COUNT, int(value), heard) if value % 1 == 0 else _ask(WhyUnclear.NOT_A_READING, heard)


def _year(heard: Heard) -> float | None:
    """A number of four digits that a year may be: too high for wood, and asked for by the year of a house alone."""
    numbers = [token.text for token in heard.tokens if token.text.isdigit()]
    return float(numbers[0]) if len(numbers) == 1 and len(numbers[0]) == 4 and numbers[0][0] in "12" else None


def bare_year(heard: Heard, lexemes: Sequence[Lexeme], this_year: int) -> float | None:
    """ "1974", "in 1974": a year in which a house may have been built, and nothing else."""
    year = _year(heard)
    alone = all(lexeme.kind in {*_TRIVIAL, "figure", "number"} for lexeme in lexemes)
    return year if year is not None and alone and FIRST_YEAR <= year <= this_year else None


def _bays(heard: Heard, lexemes: Sequence[Lexeme], asked: Asked, lexicon: Lexicon) -> Event | None:
    """ "1 3 and 5", "1-4", "all"."""
    if any(lexeme.kind == "all" for lexeme in lexemes) and not _figures(lexemes):
        if asked.bays is None:
            return _event(EventName.CHOICE, "all", heard)
        return _event(EventName.BAYS, tuple(range(1, asked.bays + 1)), heard)
    ranges = _bay_ranges(heard, lexicon)
    if not ranges:
        return None
    if any(low > high or high - low > MOST_BAYS for low, high in ranges):
        return _ask(WhyUnclear.MANY_NUMBERS, heard)
    numbers = [number for low, high in ranges for number in range(low, high + 1)]
    return _event(EventName.BAYS, tuple(dict.fromkeys(numbers)), heard)


def _bay_ranges(heard: Heard, lexicon: Lexicon) -> list[tuple[int, int]]:
    """Numbers and ranges of a text that holds nothing else; a comma always sets two bays apart."""
    found: list[tuple[int, int]] = []
    joining = False
    at = 0
    while at < len(heard.spoken):
        numbers, at, kind = _bay_numbers(heard, at, lexicon)
        for number in numbers:
            found = [*found[:-1], (found[-1][0], number)] if joining and found else [*found, (number, number)]
            joining = False
        joining = joining or kind in ("range", "dash")
        if kind == "word":
            return []
    return found


def _bay_numbers(heard: Heard, at: int, lexicon: Lexicon) -> tuple[list[int], int, str]:
    text = heard.spoken[at]
    if text[0].isdigit():
        return [int(part) for part in text.replace(",", ".").split(".") if len(part) <= 2], at + 1, "number"
    if not is_word(text):
        return [], at + 1, "dash" if text == "-" else "comma"
    found = longest(lexicon.terms, heard.said, at)
    if found is None:
        return [], at + 1, "comma" if at in {heard.at[i] for i in heard.padded} else "word"
    end, term = found
    if term.kind == "number":
        return [int(float(term.value))], end, "number"
    return [], end, term.kind if term.kind in ("range", *_TRIVIAL) else "word"


def _wanted_days(heard: Heard, days: Sequence[Lexeme], lexicon: Lexicon) -> list[dt.date | None]:
    """The days of a text: of two, of which one is denied, the other one alone.

    "Monday, not Friday" and "Friday instead of Monday" deny the day right behind the denial; in "can't do Friday, can
    we do Monday" and "Friday does not work, Monday is fine" it is the first day.
    """
    if len({day.value for day in days}) != 2 or len(days) != 2:
        return [day.value for day in days]
    first, last = days
    if _denied_day(heard, first.end, last.start, lexicon, adjoining=True):
        return [first.value]
    denied = _denied_day(heard, 0, first.start, lexicon) or _denied_day(heard, first.end, last.start, lexicon)
    return [last.value] if denied else [first.value, last.value]


def _denied_day(heard: Heard, start: int, end: int, lexicon: Lexicon, adjoining: bool = False) -> bool:
    """Whether a denial stands among the tokens from ``start`` to before ``end`` (``adjoining``: right before ``end``,
    linking words apart)."""
    at = start
    while at < end:
        denial = _denial_at(heard, at, lexicon)
        if denial and (not adjoining or _only_links(heard, at + denial, end, lexicon)):
            return True
        at += max(1, denial)
    return False


def _denial_at(heard: Heard, at: int, lexicon: Lexicon) -> int:
    """Tokens of the denial that begins at token ``at``."""
    term = longest(lexicon.terms, heard.said, at)
    if term is not None and term[1].kind in _DENIES:
        return term[0] - at
    lengths = range(min(LONGEST_DENIAL, len(heard.said) - at), 0, -1)
    return next((n for n in lengths if tuple(heard.said[at : at + n]) in lexicon.negators), 0)


def _only_links(heard: Heard, start: int, end: int, lexicon: Lexicon) -> bool:
    while start < end:
        term = longest(lexicon.terms, heard.said, start)
        if term is None or term[1].kind not in ("link", "in"):
            return False
        start = term[0]
    return True


def _date(heard: Heard, lexemes: Sequence[Lexeme], listening: Listening, lexicon: Lexicon) -> Event | None:
    dates = _wanted_days(heard, [lexeme for lexeme in lexemes if lexeme.kind == "date"], lexicon)
    if not dates:
        return None
    day: dt.date | None = dates[0]
    wrong_side = day is not None and (day > listening.today if listening.asked.past else day < listening.today)
    if day is None or wrong_side or len(set(dates)) > 1:
        return _ask(WhyUnclear.WHICH_DATE, heard)
    return _event(EventName.DATE, day, heard)


# names


def read_name(heard: Heard, lexicon: Lexicon, longest: int = LONGEST_NAME) -> Event | None:
    """The person's own words for a room or an address, without a lead such as "call it"."""
    words = tidy(heard.text, 10 * LONGEST_NAME)
    said = plain_words(words)
    for lead in sorted(lexicon.name_leads, key=len, reverse=True):
        if said[: len(lead)] == lead and len(said) > len(lead):
            words = " ".join(words.split()[len(lead) :])
            break
    name = tidy(words.strip(" .,:;!\"'"), longest)
    return Event(EventName.NAME, name, heard.text.strip()) if any(c.isalnum() for c in name) else None

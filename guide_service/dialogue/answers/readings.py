"""The grammar of readings: which number belongs to which place and point, and which number is no reading at all.

Rules of this file. A number counts only when it is anchored: it follows a place, a point, a material or a word such as
"moisture", with nothing but linking words in between, or the text holds nothing that the grammar does not know and a
reading was asked for. A number followed by a word that the grammar does not know is asked. Points said before their
numbers ("plate 22 stud 19") or after ("22 plate, 19 stud") are understood; where both would be possible it is asked.
One unclear number of a place leaves the others with the points that their order gives them.
"""

from __future__ import annotations

import datetime as dt

from guide_service.dialogue.answers.dates import Calendar
from guide_service.dialogue.answers.figures import Figure, as_question, read_figures
from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexemes import Lexeme, LexemeReader
from guide_service.dialogue.answers.lexicon import NO_OR_NOT, Lexicon
from guide_service.dialogue.answers.places import Atlas, PlaceHeard, atlas_of, either, of_kind
from guide_service.dialogue.answers.points import Where
from guide_service.dialogue.answers.said_of_places import Group, Outcome
from guide_service.dialogue.answers.settling import LEAST_PLAUSIBLE, Settler
from guide_service.dialogue.events import Expect, Listening, Unclear, WhyUnclear
from guide_service.drying.terms import Mode, PlaceKind

_QUIET = frozenset({
    "link", "comma", "colon", "dash", "slash", "break", "and", "harmless", "percent", "range", "plus", "for",
    "was", "now",
})  # fmt: skip
"""Kinds of word that may stand between a place and its numbers."""
_NOTHING = Lexeme("", "", 0, 0)
_ODD_AFTER_A_NUMBER = frozenset({"word", "counted", "unit", "bay", "number", "day", "week", "ago"})
_TAKES_BACK = frozenset({"no", "not", NO_OR_NOT, "fix"})
_ASKS_FOR_OTHER_NUMBERS = frozenset({Expect.CHOICE, Expect.COUNT, Expect.NUMBER, Expect.BAYS, Expect.NAME, Expect.DATE})


def lexemes_of(heard: Heard, listening: Listening, lexicon: Lexicon, nearest: bool = False) -> list[Lexeme]:
    """The grammar's parts of a text, figures read. ``nearest``: of two days that may be meant the nearer one counts."""
    asked = listening.asked
    single = len(asked.points) == 1 or asked.expect in (Expect.NUMBER, Expect.COUNT)
    counted = asked.expect in (Expect.NUMBER, Expect.COUNT)
    past = asked.past if asked.expect is Expect.DATE else True
    calendar = Calendar(listening.today, past=past, asked=asked.expect is Expect.DATE, nearest=nearest)
    atlas = atlas_of(listening)
    awaited = asked.expect is Expect.READINGS
    return read_figures(LexemeReader(heard, lexicon, atlas, calendar, single, counted, awaited).read())


def read_readings(heard: Heard, lexemes: list[Lexeme], listening: Listening, lexicon: Lexicon) -> Outcome:
    """Every reading of a text, and everything about readings in it that must be asked."""
    walk = _Walk(heard, listening, lexicon)
    for at, lexeme in enumerate(lexemes):
        walk.take(lexeme, lexemes[at + 1] if at + 1 < len(lexemes) else _NOTHING, lexemes[at - 1] if at else _NOTHING)
    return walk.finish()


class _Walk:
    def __init__(self, heard: Heard, listening: Listening, lexicon: Lexicon) -> None:
        self.heard, self.listening = heard, listening
        self.atlas: Atlas = atlas_of(listening)
        self.outcome = Outcome()
        self.groups: list[Group] = []
        self.asked_here = listening.asked.expect is Expect.READINGS
        self.anchored = listening.asked.expect not in _ASKS_FOR_OTHER_NUMBERS
        self.denied = False
        self.no_first = False
        self.only_links = True
        self.says_in = False
        self.days: set[dt.date | None] = set()
        self.supposing = bool(heard.spoken) and heard.spoken[0] in lexicon.asks
        self.sentence = False
        """An ordinary word stands in this clause already."""

    def take(self, lexeme: Lexeme, following: Lexeme, before: Lexeme) -> None:
        kind = lexeme.kind
        self._clause(lexeme)
        self.says_in = kind in ("link", "for") if kind != "place" else self.says_in
        if kind == "figure":
            self._figure(lexeme, following, before)
        elif kind in _QUIET:
            self._quiet(kind)
        elif kind in ("place", "kinds"):
            self._place(lexeme, before)
        elif kind in ("points", "materials"):
            self._where(lexeme)
        else:
            self._other(lexeme)
        self.denied = kind == "not" or (kind == NO_OR_NOT and not self.only_links) or (self.denied and kind == "link")
        if kind not in _QUIET and kind not in ("no", "fix"):
            self.only_links = False

    def _clause(self, lexeme: Lexeme) -> None:
        if lexeme.kind in ("break", "word") and not any(group.figures for group in self.groups):
            self.no_first = False  # "no mold. K1 22"
        if lexeme.kind == "break":
            self.supposing = self.sentence = False
        elif lexeme.kind == "supposing":
            self.supposing = True
        elif lexeme.kind == "word":
            self.sentence = True

    def _quiet(self, kind: str) -> None:
        """A word such as "now" or "was" between two figures of one place: which of them counts?"""
        if kind in ("now", "was") and self.groups and self.groups[-1].figures:
            self.groups[-1].contradicted = True

    def _other(self, lexeme: Lexeme) -> None:
        match lexeme.kind:
            case "anchor":
                self.anchored = self.outcome.marked = True
            case "date":
                self._date(lexeme)
            case "temperature_c":
                self.outcome.temp_c = lexeme.value
            case "humidity_is":
                self.outcome.humidity = lexeme.value
            case "temperature_asked":
                self._ask(WhyUnclear.TEMPERATURE, lexeme, suggestion=lexeme.value.value)
            case "fix":
                self.outcome.corrects = self.anchored = True
                self._quiet("now")
            case "elapsed":
                self._elapsed()
            case "pinless":
                self.outcome.mode = Mode.PINLESS
            case "scale":
                self.outcome.mode = self.outcome.mode or Mode.OTHER_SCALE
            case "no" | "no_or_not":
                self._no()
            case "dry":
                self._claim(lexeme)
            case "not" | "all" | "supposing":
                pass
            case "or":
                self._quiet("now")
            case "bay":
                self._bay()
            case _:
                self.anchored = False

    def _no(self) -> None:
        """ "No, K1 was 12" corrects; "K1 22 no 12" may mean either number."""
        self.no_first = self.no_first or self.only_links
        if self.groups and self.groups[-1].figures:
            self.groups[-1].contradicted = True

    def _elapsed(self) -> None:
        """ "25, then 22 after an hour": one point at two times, or two points?"""
        if self.anchored and self.groups and len(self.groups[-1].figures) > 1:
            self.groups[-1].two_minds = True
        self.anchored = False

    def _date(self, lexeme: Lexeme) -> None:
        self._quiet("now")
        self.days.add(lexeme.value)
        if lexeme.value is None or lexeme.value > self.listening.today:
            self.outcome.unclear.append(Unclear(WhyUnclear.WHICH_DATE, self.heard.raw(lexeme.start, lexeme.end)))
        else:
            self.outcome.taken_on = lexeme.value

    def _ask(self, why: WhyUnclear, lexeme: Lexeme, suggestion: float | None = None) -> None:
        raw = self.heard.raw(lexeme.start, lexeme.end)
        self.outcome.unclear.append(Unclear(why, raw, suggestion=suggestion))

    def _place(self, lexeme: Lexeme, previous: Lexeme) -> None:
        before = self.groups[-1] if self.groups else None
        if before is not None and before.figures and previous.kind in _TAKES_BACK:
            before.two_minds = True  # "K1 18 no K2 18"
        place = lexeme.value if lexeme.kind == "place" else self._kind_of_place(lexeme, before)
        if before is not None and not before.words and lexeme.kind == "place":
            self._place_said_late(before, place, lexeme)
            return
        if before is not None and not before.parts and before.place is not None and before.words and self.anchored:
            before.shared = before.place is not place and lexeme.kind == "place"
        if lexeme.kind == "kinds" and before is not None and not before.parts and before.words:
            before.place, before.end = place, lexeme.end
        else:
            start, shared = lexeme.start, before is not None and before.shared and not before.parts
            if shared and before is not None and before.place is not None:
                start, place = before.start, either(before.place, place)
            by_words = self.sentence and place.words not in place.labels
            group = Group(place, start, lexeme.end, shared=shared, words=True, in_a_sentence=by_words)
            self.groups.append(group)
        self.anchored = True

    def _place_said_late(self, bare: Group, place: PlaceHeard, lexeme: Lexeme) -> None:
        """ "bottom plate in K1 is 22" and "22 in K1" speak of K1; "22 19 K1 18" may not."""
        self.groups.append(Group(place, lexeme.start, lexeme.end, words=True))
        if not bare.figures or (self.anchored and self.says_in):
            self.groups.remove(bare)
            self.groups[-1] = Group(place, bare.start, lexeme.end, bare.parts, words=True, late=bool(bare.figures))
        self.anchored = True

    def _kind_of_place(self, lexeme: Lexeme, before: Group | None) -> PlaceHeard:
        kind = PlaceKind(lexeme.value)
        words = self.heard.raw(lexeme.start, lexeme.end)
        asked = self.listening.asked.place
        if asked is not None and self.atlas.kinds.get(asked) is kind:
            return PlaceHeard(words, (asked,), kind)
        narrower = before.place if before is not None and before.words and not before.parts else None
        return of_kind(narrower, kind, words, self.atlas)

    def _bay(self) -> None:
        """ "kitchen bay 2 22 19 17": which bay is 2 is asked."""
        if self.groups and not self.groups[-1].parts and self.groups[-1].words:
            self.groups[-1].shared = True
        else:
            self.anchored = False

    def _group(self, lexeme: Lexeme) -> Group:
        """The group that a figure or point belongs to: the last place named, else the place that was asked."""
        if not self.groups:
            asked = self.listening.asked.place if self.asked_here else None
            place = PlaceHeard(asked, (asked,)) if asked is not None else None
            self.groups.append(Group(place, lexeme.start, lexeme.end))
        self.groups[-1].end = lexeme.end
        return self.groups[-1]

    def _where(self, lexeme: Lexeme) -> None:
        if self.groups and self.groups[-1].figures and not self.anchored:
            return  # "... its 22 but the battery is low"
        group = self._group(lexeme)
        where = Where.of(lexeme.kind, lexeme.value)
        if group.parts and isinstance(group.parts[-1], Where) and where.joins(group.parts[-1]):
            group.parts[-1] = group.parts[-1].joined(where)
        else:
            group.parts.append(where)
        self.anchored = True

    def _figure(self, lexeme: Lexeme, following: Lexeme, before: Lexeme) -> None:
        figure: Figure = lexeme.value
        if self.denied:
            self._deny(lexeme)
            return
        odd = following.kind in _ODD_AFTER_A_NUMBER
        if not self.anchored:
            doubted = bool(self.groups) and self.groups[-1].contradicted  # "22 i think or 27 hard to see"
            if figure.colour is None and (doubted or not odd):
                self._loose(figure)
            return
        if odd and figure.colour is not None:
            self.anchored = False
            return
        if odd:
            figure = Figure(None, why=figure.why or WhyUnclear.NOT_A_READING, suggestion=figure.value, chat=True)
        elif self._is_doubtful(following, before):
            figure = as_question(figure)
        self.outcome.marked = self.outcome.marked or figure.marked
        group = self._group(lexeme)
        group.two_minds = group.two_minds or group.contradicted or group.late
        group.parts.append(figure)

    def _is_doubtful(self, following: Lexeme, before: Lexeme) -> bool:
        """ "If K1 is 15", "K1 20?", "be there in 20", "meet me in the hall at 10"."""
        group = self.groups[-1] if self.groups else None
        if (
            self.supposing
            or before.kind == "for"
            or following.kind == "was"
            or (following.kind == "break" and following.value == "?")
        ):
            return True
        if group is None or not group.words:
            return before.kind == "link" and before.value == "in"
        return group.in_a_sentence and not group.parts

    def _loose(self, figure: Figure) -> None:
        """A number that nothing anchors. After figures of a place it casts doubt on them ("22 last time, 16 this")."""
        self.outcome.loose.append(figure)
        value = figure.value if figure.value is not None else figure.suggestion
        if self.groups and self.groups[-1].figures and (value is None or value >= LEAST_PLAUSIBLE):
            self.groups[-1].two_minds = True

    def _deny(self, lexeme: Lexeme) -> None:
        """ "not 22": the number that is taken back; without another one it is asked."""
        self.outcome.corrects = True
        if lexeme.value.value is not None:
            self.outcome.instead_of.append(lexeme.value.value)
        self.outcome.spans.append((lexeme.start, lexeme.end))
        if self.groups:
            self.groups[-1].claim = True
            self.groups[-1].end = lexeme.end

    def _claim(self, lexeme: Lexeme) -> None:
        if self.groups and not self.groups[-1].parts:
            self.groups[-1].claim = self.groups[-1].claim or self.anchored
            self.groups[-1].end = lexeme.end
        elif self.asked_here and not self.groups and self.anchored:
            self._group(lexeme).claim = True

    def finish(self) -> Outcome:
        out = self.outcome
        _doubt_said_twice(self.groups)
        settler = Settler(self.heard, self.listening, out, corrects=out.corrects or self.no_first)
        settler.all_figures(self.groups)
        for group in self.groups:
            settler.settle(group)
        out.corrects = out.corrects or (self.no_first and bool(out.items))
        if len(self.days) > 1 and out.items:
            out.items, out.taken_on = [], None
            out.unclear = [Unclear(WhyUnclear.WHICH_DATE, self.heard.text.strip())]
        elif not out.items:
            out.unclear = [u for u in out.unclear if u.why is not WhyUnclear.WHICH_DATE]
        if not out.anything and out.temp_c is not None and (self.asked_here or self.groups):
            out.unclear.append(Unclear(WhyUnclear.TEMPERATURE, self.heard.text.strip()))
        return out


def _doubt_said_twice(groups: list[Group]) -> None:
    """ "K1 20 K2 20 K1 18": which of the two is K1?"""
    named = [g.place.labels for g in groups if g.place is not None and g.figures]
    for group in groups:
        if group.place is not None and group.figures and named.count(group.place.labels) > 1:
            group.two_minds = True

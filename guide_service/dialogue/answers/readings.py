"""The grammar of readings: which number belongs to which place and point, and which number is no reading at all.

Rules of this file. A number counts only when it is anchored: it follows a place, a point, a material or a word such as
"moisture", with nothing but linking words in between, or the text holds nothing that the grammar does not know and a
reading was asked for. A number followed by a word that the grammar does not know is asked. Points said before their
numbers ("plate 22 stud 19") or after ("22 plate, 19 stud") are understood; where both would be possible it is asked.
One unclear number of a place leaves the others with the points that their order gives them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from guide_service.dialogue.answers.dates import Calendar
from guide_service.dialogue.answers.figures import Figure, as_question, read_figures
from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.lexemes import Lexeme, LexemeReader
from guide_service.dialogue.answers.lexicon import NO_OR_NOT, Lexicon
from guide_service.dialogue.answers.places import Atlas, PlaceHeard, atlas_of, of_kind
from guide_service.dialogue.answers.points import NOWHERE, Where, assign
from guide_service.dialogue.events import (
    Expect,
    Listening,
    PlaceNamed,
    ReadingHeard,
    ReadingsHeard,
    Unclear,
    WhyUnclear,
)
from guide_service.drying.terms import BAY_POINTS, RELATIVE_MATERIALS, Mode, PlaceKind, Point, Qualifier

LARGEST_JUMP = 10.0
"""[% MC] A change of more than this since the last reading of a point is asked again (our rule)."""
LEAST_PLAUSIBLE = 5.0
"""[% MC] No pin meter shows less on wood (common practice: scales begin at 5 to 7)."""

_QUIET = frozenset({"link", "comma", "colon", "dash", "slash", "break", "and", "harmless", "percent", "range", "plus",
                    "now"})  # fmt: skip
_NOTHING = Lexeme("", "", 0, 0)
_ODD_AFTER_A_NUMBER = frozenset({"word", "counted", "unit", "bay", "number", "day", "week", "ago"})
_ONE_OR_MORE = frozenset({WhyUnclear.MANY_NUMBERS, WhyUnclear.TOO_HIGH})
"""Reasons that leave open how many numbers were typed, and so which point the next one is."""
_ASKS_FOR_OTHER_NUMBERS = frozenset({Expect.CHOICE, Expect.COUNT, Expect.NUMBER, Expect.BAYS, Expect.NAME, Expect.DATE})


@dataclass(slots=True)
class Group:
    """What was said of one place: points and figures in the order typed."""

    place: PlaceHeard | None
    start: int
    end: int
    parts: list[Where | Figure] = field(default_factory=list)
    shared: bool = False
    """Two places were named for the same numbers."""
    claim: bool = False
    """ "dry" or "wet" was said of it."""
    contradicted: bool = False
    """A "no" stands after its figures."""
    two_minds: bool = False
    """Another figure follows that "no"."""
    in_a_sentence: bool = False
    """A wall named by its words, after other words of a sentence."""
    late: bool = False
    """The place was said after its figures: further figures are somebody else's."""
    words: bool = False
    """Named by its own words in this text, not only asked about."""

    @property
    def figures(self) -> list[Figure]:
        return [part for part in self.parts if isinstance(part, Figure)]


@dataclass(slots=True)
class Outcome:
    """What the readings' grammar found in a text."""

    items: list[ReadingHeard] = field(default_factory=list)
    unclear: list[Unclear] = field(default_factory=list)
    corrects: bool = False
    taken_on: dt.date | None = None
    temp_c: float | None = None
    humidity: float | None = None
    spans: list[tuple[int, int]] = field(default_factory=list)
    """Tokens that were used."""
    marked: bool = False
    """A per cent sign, decimal, qualifier or word such as "moisture" says that readings are meant."""
    loose: list[Figure] = field(default_factory=list)
    """Plausible numbers that nothing anchors."""

    @property
    def anything(self) -> bool:
        return bool(self.items or self.unclear)

    def heard(self) -> ReadingsHeard:
        return ReadingsHeard(tuple(self.items), tuple(self.unclear), self.taken_on, self.temp_c, self.humidity)


def lexemes_of(heard: Heard, listening: Listening, lexicon: Lexicon) -> list[Lexeme]:
    """The grammar's parts of a text, figures read."""
    asked = listening.asked
    single = len(asked.points) == 1 or asked.expect in (Expect.NUMBER, Expect.COUNT)
    past = asked.past if asked.expect is Expect.DATE else True
    calendar = Calendar(listening.today, past=past, asked=asked.expect is Expect.DATE)
    atlas = atlas_of(listening.places)
    return read_figures(LexemeReader(heard, lexicon, atlas, calendar, single).read())


def read_readings(heard: Heard, lexemes: list[Lexeme], listening: Listening, lexicon: Lexicon) -> Outcome:
    """Every reading of a text, and everything about readings in it that must be asked."""
    walk = _Walk(heard, listening, lexicon)
    for at, lexeme in enumerate(lexemes):
        walk.take(lexeme, lexemes[at + 1] if at + 1 < len(lexemes) else _NOTHING, lexemes[at - 1] if at else _NOTHING)
    return walk.finish()


class _Walk:
    def __init__(self, heard: Heard, listening: Listening, lexicon: Lexicon) -> None:
        self.heard, self.listening = heard, listening
        self.atlas: Atlas = atlas_of(listening.places)
        self.outcome = Outcome()
        self.groups: list[Group] = []
        self.asked_here = listening.asked.expect is Expect.READINGS
        self.anchored = listening.asked.expect not in _ASKS_FOR_OTHER_NUMBERS
        self.denied = False
        self.no_first = False
        self.only_links = True
        self.says_in = False
        self.two_days = False
        self.supposing = bool(heard.spoken) and heard.spoken[0] in lexicon.asks
        self.sentence = False
        """An ordinary word stands in this clause already."""

    def take(self, lexeme: Lexeme, following: Lexeme, before: Lexeme) -> None:
        kind = lexeme.kind
        self._clause(lexeme)
        self.says_in = kind == "link" if kind != "place" else self.says_in
        if kind == "figure":
            self._figure(lexeme, following, before)
        elif kind in _QUIET:
            self._quiet(kind)
        elif kind in ("place", "kinds"):
            self._place(lexeme)
        elif kind in ("points", "materials"):
            self._where(lexeme)
        else:
            self._other(lexeme)
        self.denied = kind == "not" or (kind == NO_OR_NOT and not self.only_links) or (self.denied and kind == "link")
        if kind not in _QUIET and kind not in ("no", "fix"):
            self.only_links = False

    def _clause(self, lexeme: Lexeme) -> None:
        if lexeme.kind == "break":
            self.supposing = self.sentence = False
        elif lexeme.kind == "supposing":
            self.supposing = True
        elif lexeme.kind == "word":
            self.sentence = True

    def _quiet(self, kind: str) -> None:
        """A word such as "now" between two figures of one place: which of them counts?"""
        if kind == "now" and self.groups and self.groups[-1].figures:
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
                self.outcome.corrects = True
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

    def _date(self, lexeme: Lexeme) -> None:
        self._quiet("now")
        if lexeme.value is None or lexeme.value > self.listening.today:
            self.outcome.unclear.append(Unclear(WhyUnclear.WHICH_DATE, self.heard.raw(lexeme.start, lexeme.end)))
        else:
            self.two_days = self.outcome.taken_on not in (None, lexeme.value)
            self.outcome.taken_on = lexeme.value

    def _ask(self, why: WhyUnclear, lexeme: Lexeme, suggestion: float | None = None) -> None:
        raw = self.heard.raw(lexeme.start, lexeme.end)
        self.outcome.unclear.append(Unclear(why, raw, suggestion=suggestion))

    def _place(self, lexeme: Lexeme) -> None:
        before = self.groups[-1] if self.groups else None
        place = lexeme.value if lexeme.kind == "place" else self._kind_of_place(lexeme, before)
        if before is not None and not before.words and lexeme.kind == "place":
            self._place_said_late(before, place, lexeme)
            return
        if before is not None and not before.parts and before.place is not None and before.words and self.anchored:
            before.shared = before.place is not place and lexeme.kind == "place"
        if lexeme.kind == "kinds" and before is not None and not before.parts and before.words:
            before.place, before.end = place, lexeme.end
        else:
            shared = before is not None and before.shared and not before.parts
            by_words = self.sentence and place.words not in place.labels
            group = Group(place, lexeme.start, lexeme.end, shared=shared, words=True, in_a_sentence=by_words)
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
            if not odd and figure.colour is None:
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
        if self.supposing or (following.kind == "break" and following.value == "?"):
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
        for group in self.groups:
            self._close(group)
        out = self.outcome
        out.corrects = out.corrects or (self.no_first and bool(out.items))
        if self.two_days and out.items:
            out.items, out.taken_on = [], None
            out.unclear = [Unclear(WhyUnclear.WHICH_DATE, self.heard.text.strip())]
        elif not out.items:
            out.unclear = [u for u in out.unclear if u.why is not WhyUnclear.WHICH_DATE]
        if not out.anything and out.temp_c is not None and (self.asked_here or self.groups):
            out.unclear.append(Unclear(WhyUnclear.TEMPERATURE, self.heard.text.strip()))
        return out

    def _close(self, group: Group) -> None:
        if not group.figures:
            if group.claim:
                self._unclear(group, WhyUnclear.NOT_A_READING)
            return
        self.outcome.spans.append((group.start, group.end))
        if group.shared or (group.place is not None and len(group.place.labels) != 1):
            self._which_place(group)
        elif group.two_minds:
            self._unclear(group, WhyUnclear.MANY_NUMBERS)
        elif not self._is_only_chat(group):
            self._items(group)

    def _is_only_chat(self, group: Group) -> bool:
        """Bare numbers that nobody asked for ("2 kids", "what is a stud") are not worth a question."""
        if group.words:
            return False
        values = [f.suggestion if f.value is None else f.value for f in group.figures]
        if not self.asked_here and any(value is not None and value < LEAST_PLAUSIBLE for value in values):
            return True
        kinds_of_chat = [figure.chat for figure in group.figures]
        chat = all(kinds_of_chat) if self.asked_here else any(kinds_of_chat)
        return chat and not any(isinstance(part, Where) for part in group.parts)

    def _which_place(self, group: Group) -> None:
        """The place is asked, and the numbers wait for the answer."""
        assert group.place is not None
        before = len(self.outcome.items), len(self.outcome.unclear)
        place, words = group.place, group.place.words
        group.place = PlaceHeard(words, (words,), place.kind)
        self._items(group)
        items = tuple(self.outcome.items[before[0] :])
        del self.outcome.items[before[0] :], self.outcome.unclear[before[1] :]
        raw = self.heard.raw(group.start, group.end)
        named = PlaceNamed(None, words, place.kind)
        self.outcome.unclear.append(Unclear(WhyUnclear.WHICH_PLACE, raw, named, items=items, labels=place.labels))

    def _unclear(self, group: Group, why: WhyUnclear) -> None:
        named = group.place.named() if group.place is not None else None
        self.outcome.unclear.append(Unclear(why, self.heard.raw(group.start, group.end), named))

    def _items(self, group: Group) -> None:
        label = group.place.labels[0] if group.place is not None else None
        kind = self.atlas.kinds.get(label, PlaceKind.BAY) if label is not None else PlaceKind.BAY
        points = self.listening.asked.points if label is not None and label == self.listening.asked.place else ()
        assigned = assign(group.parts, kind, points, bare=not group.words)
        if isinstance(assigned, WhyUnclear):
            self._unclear(group, assigned)
            return
        if len(assigned) > 1 and any(f.why in _ONE_OR_MORE and w.point is None for w, f in _unsaid(assigned, group)):
            self._unclear(group, WhyUnclear.MANY_NUMBERS)
            return
        order = _order(assigned, kind, points)
        doubts = [
            figure.why or self._doubt(label, where, figure, guess)
            for (where, figure), guess in zip(assigned, order, strict=True)
        ]
        for (where, figure), guess, why in zip(assigned, order, doubts, strict=True):
            self._item(group, where, figure, guess if any(doubts) else where.point, why)

    def _item(self, group: Group, where: Where, figure: Figure, point: Point | None, why: WhyUnclear | None) -> None:
        raw = self.heard.raw(group.start, group.end)
        named = group.place.named() if group.place is not None else None
        if why is not None:
            suggestion = figure.suggestion if figure.value is None else figure.value
            self.outcome.unclear.append(Unclear(why, raw, named, point, suggestion))
            return
        mode = Mode.COLOUR if figure.colour else None
        self.outcome.items.append(
            ReadingHeard(named, point, figure.value, figure.qualifier, where.material, mode, figure.colour,
                         figure.resolution, raw)
        )  # fmt: skip

    def _doubt(self, label: str | None, where: Where, figure: Figure, guess: Point | None) -> WhyUnclear | None:
        """Why a value that was read well is not believed all the same."""
        relative = where.material in RELATIVE_MATERIALS
        if figure.value is None or relative:
            return None
        if figure.value < LEAST_PLAUSIBLE and figure.qualifier is not Qualifier.BELOW:
            return WhyUnclear.NOT_A_READING
        if self.outcome.corrects or self.no_first or figure.qualifier is Qualifier.BELOW:
            return None
        last = self._last(label).get(guess) if guess is not None else None
        return WhyUnclear.JUMP if last is not None and abs(figure.value - last) > LARGEST_JUMP else None

    def _last(self, label: str | None) -> Mapping[Point, float]:
        return next((place.last for place in self.listening.places if place.label == label), {})


def _unsaid(assigned: list[tuple[Where, Figure]], group: Group) -> list[tuple[Where, Figure]]:
    """``assigned`` as it was said: without the points that the order of asking gave."""
    if any(isinstance(part, Where) for part in group.parts):
        return assigned
    return [(NOWHERE, figure) for _, figure in assigned]


def _order(assigned: list[tuple[Where, Figure]], kind: PlaceKind, points: tuple[Point, ...]) -> list[Point | None]:
    """The point that each figure most likely belongs to, where none was said: the asked ones, else reading order."""
    if kind is not PlaceKind.BAY:
        return [where.point or Point.WOOD for where, _ in assigned]
    free = iter(points if points and len(assigned) <= len(points) else BAY_POINTS)
    return [
        where.point or (None if where.material in RELATIVE_MATERIALS else next(free, None)) for where, _ in assigned
    ]

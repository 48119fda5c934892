"""From what was said of a place to readings, or to what must be asked: points given out, values doubted.

A value is doubted when no meter shows it on wood or when it is far from the last reading of its point; a correction may
be far from what it corrects.
"""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.answers.figures import Figure, swapped
from guide_service.dialogue.answers.hearing import Heard
from guide_service.dialogue.answers.places import PlaceHeard, atlas_of
from guide_service.dialogue.answers.points import NOWHERE, Where, assign
from guide_service.dialogue.answers.said_of_places import Group, Outcome
from guide_service.dialogue.answers.spelling import plain_words
from guide_service.dialogue.events import Expect, Listening, PlaceKnown, PlaceNamed, ReadingHeard, Unclear, WhyUnclear
from guide_service.drying.terms import BAY_POINTS, RELATIVE_MATERIALS, Mode, PlaceKind, Point, Qualifier

LARGEST_JUMP = 10.0
"""[% MC] A change of more than this since the last reading of a point is asked again (our rule)."""
SURE_UP_TO = 40.0
"""[% MC] A pin meter's numbers say less and less above fibre saturation, near 28 to 30 (FPL-GTR-190 ch. 13), and a
number above this is as often a slip of the thumb as very wet wood: it needs company (our rule)."""
IN_COMPANY = 20.0
"""[% MC] So near to it some other number of the text, or of the place before, must lie (our rule)."""
LEAST_PLAUSIBLE = 5.0
"""[% MC] No pin meter shows less on wood (common practice: scales begin at 5 to 7)."""

_YEARS = (1800, 2099)
"""In which houses were built; no meter shows such a number."""
_ONE_OR_MORE = frozenset({WhyUnclear.MANY_NUMBERS, WhyUnclear.TOO_HIGH, WhyUnclear.NEGATIVE})
"""Reasons that leave open how many numbers were typed, and so which point the next one is."""


class Settler:
    """Closes the groups of one text into its outcome."""

    def __init__(self, heard: Heard, listening: Listening, outcome: Outcome, corrects: bool) -> None:
        self.heard, self.listening, self.outcome, self.corrects = heard, listening, outcome, corrects
        self.atlas = atlas_of(listening)
        self.asked_here = listening.asked.expect is Expect.READINGS
        self.said: list[Figure] = []
        """Every figure of the text, of whatever place."""

    def all_figures(self, groups: Sequence[Group]) -> None:
        self.said = [figure for group in groups for figure in group.figures]

    def settle(self, group: Group) -> None:
        if not group.figures:
            if group.claim:
                self._unclear(group, WhyUnclear.NOT_A_READING)
            elif group.shared and group.place is not None and group.place.may_be_digits:
                self._unclear(group, WhyUnclear.LETTERS_IN_NUMBER)
            return
        self.outcome.spans.append((group.start, group.end))
        if group.place is not None and group.place.like_a_number and (group.shared or self._one_place_asked):
            self._unclear(group, WhyUnclear.LETTERS_IN_NUMBER)
        elif group.shared or (group.place is not None and len(group.place.labels) != 1):
            if group.shared or not self._is_a_year(group):
                self._which_place(group)
        elif group.two_minds:
            self._unclear(group, WhyUnclear.MANY_NUMBERS)
        elif not self._is_only_chat(group):
            self._items(group)

    @property
    def _one_place_asked(self) -> bool:
        return self.asked_here and self.listening.asked.place is not None

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

    def _is_a_year(self, group: Group) -> bool:
        """ "The house is from 1950": no number of some place that we do not know."""
        numbers = [word for word in plain_words(self.heard.raw(group.start, group.end)) if word.isdigit()]
        unknown = group.place is not None and not group.place.labels
        return unknown and len(numbers) == 1 and _YEARS[0] <= int(numbers[0]) <= _YEARS[1]

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
        if len(assigned) > 1 and any(w.point is None and _breaks_order(f) for w, f in _unsaid(assigned, group)):
            self._unclear(group, WhyUnclear.MANY_NUMBERS)
            return
        order = _order(assigned, kind, points)
        doubts = [
            figure.why or self._doubt(label, where, figure, guess) or self._far_up(label, where, figure)
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
        mode = Mode.COLOUR if figure.colour else self.outcome.mode
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
        if self.corrects or self.listening.trusted or figure.qualifier is Qualifier.BELOW:
            return None
        place = self._known(label)
        if place is None or guess is None or guess not in place.last:
            return None
        compared = [values[guess] for values in (place.last, place.today) if guess in values]
        return WhyUnclear.JUMP if all(abs(figure.value - value) > LARGEST_JUMP for value in compared) else None

    def _far_up(self, label: str | None, where: Where, figure: Figure) -> WhyUnclear | None:
        """A very high number without another one near it, or alone and a likely swap of digits (72 for 27)."""
        value, relative = figure.value, where.material in RELATIVE_MATERIALS
        sure = self.corrects or self.listening.trusted or relative or figure.qualifier is not Qualifier.EXACT
        if value is None or sure or value <= SURE_UP_TO:
            return None
        others = (other.value for other in self.said if other is not figure and other.value is not None)
        place = self._known(label)
        company = [*(place.last.values() if place is not None else ()), *others]
        if any(value - other <= IN_COMPANY for other in company):
            return None
        turned = swapped(value)
        likely_slip = turned is not None and LEAST_PLAUSIBLE <= turned <= SURE_UP_TO
        return WhyUnclear.TOO_FAR_UP if company or likely_slip else None

    def _known(self, label: str | None) -> PlaceKnown | None:
        return next((place for place in self.listening.places if place.label == label), None)


def _breaks_order(figure: Figure) -> bool:
    """Whether a number may be none at all ("#2 19") or more than one, so that the next ones may be other points."""
    if figure.why in _ONE_OR_MORE or figure.chat:
        return True
    return figure.value is not None and figure.value < LEAST_PLAUSIBLE and figure.qualifier is Qualifier.EXACT


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

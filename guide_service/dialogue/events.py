"""What can happen in a conversation: the events that the machine advances on.

A text becomes one or more events (``answers.understand``); the clock, the carrier and agents make events too. Names are
stored and stand in flow files (``on: {mould: ...}``), so a value never changes its meaning.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from enum import StrEnum

from guide_service.drying.terms import Material, Mode, PlaceKind, Point, Qualifier

SMELL, NO_MOULD = "smell", "none"
"""Values of ``MOULD``: a bad smell that may be it, and that there is none. Any other tells of some."""
AT_RISK = "risk.yes"
"""Value of ``TOLD``: somebody in the house is at risk from mud and mould. Kept at any time, never what of."""
SICK = "sick"
"""Value of ``UNWELL``: ill as dirty water makes ill (a fever, the runs, flood water swallowed), not as gas does."""
SETTING = "setting"
"""Value of ``CHECK``: how the meter is set, told when that question is over."""
OF_THE_FLOOD = ("flooded.", "water.")
"""Beginnings of what ``TOLD`` says of the flood."""


class EventName(StrEnum):
    # whatever the state
    DANGER = "danger"
    """``value``: kind of danger, a ``Danger``."""
    STOP = "stop"
    START = "start"
    PERSON = "person"
    HELP = "help"
    REPEAT = "repeat"
    BACK = "back"
    WHY = "why"
    SKIP = "skip"
    LATER = "later"
    """"not now", "tomorrow" without a date that was asked for. ``value``: the day that was named, else None."""
    DONE = "done"
    UNSURE = "unsure"
    """"I don't know", where no such answer was offered."""
    UNDO = "undo"
    LANGUAGE = "language"
    """``value``: language code, or None for "another language"."""
    PICTURE = "picture"
    EMPTY = "empty"
    GREETING = "greeting"
    THANKS = "thanks"
    """``value``: ``ok`` where that is all that was said, else None."""
    UPSET = "upset"
    """Anger, grief or despair without a danger word."""
    AUTOMATIC = "automatic"
    """An out-of-office or delivery notice: never answered."""
    WRONG_NUMBER = "wrong_number"
    TOPIC = "topic"
    """A question in free words. ``value``: topic id, such as ``power_on``."""
    CLEARED = "cleared"
    """An authority said, or let it be seen, that they may go back in."""
    TOLD = "told"
    """A fact told before anybody asked. ``value``: ``water.sewage``, ``address.14 River St``, ``risk.yes``."""
    UNWELL = "unwell"
    """A headache, dizzy, sick: after gas or exhaust it is a danger (``Listening.fumes``)."""
    # the work
    READINGS = "readings"
    """``value``: ``ReadingsHeard``."""
    CORRECTION = "correction"
    """``value``: ``ReadingsHeard`` that replaces earlier readings of the same points."""
    MOULD = "mould"
    """``value``: ``seen`` or ``smelt``."""
    CLOSED = "closed"
    """"We already closed it.\""""
    NEW_WATER = "new_water"
    """"It flooded again", a leak."""
    CHECK = "check"
    """Wants to send readings. ``value``: ``setting`` of somebody who tells late how the meter was set, else None."""
    PLACES = "places"
    """Wants to set up or change places. ``value``: ``add``, ``rename``, ``remove``, ``RoomsHeard`` or None."""
    METER = "meter"
    """Has or needs a meter. ``value``: ``borrow`` or ``have``."""
    CONFIRM = "confirm"
    """Wants to look at what a helper sent."""
    BLOCK = "block"
    """What the meter showed on its check block. ``value``: float."""
    AIR = "air"
    """``value``: ``AirHeard``."""
    STATUS = "status"
    """How does it stand, when is the next check."""
    JOIN = "join"
    """``value``: a household code."""
    CODE = "code"
    """Wants to know the household's own code."""
    REVOKE = "revoke"
    """The code shall open nothing any more."""
    HOUSE = "house"
    """Which house is spoken of, or another one shall be."""
    FILE = "file"
    """What do you know about me."""
    DELETION = "deletion"
    """Delete what you know about me."""
    KEEP = "keep"
    """... and no, do not."""
    CALLS = "calls"
    """Wants to be rung with reminders. ``value``: ``none`` of somebody who wants no calls, else None."""
    REMIND_AT = "remind_at"
    """``value``: the ``datetime.time`` at which reminders are wanted."""
    # answers to what was asked
    CHOICE = "choice"
    """``value``: key of the offered answer (also ``yes``, ``no``, ``unsure``)."""
    COUNT = "count"
    """``value``: int."""
    NUMBER = "number"
    """``value``: float; of a year that was typed when its question had passed, too."""
    BAYS = "bays"
    """``value``: tuple of int, in the order typed, without repeats."""
    NAME = "name"
    """``value``: the person's own words, trimmed."""
    DATE = "date"
    """``value``: datetime.date."""
    UNCLEAR = "unclear"
    """Nearly understood. ``value``: ``Unclear``; it is asked, never guessed."""
    NOT_UNDERSTOOD = "not_understood"
    # from the clock and from agents
    CHECK_DUE = "check_due"
    NUDGE_DUE = "nudge_due"
    CONFIRM_DUE = "confirm_due"
    """A helper's readings wait for somebody of the household."""
    SILENT = "silent"
    SILENCE_DUE = "silence_due"
    """No check is planned, and nothing was heard for long. ``value``: how many nudges went before this one."""
    LOOK_BACK = "look_back"
    """Some weeks after a wall was closed."""
    HANDED_BACK = "handed_back"


class Danger(StrEnum):
    LIFE = "life"
    """Someone is hurt, trapped, cannot breathe, fire."""
    ELECTRIC = "electric"
    GAS = "gas"
    CARBON_MONOXIDE = "carbon_monoxide"
    STRUCTURE = "structure"
    CHEMICAL = "chemical"
    """Bleach mixed, fumes, poison."""
    SELF_HARM = "self_harm"


@dataclass(frozen=True, slots=True)
class PlaceNamed:
    """How a place was named: our label when it is one of theirs, otherwise the words."""

    label: str | None
    words: str
    kind: PlaceKind | None = None


@dataclass(frozen=True, slots=True)
class ReadingHeard:
    """One number as it was understood, before it is anybody's reading."""

    place: PlaceNamed | None
    """``None``: no place was named and none was asked for."""
    point: Point | None
    """``None``: not said; the machine assigns points in reading order."""
    value: float | None
    qualifier: Qualifier = Qualifier.EXACT
    material: Material | None = None
    mode: Mode | None = None
    colour: str | None = None
    resolution: float = 1.0
    raw: str = ""
    """The words that it was read from."""


class WhyUnclear(StrEnum):
    NO_DECIMAL = "no_decimal"
    """145: 14.5?"""
    TOO_HIGH = "too_high"
    NEGATIVE = "negative"
    JUMP = "jump"
    """Differs impossibly from the last reading of this point."""
    TOO_FAR_UP = "too_far_up"
    """72 beside 25 and 21, or where 27 may have been meant."""
    TEMPERATURE = "temperature"
    """May be a temperature."""
    WHICH_PLACE = "which_place"
    WHICH_POINT = "which_point"
    MANY_NUMBERS = "many_numbers"
    LETTERS_IN_NUMBER = "letters_in_number"
    """l4, I9, 1O: typing that looks like digits."""
    WHICH_DATE = "which_date"
    NOT_A_READING = "not_a_reading"


@dataclass(frozen=True, slots=True)
class Unclear:
    """Something that must be asked. ``suggestion`` is offered, never assumed."""

    why: WhyUnclear
    raw: str
    place: PlaceNamed | None = None
    point: Point | None = None
    suggestion: float | None = None
    items: tuple[ReadingHeard, ...] = ()
    """Of a place that is not certain: the numbers that were said of it, for when it is."""
    labels: tuple[str, ...] = ()
    """The places that it may be."""


@dataclass(frozen=True, slots=True)
class ReadingsHeard:
    items: tuple[ReadingHeard, ...]
    unclear: tuple[Unclear, ...] = ()
    taken_on: dt.date | None = None
    """The day the person named ("yesterday"); None = not named."""
    temp_c: float | None = None
    """A temperature named with its unit."""
    humidity: float | None = None
    """A relative humidity named as such [%]."""
    instead_of: tuple[float, ...] = ()
    """Numbers that the text takes back: 72 of "27 not 72"."""


@dataclass(frozen=True, slots=True)
class RoomHeard:
    name: str
    bays: int


@dataclass(frozen=True, slots=True)
class RoomsHeard:
    """Rooms with the number of their open bays, told in one text."""

    rooms: tuple[RoomHeard, ...]


@dataclass(frozen=True, slots=True)
class AirHeard:
    """The air as it was texted: temperatures [deg C], relative humidities [%]."""

    indoor_temp_c: float | None = None
    indoor_rh: float | None = None
    outdoor_temp_c: float | None = None
    outdoor_rh: float | None = None


@dataclass(frozen=True, slots=True)
class Event:
    name: EventName
    value: object = None
    raw: str = ""
    """The part of the text that it was understood from."""
    kind: PlaceKind | None = None
    """Of a name: the kind of place that its words say ("hall floor")."""
    rooms: tuple[RoomNamed, ...] = ()
    """Of a name that names several rooms ("kitchen, hall and both bedrooms"): each of them."""
    street: bool = False
    """Of an address: it holds a house number and a word for a street, or was said back on a call and found right, so
    that nothing else can be meant."""


@dataclass(frozen=True, slots=True)
class RoomNamed:
    """One room of a list, in the person's words."""

    words: str
    kind: PlaceKind | None = None
    count: int = 1
    """How many rooms the words mean ("both bedrooms"): more than one want names of their own."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One answer as it was sent: the number that the person saw, its key, and words that mean it."""

    number: str
    key: str
    words: tuple[str, ...] = ()


class Expect(StrEnum):
    """What kind of answer a state waits for."""

    NOTHING = "nothing"
    CHOICE = "choice"
    READINGS = "readings"
    COUNT = "count"
    NUMBER = "number"
    BAYS = "bays"
    NAME = "name"
    DATE = "date"


@dataclass(frozen=True, slots=True)
class Asked:
    """The question that is open: what answers were offered, and for which place and points."""

    expect: Expect = Expect.NOTHING
    offers: tuple[Offer, ...] = ()
    place: str | None = None
    """Label of the place that a check waits for."""
    points: tuple[Point, ...] = ()
    """Points still to be read there, in order: a bare number is the first of them."""
    bays: int | None = None
    """Open bays of the wall that is asked about: what "all" spells out to."""
    question: str = ""
    """Id of the text that put the question: some answers have words of their own ("newer", of the year of a house)."""
    past: bool = False
    """The date that is asked for lies behind ("when was it washed"), not ahead."""


@dataclass(frozen=True, slots=True)
class PlaceKnown:
    """A place of this household as the person may name it."""

    label: str
    wall: str
    wall_name: str
    kind: PlaceKind = PlaceKind.BAY
    last: dict[Point, float] = field(default_factory=dict)
    """Value of each point before today [% MC]: an impossible jump is asked again."""
    today: dict[Point, float] = field(default_factory=dict)
    """The same of today: a number near it is no jump; it may also be the very slip that a new number puts right."""


@dataclass(frozen=True, slots=True)
class Listening:
    """What a text is understood against."""

    language: str
    asked: Asked
    places: tuple[PlaceKnown, ...]
    today: dt.date
    opted_out: bool = False
    first_contact: bool = False
    introducing: bool = False
    """Who writes and where the house is are still being asked: what is told of it now is not asked again."""
    areas: tuple[tuple[str, str], ...] = ()
    """(id, name) of the county's areas, which a text may name."""
    letters: frozenset[str] = frozenset()
    """Letters of the household's walls: L4 is a bay of such a wall, also before anybody measured it."""
    latest: tuple[tuple[str, Point, float], ...] = ()
    """Place, point and value of the numbers in which this phone may mend a slip: of its last text, and of today."""
    trusted: bool = False
    """An agent looks twice: a number is not asked again for being far from others."""
    about_mould: bool = False
    """A question about mould is open: "there is none" takes a report back."""
    fumes: bool = False
    """Gas or exhaust was told of today or yesterday: a headache now is a danger."""

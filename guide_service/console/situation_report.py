"""What the situation report says to whoever the county reports to. Nothing in it names a household.

Totals of the county are told; of its parts, areas and languages, small figures are withheld (``small_counts``). So are
totals where the whole county is as small, and always small numbers of people at risk, which tell of somebody's health.
What rests on the households' own word alone is marked.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from guide_service.console import times, words
from guide_service.console.catalogue import N_, gettext
from guide_service.console.county_figures import Figures, Numbers, households_of, signed
from guide_service.console.figures import count
from guide_service.console.small_counts import Cell, is_small, withheld
from guide_service.county import County
from guide_service.followup.county_counts import PASSED, monday

SELF_REPORTED = "*"
WITHHELD = N_("withheld")
FLAGS = {
    "overdue": N_("next check overdue"),
    "stalled": N_("drying stalled"),
    "mould": N_("mold report open"),
    "unreached": N_("does not answer reminders"),
    "ready": N_("a wall whose readings meet the limit"),
}
TOLD_BY_HOUSEHOLDS = ("stalled", "mould", "ready")
PHONES = {
    "heard": N_("heard within the last 7 days"),
    "opted_out": N_("said STOP"),
    "undeliverable": N_("texts do not arrive"),
}
SPANS = ((2, N_("within 2 weeks")), (4, N_("in 2 to 4 weeks")), (8, N_("in 4 to 8 weeks")))
COLUMNS = {"overdue": N_("overdue"), "stalled": N_("stalled"), "mould": N_("mold")}
HOW_COUNTED = (
    N_("Counted by the service from the summary that each text message keeps of its household. A household is one "
       "address that has texted the county's guide; one that was begun twice and joined counts once."),
    N_("Stages, mold and readings marked * are what households report by text. Nobody has verified them unless it "
       "is said. A place is read dry, caution or wet at its last reading; read dry today is not ready to close, and "
       "neither says that a house is safe."),
    N_("Expected dry days are forecasts from the households' own readings: the likely day of the slowest place."),
    N_("Changes compare with the last count of the day named above."),
)  # fmt: skip
GAPS = (
    N_("Households that have never texted, or only by another way, are not in these numbers."),
    N_("Damage grades, casualties, meters lent and referrals are not counted here; take them from their own lists."),
    N_("The size of mold is not asked in a form that could be counted."),
)
RULE = N_(
    "Totals of the county are told. Withheld: by area and by language figures of 1 to 10, and others from which one "
    "would follow; and so of people at risk, and all totals while 10 households or fewer are with the guide. After the "
    "Cell Size Suppression Policy of the Centers for Medicare & Medicaid Services (ResDAC, 26 January 2024)."
)
ALL_WITHHELD = N_("withheld: parts this small could point at a household")
Row = tuple[str, int | None, str]
"""Words, number (None = withheld), change."""


@dataclass(frozen=True, slots=True)
class Part:
    """A title, then lines of numbers or paragraphs."""

    title: str
    lines: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Words, and what stands beside them in columns."""
    heads: tuple[str, ...] = ()
    """Of the columns, where they need naming."""
    paragraphs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Report:
    head: tuple[str, ...]
    in_short: str
    parts: tuple[Part, ...]


def situation_report(found: Figures, county: County, now: dt.datetime) -> Report:
    zone = county.zone(None)
    head = [
        gettext("SITUATION REPORT: homes drying after the flood"),
        county.name,
        gettext("As of %(at)s") % {"at": _long(found.counted_at.astimezone(zone))},
        gettext("Source: the county's text message guide"),
    ]
    if found.before:
        head.append(gettext("Changes since %(day)s, end of day") % {"day": f"{found.before:%Y-%m-%d}"})
    return Report(tuple(head), _in_short(found), (*_sections(found, county), *_notes(found, now)))


def _long(at: dt.datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M} ({at.tzname()})"


def _in_short(found: Figures) -> str:
    told = {"households": found.households, **{name: found.number("flag", name) for name in ("measured", *COLUMNS)}}
    cells: dict[str, Cell] = {name: (number, found.households - number) for name, number in told.items()}
    said = {name: _number(None if _hidden(found.households, {name: cells[name]}) else told[name]) for name in told}
    return (
        gettext(
            "%(households)s households are with the guide, %(measured)s have measured. Check overdue: %(overdue)s. "
            "Stalled: %(stalled)s. Mold open: %(mould)s."
        )
        % said
    )


def _hidden(households: int, cells: Mapping[str, Cell], *, health: bool = False) -> frozenset[str]:
    """Of figures of the whole county: none, unless so few are with the guide that the county is a small cell itself."""
    return withheld(cells) if health or is_small(households) else frozenset()


def _sections(found: Figures, county: County) -> Iterator[Part]:
    yield _section(gettext("HOUSEHOLDS BY STAGE") + SELF_REPORTED, _stages(found))
    yield _section(gettext("PLACES MEASURED, BY BAND") + SELF_REPORTED, _places(found))
    yield _section(gettext("HOUSEHOLDS WITH"), [*_flags(found), *_parts_of_flags(found)])
    yield _section(gettext("EXPECTED DRY (households not dry yet)") + SELF_REPORTED, _expected(found))
    yield _section(gettext("WAITING FOR A PERSON, BY REASON"), _waiting(found))
    yield _section(gettext("PHONES"), _phones(found))
    yield _table(gettext("BY AREA"), found.areas, _area_name(county))
    yield _table(gettext("BY LANGUAGE"), found.languages, _language_name)


def _section(title: str, rows: list[Row]) -> Part:
    return Part(title, tuple((name, (_number(number), change)) for name, number, change in rows))


def _number(number: int | None) -> str:
    return gettext(WITHHELD) if number is None else count(number)


def _stages(found: Figures) -> list[Row]:
    now = {stage: (found.number("stage", stage),) for stage in words.STAGES}
    then = {stage: (found.then["stage", stage],) for stage in words.STAGES}
    rows = _group(found, now, then, lambda stage: words.word(words.STAGES, stage))
    total = _group(found, {"all": (found.households,)}, {"all": (found.households_then,)}, lambda _: gettext("all"))
    return [*rows, *total]


def _places(found: Figures) -> list[Row]:
    now, then = ({band: (numbers["place", band],) for band in ("wet", "caution", "dry")}
                 for numbers in (found.now, found.then))  # fmt: skip
    return _group(found, now, then, lambda band: words.word(words.BANDS, band), zeros=True)


def _flags(found: Figures) -> list[Row]:
    """Each stands alone: of all households so many, and the rest."""
    rows: list[Row] = []
    for flag, name in FLAGS.items():
        now, then = found.number("flag", flag), found.then["flag", flag]
        cells = {flag: (now, found.households - now)}, {flag: (then, found.households_then - then)}
        mark = SELF_REPORTED if flag in TOLD_BY_HOUSEHOLDS else ""
        rows += _group(found, *cells, lambda _, name=name, mark=mark: gettext(name) + mark, zeros=True)  # type: ignore[misc]
    return rows


def _parts_of_flags(found: Figures) -> list[Row]:
    """Parts of others: of those with mould, of those that have measured."""
    rows: list[Row] = []
    for part, whole, name in (
        ("at_risk", "mould", N_("mold, and somebody at risk")),
        ("read_by_us", "measured", N_("readings taken by the county's people")),
        ("unconfirmed", "measured", N_("helpers' readings not confirmed")),
    ):
        now, then = ((numbers["flag", part], max(numbers["flag", whole] - numbers["flag", part], 0))
                     for numbers in (found.now, found.then))  # fmt: skip
        rows += _group(found, {part: now}, {part: then}, lambda _, name=name: gettext(name), zeros=True,  # type: ignore[misc]
                       health=part == "at_risk")  # fmt: skip
    return rows


def _expected(found: Figures) -> list[Row]:
    """No change from day to day: the weeks of yesterday are not kept."""
    spans = dict.fromkeys([PASSED, *(name for _, name in SPANS), "later", "no_date"], 0)
    for week, number in found.weeks("dry_week"):
        weeks = 0 if week is None else (week - monday(found.day)).days // 7 + 1
        later = next((name for most, name in SPANS if weeks <= most), "later")
        spans[PASSED if week is None else later] += number
    spans["no_date"] = found.number("flag", "no_date")
    hidden = _hidden(found.households, {name: (number,) for name, number in spans.items()})
    others = {PASSED: N_("day passed, no dry reading yet"), "later": N_("later"), "no_date": N_("no day can be told")}
    return [(gettext(others.get(name, name)), None if name in hidden else number, "") for name, number in spans.items()]


def _waiting(found: Figures) -> list[Row]:
    """With the days for which the oldest has waited."""
    now = {reason: (number,) for reason, number in sorted(found.of("waiting").items(), key=lambda each: -each[1])}
    hidden, rows = _hidden(found.households, now), []
    for reason, (number,) in now.items():
        days = gettext("oldest %(days)s d") % {"days": found.number("oldest", reason) // 24}
        rows.append((words.reason(reason), None if reason in hidden else number, "" if reason in hidden else days))
    return rows or [(gettext("nobody"), 0, "")]


def _phones(found: Figures) -> list[Row]:
    rows: list[Row] = []
    for kind, name in PHONES.items():
        now, then = ((numbers["phone", kind], numbers["phone", "all"] - numbers["phone", kind])
                     for numbers in (found.now, found.then))  # fmt: skip
        rows += _group(found, {kind: now}, {kind: then}, lambda _, name=name: gettext(name), zeros=True)  # type: ignore[misc]
    return rows


def _group(
    found: Figures,
    now: Mapping[str, Cell],
    then: Mapping[str, Cell],
    name_of: Callable[[str], str],
    *,
    zeros: bool = False,
    health: bool = False,
) -> list[Row]:
    """A change is told only where both numbers could be: else one would follow from the other."""
    hidden = _hidden(found.households, now, health=health)
    hidden_then = _hidden(found.households_then, then, health=health)
    rows: list[Row] = []
    for key, (number, *_) in now.items():
        if not (number or zeros or then[key][0]):
            continue
        told = found.before is not None and key not in hidden | hidden_then
        change = signed(number - then[key][0]) if told else ""
        rows.append((name_of(key), None if key in hidden else number, change))
    return rows


def _table(title: str, groups: Mapping[str, Numbers], name_of: Callable[[str], str]) -> Part:
    """The county's total of each column stands above, so each column is a group of its own.

    A table of which nothing can be told is one line.
    """
    homes = {key: households_of(numbers) for key, numbers in groups.items()}
    columns: dict[str, dict[str, Cell]] = {gettext("homes"): {key: (number,) for key, number in homes.items()}}
    for flag, name in COLUMNS.items():
        counted = {key: numbers["flag", flag] for key, numbers in groups.items()}
        columns[gettext(name)] = {key: (number, homes[key] - number) for key, number in counted.items()}
    only_one = len(groups) == 1 and not is_small(sum(homes.values()))  # then its figures are the totals above
    hidden = {name: frozenset() if only_one else withheld(cells) for name, cells in columns.items()}
    of_anybody = {name: {key for key, cell in cells.items() if any(cell)} for name, cells in columns.items()}
    if not only_one and all(hidden[name] >= keys for name, keys in of_anybody.items()):
        return Part(title, paragraphs=(gettext(ALL_WITHHELD),))
    lines = tuple(
        (name_of(key), tuple(_number(None if key in hidden[name] else columns[name][key][0]) for name in columns))
        for key in sorted(groups)
    )
    return Part(title, lines, tuple(columns))


def _area_name(county: County) -> Callable[[str], str]:
    names = {area.id: area.name for area in county.areas}
    return lambda area: names.get(area, gettext("area not known"))


def _language_name(language: str) -> str:
    return words.word(words.LANGUAGES, language) or gettext("not chosen yet")


def _notes(found: Figures, now: dt.datetime) -> Iterator[Part]:
    gaps = [gettext(gap) for gap in GAPS]
    age = times.how_long(found.counted_at, now)
    gaps.append(gettext("These numbers were counted %(age)s before this page was made.") % {"age": age})
    if not found.before:
        gaps.append(gettext("No earlier day was counted: changes are missing."))
    yield Part(gettext("HOW COUNTED"), paragraphs=tuple(gettext(text) for text in HOW_COUNTED))
    yield Part(gettext("KNOWN GAPS"), paragraphs=tuple(gaps))
    yield Part(gettext("PRIVACY"), paragraphs=(gettext(RULE),))

"""The air to judge with: as the household texted it, else the operator's weather file, else the county's normals.

Whoever holds the file reads it; here its text is understood. Format: CSV with the header ``date,temp_c,rh_pct``, one
row a day, the mean of outdoor air. Normals are the same by month (1 to 12). Nothing here guesses: a month without
normals and a day without weather give an air of which nothing is known.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace

from guide_service.drying.psychrometrics import celsius
from guide_service.drying.terms import Air

HEADER = ["date", "temp_c", "rh_pct"]
REPORT_KEEPS_DAYS = 7
"""A texted air says nothing of the air a week later (county practice)."""
WEATHER_KEEPS_DAYS = 3
"""Weather of so many days ago still stands for today when the file was not fed since (air remembers about 3 days)."""
TEMPERATURES_C = (-50.0, 60.0)


@dataclass(frozen=True, slots=True)
class OutdoorAir:
    """Mean outdoor air of a day or a month."""

    temp_c: float
    rh: float


def outdoor_air(temp_c: float, rh: float) -> OutdoorAir:
    """Checked outdoor air; ``ValueError`` when temperature or humidity cannot be."""
    if not TEMPERATURES_C[0] <= temp_c <= TEMPERATURES_C[1]:
        raise ValueError(f"temperature must be from {TEMPERATURES_C[0]:g} to {TEMPERATURES_C[1]:g} deg C, not {temp_c}")
    if not 0.0 <= rh <= 100.0:
        raise ValueError(f"relative humidity must be from 0 to 100 %, not {rh}")
    return OutdoorAir(temp_c, rh)


def parse_weather(text: str) -> dict[dt.date, OutdoorAir]:
    """Days of a weather file; ``ValueError`` names the line that cannot be understood."""
    lines = csv.reader(io.StringIO(text))
    if next(lines, None) != HEADER:
        raise ValueError(f"line 1: the header must be {','.join(HEADER)}")
    days: dict[dt.date, OutdoorAir] = {}
    for row in lines:
        try:
            day, temp, rh = row
            days[dt.date.fromisoformat(day)] = outdoor_air(float(temp), float(rh))
        except ValueError as fault:
            raise ValueError(f"line {lines.line_num}: {fault}") from fault
    return days


def in_celsius(value: float, unit: str) -> float:
    """A temperature as texted, in deg C; ``unit`` is ``F`` or ``C``, anything else is refused: never guessed."""
    if unit.upper() not in ("C", "F"):
        raise ValueError(f"a temperature needs its unit, F or C, not {unit!r}")
    return float(celsius(value)) if unit.upper() == "F" else value


def air_for(
    today: dt.date,
    reported: Air | None = None,
    weather: Mapping[dt.date, OutdoorAir] | None = None,
    normals: Mapping[int, OutdoorAir] | None = None,
) -> Air:
    """The best known air of ``today``: a fresh report first; what it leaves open outside comes from file or normals."""
    outside, source = _outside(today, weather or {}, normals or {})
    if reported is not None and reported.observed_on is not None:
        age = (today - reported.observed_on).days
        if 0 <= age <= REPORT_KEEPS_DAYS:
            return reported if reported.outdoor_rh is not None or outside is None else _with(reported, outside)
    if outside is None:
        return Air()
    return Air(outdoor_temp_c=outside.temp_c, outdoor_rh=outside.rh, observed_on=today, source=source)


def _with(reported: Air, outside: OutdoorAir) -> Air:
    return replace(reported, outdoor_temp_c=outside.temp_c, outdoor_rh=outside.rh)


def _outside(
    today: dt.date, weather: Mapping[dt.date, OutdoorAir], normals: Mapping[int, OutdoorAir]
) -> tuple[OutdoorAir | None, str]:
    for age in range(WEATHER_KEEPS_DAYS + 1):
        known = weather.get(today - dt.timedelta(days=age))
        if known is not None:
            return known, "weather"
    return normals.get(today.month), "normals"

"""What a turn keeps on the household's row for the lists of the county."""

from __future__ import annotations

import datetime as dt

from guide_service.drying.assessment import Assessment, Forecast, ForecastKind, PlaceVerdict
from guide_service.drying.terms import Band
from guide_service.turning.storing_checks import _summary


def verdict(place: str, band: Band, likely: int | None = None) -> PlaceVerdict:
    day = dt.date(2027, 4, 1) + dt.timedelta(days=likely or 0)
    dated = Forecast(ForecastKind.DATE, day, day, day + dt.timedelta(days=5))
    unknown = Forecast(ForecastKind.CANNOT_TELL)
    return PlaceVerdict(place, band, None, (), (), forecast=unknown if likely is None else dated)


def summary(*verdicts: PlaceVerdict) -> dict[str, object]:
    return _summary(Assessment(verdicts, (), None, (), 1))


def test_a_house_is_as_late_as_its_slowest_place() -> None:
    row = summary(verdict("K1", Band.WET, 20), verdict("K2", Band.CAUTION, 3), verdict("K3", Band.DRY))
    assert (row["dry_on"], row["dry_by"]) == (dt.date(2027, 4, 21), dt.date(2027, 4, 26))


def test_one_place_without_a_day_leaves_the_house_without_one() -> None:
    row = summary(verdict("K1", Band.WET, 20), verdict("K2", Band.WET))
    assert (row["dry_on"], row["dry_by"]) == (None, None)


def test_a_house_that_reads_dry_expects_nothing() -> None:
    assert summary(verdict("K1", Band.DRY))["dry_on"] is None

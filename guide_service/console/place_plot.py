"""The drying plot of one place: its readings, and the course that is expected of it, in a picture and in words."""

from __future__ import annotations

from guide_service.console import times, words
from guide_service.console.catalogue import N_, gettext, ngettext
from guide_service.console.entering import look
from guide_service.console.house_changes import of_household_in_scope
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading
from guide_service.dialogue.context import Context
from guide_service.dialogue.events import Asked
from guide_service.dialogue.facts import Facts
from guide_service.drying.assess import expected_course
from guide_service.drying.assessment import Forecast, ForecastKind
from guide_service.drying.course import Course
from guide_service.drying.plot import DARK, LIGHT, Theme, plot_place
from guide_service.drying.terms import RELATIVE_MATERIALS, Reading
from guide_service.records import PlaceRow
from guide_service.wiring import Service

UNREAD = N_("Not read yet.")
DATED = N_("Expected below %(limit)s percent between %(early)s and %(late)s, most likely on %(likely)s (80 %% range).")
UNDATED = N_("Expected between %(low)s and %(high)s percent in %(days)s days (80 %% range): too uncertain for a date.")
NO_COURSE = N_("No course can be told yet.")


def place_plot(service: Service, who: SignedIn, place_id: int, *, dark: bool) -> str:
    """SVG; a look at the household's page, of which it is a part, is in the audit already."""
    with reading(service.engine) as session:
        place = of_household_in_scope(session, service, who, PlaceRow, place_id)
    facts = look(service, who, place.household_id).facts
    sheet = Context.of(facts, {}, Asked(), service.flows.messages)
    return drawn(facts, sheet, place.label, sheet.readings(), DARK if dark else LIGHT)


def drawn(
    facts: Facts, sheet: Context, label: str, readings: list[Reading] | tuple[Reading, ...], theme: Theme = LIGHT
) -> str:
    """The picture of one place of a file that was looked up."""
    wood = [one for one in readings if one.place == label and one.material not in RELATIVE_MATERIALS]
    verdict = sheet.verdict(label)
    forecast = verdict.forecast if verdict else None
    course = verdict and expected_course(
        verdict, tuple(sheet.places), sheet.readings(), policy=facts.policy, air=facts.air,
        circumstances=facts.circumstances,
    )  # fmt: skip
    return plot_place(
        wood, facts.policy, forecast, course or None, _labels(), label,
        told=_told(wood, forecast, course or None, facts.policy.dry_below_mc), day=times.short_day, theme=theme,
    )  # fmt: skip


def _told(wood: list[Reading], forecast: Forecast | None, course: Course | None, limit: float) -> str:
    """The picture in words."""
    days = sorted({one.taken_on for one in wood})
    if not days:
        return gettext(UNREAD)
    read = ngettext("Read on %(num)s day, last on %(day)s.", "Read on %(num)s days, last on %(day)s.", len(days))
    read %= {"num": len(days), "day": times.short_day(days[-1])}
    return f"{read} {_expected(forecast, course, limit)}"


def _expected(forecast: Forecast | None, course: Course | None, limit: float) -> str:
    if forecast is not None and forecast.kind == ForecastKind.DATE:
        dates = {"early": forecast.earliest, "likely": forecast.likely, "late": forecast.latest}
        said = {name: times.short_day(day) for name, day in dates.items() if day is not None}
        return gettext(DATED) % {"limit": f"{limit:g}", **said}
    if course is not None:
        day, low, _, high = course.ahead[-1]
        return gettext(UNDATED) % {"days": round(day), "low": round(low), "high": round(high)}
    return gettext(NO_COURSE)


def _labels() -> dict[str, str]:
    """The words in a plot."""
    shown = {name: gettext(word) for name, word in (words.POINTS | words.BANDS).items()}
    return {**shown, "dry": gettext("dry"), "title": gettext("Moisture content, % of dry mass")}

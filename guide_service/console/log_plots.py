"""The drying plots of a log: every place that was read, with the forecast of those that are still followed."""

from __future__ import annotations

from sqlmodel import Session

from guide_service.console import words
from guide_service.console.catalogue import gettext
from guide_service.console.household_file import HouseholdFile
from guide_service.console.log_values import LogPlot
from guide_service.dialogue.context import Context
from guide_service.dialogue.events import Asked
from guide_service.drying.plot import plot_place
from guide_service.drying.terms import RELATIVE_MATERIALS
from guide_service.records import Household
from guide_service.records.loading import load_of_both
from guide_service.turning.knowing import facts_of
from guide_service.wiring import Service


def plots_of(session: Session, service: Service, home: Household, file: HouseholdFile) -> tuple[LogPlot, ...]:
    known = load_of_both(session.connection(), None, home.id)
    facts = facts_of(service, known, service.clock.now())
    sheet = Context.of(facts, {}, Asked(), service.flows.messages)
    drawn = []
    for place in file.places:
        wood = [one for one in facts.readings if one.place == place.label and one.material not in RELATIVE_MATERIALS]
        if wood:
            verdict = sheet.verdict(place.label)
            forecast = verdict.forecast if verdict else None
            drawn.append(LogPlot(place.label, plot_place(wood, facts.policy, forecast, None, labels(), place.label)))
    return tuple(drawn)


def labels() -> dict[str, str]:
    """The words in a plot."""
    shown = {name: gettext(word) for name, word in (words.POINTS | words.BANDS).items()}
    return {**shown, "dry": gettext("dry"), "title": gettext("Moisture content, % of dry mass")}

"""The drying plots of a log: every place that was read, with the forecast of those that are still followed."""

from __future__ import annotations

from sqlmodel import Session

from guide_service.console.household_file import HouseholdFile
from guide_service.console.log_values import LogPlot
from guide_service.console.place_plot import drawn
from guide_service.dialogue.context import Context
from guide_service.dialogue.events import Asked
from guide_service.drying.terms import RELATIVE_MATERIALS
from guide_service.records import Household
from guide_service.records.loading import load_of_both
from guide_service.turning.knowing import facts_of
from guide_service.wiring import Service


def plots_of(session: Session, service: Service, home: Household, file: HouseholdFile) -> tuple[LogPlot, ...]:
    known = load_of_both(session.connection(), None, home.id)
    facts = facts_of(service, known, service.clock.now())
    sheet = Context.of(facts, {}, Asked(), service.flows.messages)
    pictures = []
    for place in file.places:
        if any(one.place == place.label and one.material not in RELATIVE_MATERIALS for one in facts.readings):
            pictures.append(LogPlot(place.label, drawn(facts, sheet, place.label, facts.readings)))
    return tuple(pictures)

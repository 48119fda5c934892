"""The drying plot of one place, with its forecast, from everything that counts today."""

from __future__ import annotations

from guide_service.console.entering import look
from guide_service.console.house_changes import of_household_in_scope
from guide_service.console.log_plots import labels
from guide_service.console.sign_in import SignedIn
from guide_service.database import reading
from guide_service.dialogue.context import Context
from guide_service.dialogue.events import Asked
from guide_service.drying.plot import plot_place
from guide_service.drying.terms import RELATIVE_MATERIALS
from guide_service.records import PlaceRow
from guide_service.wiring import Service


def place_plot(service: Service, who: SignedIn, place_id: int) -> str:
    """SVG; a look at the household's page, of which it is a part, is in the audit already."""
    with reading(service.engine) as session:
        place = of_household_in_scope(session, service, who, PlaceRow, place_id)
    facts = look(service, who, place.household_id).facts
    sheet = Context.of(facts, {}, Asked(), service.flows.messages)
    verdict = sheet.verdict(place.label)
    wood = [one for one in sheet.readings() if one.place == place.label and one.material not in RELATIVE_MATERIALS]
    return plot_place(wood, facts.policy, verdict.forecast if verdict else None, None, labels(), place.label)

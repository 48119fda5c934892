"""The form of a notice: what it offers to an agent, and what a sent one says."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from starlette.datastructures import FormData

from guide_service.console.access import field
from guide_service.console.catalogue import N_, gettext
from guide_service.console.phrases import reader
from guide_service.console.scope import areas_of, sees_everything
from guide_service.dialogue.stages import Stage
from guide_service.notices.choice import Choice
from guide_service.notices.words import ready_made
from guide_service.records import Agent, Notice
from guide_service.wiring import Service
from guide_service.wording.sms import LONGEST_TEXT

STAGES = ("unknown", *(str(stage) for stage in Stage))
BANDS = ("wet", "caution", "dry", "unread")
TITLE_ROOM = 80
NO_TITLE = N_("Give it a title, so that colleagues know it.")
NO_WORDS = N_("Choose a ready-made text, or write one.")
LONG_WORDS = N_("This is too long for one text: the carrier takes 1,600 characters.")


@dataclass(frozen=True, slots=True)
class Filled:
    """A form as it was sent."""

    title: str
    ticked: Choice
    choice: Choice
    """What is meant by it: where no area is ticked, all that the agent has."""
    phrase: str | None
    own: dict[str, str]

    def objection(self) -> str | None:
        if not self.title:
            return gettext(NO_TITLE)
        if not self.phrase and not self.own:
            return gettext(NO_WORDS)
        return gettext(LONG_WORDS) if any(len(words) > LONGEST_TEXT for words in self.own.values()) else None


def filled(form: FormData, service: Service, agent: Agent) -> Filled:
    phrase = field(form, "phrase")
    written = {language: field(form, f"own_{language}") for language in service.county.languages}
    ticked = _ticked_choice(form, service, agent)
    return Filled(
        title=field(form, "title")[:TITLE_ROOM],
        ticked=ticked,
        choice=_meant(ticked, service, agent),
        phrase=phrase if phrase in ready_made(service) else None,
        own={language: words.replace("\r\n", "\n") for language, words in written.items() if words},
    )


def _ticked_choice(form: FormData, service: Service, agent: Agent) -> Choice:
    """An area of another office cannot be ticked."""
    own = [area.id for area in areas_of(agent, service.county)]
    return Choice(
        areas=_ticked(form, "area", own),
        area_unknown=may_choose_unknown(service, agent) and bool(field(form, "area_unknown")),
        stages=_ticked(form, "stage", STAGES),
        languages=_ticked(form, "language", spoken(service)),
        bands=_ticked(form, "band", BANDS),
        helpers=bool(field(form, "helpers")),
    )


def _meant(ticked: Choice, service: Service, agent: Agent) -> Choice:
    if ticked.areas or ticked.area_unknown:
        return ticked
    own = tuple(area.id for area in areas_of(agent, service.county))
    return replace(ticked, areas=own, area_unknown=may_choose_unknown(service, agent))


def may_choose_unknown(service: Service, agent: Agent) -> bool:
    """Households without an area belong to the first office (``scope``)."""
    return sees_everything(agent) or agent.office == service.county.offices[0].id


def spoken(service: Service) -> tuple[str, ...]:
    """Languages that somebody may be texted in: those offered, then the others that are understood."""
    return tuple(dict.fromkeys([*service.county.languages, *service.lexicons]))


def _ticked(form: FormData, group: str, values: Any) -> tuple[str, ...]:
    return tuple(value for value in values if field(form, f"{group}_{value}"))


def form_context(service: Service, agent: Agent, shown: Filled | Notice | None) -> dict[str, Any]:
    choice = None if shown is None else _choice_of(shown)
    return {
        "areas": areas_of(agent, service.county),
        "unknown_area": may_choose_unknown(service, agent),
        "stages": STAGES,
        "bands": BANDS,
        "spoken": spoken(service),
        "phrases": ready_made(service, reader(service)),
        "reader": reader(service),
        "title_room": TITLE_ROOM,
        "shown_title": shown.title if shown else "",
        "choice": choice or Choice(areas=()),
        "phrase": (shown.phrase if shown else None) or "",
        "own": shown.own if shown else {},
    }


def _choice_of(shown: Filled | Notice) -> Choice:
    return shown.ticked if isinstance(shown, Filled) else Choice.of(shown.choice)

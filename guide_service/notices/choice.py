"""Who gets a notice: households by area, stage and band, phones by language; one text for each phone."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import ColumnElement, and_, case, func, or_, true
from sqlmodel import col, select

from guide_service.county import County
from guide_service.dialogue.effects import EscalationReason
from guide_service.dialogue.stages import EARLIER_WORDS
from guide_service.records import Contact, Conversation, Escalation, Household, Membership

THIRD_PARTIES = ("contractor", "volunteer", "helper")
"""Phones that only help get a notice when it is meant for them too."""
TO, NO_TEXT = "to", "no_text"
OPTED_OUT, NO_CONSENT, UNDELIVERABLE = "opted_out", "no_consent", "undeliverable"
"""Why a phone that was chosen gets nothing."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Areas are always named; an empty list of anything else means all of it."""

    areas: tuple[str, ...]
    area_unknown: bool = False
    """Also households whose area is not known."""
    stages: tuple[str, ...] = ()
    languages: tuple[str, ...] = ()
    bands: tuple[str, ...] = ()
    helpers: bool = False

    def as_json(self) -> dict[str, Any]:
        return {name: list(value) if isinstance(value, tuple) else value for name, value in asdict(self).items()}

    @classmethod
    def of(cls, stored: dict[str, Any]) -> Choice:
        values: dict[str, Any] = {
            name: tuple(each) if isinstance(each, list) else each for name, each in stored.items()
        }
        return cls(**values)


def chosen(choice: Choice, county: County, served: Collection[str]) -> Any:
    """One row for each phone: contact, language, household, ``taken_over``, ``standing`` (why it gets nothing, if so),
    ``by_call``.

    ``served``: languages that the notice has words in.
    """
    taken_over = func.max(case((col(Conversation.taken_over_by).is_not(None), 1), else_=0))
    home = func.min(Household.id)
    person = (Contact.id, Contact.language, Contact.channel, Contact.opted_out_at, Contact.consented_at)
    return (
        select(  # type: ignore[call-overload]
            col(Contact.id).label("contact_id"),
            Contact.language,
            home.label("household_id"),
            taken_over.label("taken_over"),
            _standing(served).label("standing"),
            case((col(Contact.channel) == "call", 1), else_=0).label("by_call"),
        )
        .select_from(Contact)
        .join(Membership, col(Membership.contact_id) == col(Contact.id))
        .join(Household, col(Household.id) == col(Membership.household_id))
        .outerjoin(Conversation, _same_talk())
        .where(Contact.kind == "phone", col(Membership.ended_at).is_(None), *_conditions(choice, county))
        .group_by(*person, col(Contact.undeliverable))
    )


def _same_talk() -> ColumnElement[bool]:
    return and_(col(Conversation.contact_id) == col(Contact.id), col(Conversation.household_id) == col(Household.id))


def _standing(served: Collection[str]) -> Any:
    return case(
        (col(Contact.opted_out_at).is_not(None), OPTED_OUT),
        (col(Contact.consented_at).is_(None), NO_CONSENT),
        (col(Contact.undeliverable).is_not(None), UNDELIVERABLE),
        (col(Contact.language).not_in(list(served)), NO_TEXT),
        else_=TO,
    )


def _conditions(choice: Choice, county: County) -> list[ColumnElement[bool]]:
    return [
        _in_areas(choice, county),
        _among(Household.stage, [*choice.stages, *(old for old, new in EARLIER_WORDS.items() if new in choice.stages)]),
        _among(Household.band, choice.bands),
        _among(Contact.language, choice.languages),
        true() if choice.helpers else col(Membership.role).not_in(THIRD_PARTIES),
        true() if county.records.texts_while_deletion_is_open else ~deletion_is_open(col(Household.id)),
    ]


def _in_areas(choice: Choice, county: County) -> ColumnElement[bool]:
    area = col(Household.area)
    named = area.in_(choice.areas)
    if not choice.area_unknown:
        return named
    return or_(named, area.is_(None), area.not_in([each.id for each in county.areas]))


def _among(column: Any, values: Collection[str]) -> ColumnElement[bool]:
    return col(column).in_(list(values)) if values else true()


def deletion_is_open(household_id: Any) -> ColumnElement[bool]:
    """Whether a request to delete this household's file waits for the county's word."""
    asked = (Escalation.household_id == household_id, Escalation.reason == str(EscalationReason.DELETION))
    return select(Escalation.id).where(*asked, Escalation.state != "settled").exists()

"""Whom a caller is put through to."""

from __future__ import annotations

from guide_service.carrier.phone_numbers import normalise
from guide_service.wiring import Service


def office_number(service: Service, area: str | None) -> str | None:
    """The phone of the office that serves an area (the county's own otherwise); None where it cannot be dialled."""
    county = service.county
    return normalise(county.office_of(area).phone) or normalise(county.call_back)

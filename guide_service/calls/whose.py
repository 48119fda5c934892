"""Which house a caller has shown to be theirs, where the number alone does not say it."""

from __future__ import annotations

import re

from sqlalchemy import Connection

from guide_service.dialogue import codes
from guide_service.records.houses import houses_of
from guide_service.records.loading import Known
from guide_service.turning.naming import opened_code
from guide_service.wiring import Service

_NUMBER = re.compile(r"\d+")


def read_code(words: str) -> str | None:
    """The house code that was keyed in or said; None where it cannot be one."""
    digits = codes.read_digits(words)
    return digits if digits is not None and codes.is_code(digits) else None


def house_of(connection: Connection, service: Service, known: Known | None, words: str) -> int | None:
    """The one house of this phone whose code or house number this is; two houses of one number need the code."""
    if known is None:
        return None
    houses, digits = houses_of(connection, known.who.contact_id), codes.read_digits(words)
    numbers = {number.lstrip("0") for number in _NUMBER.findall(words)}
    by_code = [row.id for row in houses if digits is not None and opened_code(service, row) == digits]
    by_number = [row.id for row in houses if len(numbers) == 1 and numbers == _house_number(row.address)]
    found = by_code or by_number
    return int(found[0]) if len(found) == 1 else None


def _house_number(address: str | None) -> set[str]:
    found = _NUMBER.search(address or "")
    return {found.group().lstrip("0")} if found else set()

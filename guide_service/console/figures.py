"""Numbers as agents read them, in their language (CLDR)."""

from __future__ import annotations

from babel.numbers import format_decimal, format_percent

from guide_service.console.catalogue import locale

_MEASURED = "#,##0.###"


def count(number: int) -> str:
    """ "1,204": thousands apart."""
    return str(format_decimal(number, locale=locale()))


def measured(number: float) -> str:
    """ "22", "22.5": as a meter shows it, or a limit, with no more digits than it has."""
    return str(format_decimal(number, format=_MEASURED, locale=locale()))


def percent(share: float) -> str:
    """ "95%", "99.7%": what is nearly certain is not rounded up to it."""
    nearly = 0.995 <= share < 1.0
    return str(format_percent(share, format="#,##0.0%" if nearly else None, locale=locale()))

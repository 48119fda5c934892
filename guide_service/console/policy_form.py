"""A form of the policy page as it was sent: each field read, each mistake told in words beside its field."""

from __future__ import annotations

import datetime as dt
import math
import re

from annotated_types import Ge, Gt, Le, Lt
from pydantic.fields import FieldInfo
from starlette.datastructures import FormData

from guide_service.console.access import field
from guide_service.console.catalogue import N_, gettext
from guide_service.console.policy_lines import speaks_of
from guide_service.wording.gsm import GSM_SET, gsm_safe

LONGEST_SOURCE = 200
NEEDS_SOURCE = N_("Say what this value rests on: a published source, or who in the county decided it.")
OTHER_FIGURE = N_("This source speaks of %(value)s. Say what the new value rests on.")
MISSING = N_("This must not be empty.")
NO_NUMBER = N_("Write a number, such as %(example)s.")
NO_WHOLE = N_("Write a whole number.")
BETWEEN = N_("From %(least)s to %(most)s.")
FINER = N_("At most %(places)s digits after the point.")
NO_TIME = N_("Write a time of day, such as 08:00.")
TOO_LONG = N_("At most %(most)s characters, so that the texts that name it stay within their length.")
WIDE = N_("“%(letter)s” would more than halve the room of a text message. Write it plainly.")
NO_PHONE = N_("Write a number that can be dialed, such as 211 or 1-800-555-0123.")
_TIME = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_PHONE = re.compile(r"[0-9][0-9 ()-]*[0-9]")


class Form:
    """What cannot be read is noted in ``problems`` under its field, and something harmless returned in its place."""

    def __init__(self, sent: FormData) -> None:
        self.sent = sent
        self.problems: dict[str, str] = {}

    def refuse(self, name: str, problem: str, **values: object) -> None:
        """The first problem of a field is the one to be told."""
        self.problems.setdefault(name, gettext(problem) % values if values else gettext(problem))

    def ticked(self, name: str) -> bool:
        return bool(field(self.sent, name))

    def words(self, name: str, most: int, *, must: bool = False) -> str:
        text = " ".join(field(self.sent, name).split())
        if must and not text:
            self.refuse(name, MISSING)
        if len(text) > most:
            self.refuse(name, TOO_LONG, most=most)
        return text

    def said(self, name: str, most: int, *, must: bool = False, plain: bool = True) -> str:
        """Words that stand in texts; ``plain`` ones go out in every language and keep to the small alphabet."""
        text = self.words(name, most, must=must)
        wide = next((letter for letter in gsm_safe(text) if letter not in GSM_SET), None)
        if plain and wide is not None:
            self.refuse(name, WIDE, letter=wide)
        return text

    def phone(self, name: str, most: int, *, must: bool = False) -> str:
        """As it is said: dialled as it stands, or two numbers with a word between."""
        text = self.said(name, most, must=must)
        parts = [part for part in re.split(r"[^0-9 ()-]+", text) if part.strip()]
        if text and not any(_PHONE.fullmatch(part.strip()) for part in parts):
            self.refuse(name, NO_PHONE)
        return text

    def number(self, name: str, least: float, most: float, places: int = 1) -> float:
        text = field(self.sent, name).replace(",", ".")
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            self.refuse(name, NO_NUMBER, example=f"{(least + most) / 2:.{min(places, 1)}f}")
            return least
        if not least <= value <= most:
            self.refuse(name, BETWEEN, least=f"{least:g}", most=f"{most:g}")
        if abs(round(value, places) - value) > 1e-9:
            self.refuse(name, FINER, places=places)
        return value

    def whole(self, name: str, least: int, most: int) -> int:
        text = field(self.sent, name)
        if not re.fullmatch(r"[0-9]{1,6}", text):
            self.refuse(name, NO_WHOLE)
            return least
        if not least <= int(text) <= most:
            self.refuse(name, BETWEEN, least=least, most=most)
        return int(text)

    def time(self, name: str) -> dt.time:
        found = _TIME.fullmatch(field(self.sent, name))
        if found is None:
            self.refuse(name, NO_TIME)
            return dt.time(12)
        return dt.time(int(found[1]), int(found[2]))

    def source(self, name: str) -> str:
        return self.words(name, LONGEST_SOURCE)

    def rests_on(self, name: str, source: str, *, old: str = "") -> None:
        """A value that changed needs a source, and not one that gives the old value."""
        if not source:
            self.refuse(f"source_{name}", NEEDS_SOURCE)
        elif old and speaks_of(source, old):
            self.refuse(f"source_{name}", OTHER_FIGURE, value=old)


def bounds(rule: FieldInfo) -> tuple[float, float]:
    """The county file's own: what a form lets pass, a file may say. An open end is left out by a thousandth."""
    least, most = 0.0, 0.0
    for each in rule.metadata:
        if isinstance(each, Ge | Gt):
            least = float(each.ge) if isinstance(each, Ge) else float(each.gt) + 0.001  # type: ignore[arg-type]
        elif isinstance(each, Le | Lt):
            most = float(each.le) if isinstance(each, Le) else float(each.lt) - 0.001  # type: ignore[arg-type]
    return least, most

"""Where meters are lent, fetched and brought back, with words of their own for each language."""

from __future__ import annotations

from dataclasses import replace

from guide_service.console.catalogue import N_, gettext
from guide_service.console.policy_form import Form
from guide_service.console.policy_help import others
from guide_service.console.policy_lines import Line
from guide_service.county import County, MeterPlace, PlaceWords
from guide_service.county_decided import Rules
from guide_service.wording.formats import own_name
from guide_service.wording.longest import longest

MOST, SPARE = 12, 1
"""Places that the form has room for, and empty rows that it offers."""
IN_LANGUAGE = N_("%(name)s, in %(language)s")
TOO_LONG = N_("Name, address and hours together take %(length)s characters; a text has room for %(room)s.")
LONG_WORDS = N_("Name and hours together take %(length)s characters; beside the address there is room for %(room)s.")
FOR_AREA = N_("for %(area)s")
TWICE = N_("Another place has this name.")


def lines(rules: Rules, county: County) -> list[Line]:
    shown = []
    for place in rules.decided.meter_places:
        area = next((each.name for each in county.areas if each.id == place.area), "")
        where = [place.address, place.hours, *([gettext(FOR_AREA) % {"area": area}] if area else [])]
        shown.append(Line(f"place_{place.name}", place.name, ", ".join(where), place.source))
        for language, own in sorted(place.in_language.items()):
            label = gettext(IN_LANGUAGE) % {"name": place.name, "language": own_name(language)}
            told = f"{own.name or place.name}, {own.hours or place.hours}"
            shown.append(Line(f"place_{place.name}_{language}", label, told, place.source))
    return shown


def fields(rules: Rules, county: County) -> dict[str, str]:
    values: dict[str, str] = {}
    for n, place in enumerate(rules.decided.meter_places):
        values |= {f"place{n}_name": place.name, f"place{n}_address": place.address, f"place{n}_hours": place.hours}
        values |= {f"place{n}_area": place.area or "", f"source_place{n}": place.source}
        for language in others(county):
            own = place.in_language.get(language, PlaceWords())
            values |= {f"place{n}_{language}_name": own.name, f"place{n}_{language}_hours": own.hours}
    return values


def rows(rules: Rules) -> range:
    """Numbers of the rows of the form."""
    return range(min(len(rules.decided.meter_places) + SPARE, MOST))


def read(form: Form, before: Rules, county: County) -> Rules:
    had = before.decided.meter_places
    found: list[MeterPlace] = []
    for n in rows(before):
        place = None if form.ticked(f"place{n}_out") else _place(form, n, had[n] if n < len(had) else None, county)
        if place is not None:
            if place.name.casefold() in {each.name.casefold() for each in found}:
                form.refuse(f"place{n}_name", TWICE)
            found.append(place)
    return replace(before, decided=before.decided.model_copy(update={"meter_places": tuple(found)}))


def _place(form: Form, n: int, before: MeterPlace | None, county: County) -> MeterPlace | None:
    """None for a row that was left empty."""
    names = [f"place{n}_{part}" for part in ("name", "address", "hours")]
    if before is None and not any(form.ticked(name) for name in names):
        return None
    room = len(longest("meter_place") or "")
    name, address, hours = (form.said(each, room, must=True) for each in names)
    length = len(f"{name}, {address}, {hours}")
    if length > room:
        form.refuse(names[1], TOO_LONG, length=length, room=room)
    area = form.words(f"place{n}_area", 60)
    left = room - len(f", {address}, ")
    own = {language: _words(form, n, language, name, hours, left) for language in others(county)}
    kept = {code: words for code, words in (before.in_language if before else {}).items() if code not in own}
    return MeterPlace(
        name=name,
        address=address,
        hours=hours,
        area=area if area in {each.id for each in county.areas} else None,
        in_language=kept | {code: words for code, words in own.items() if words.name or words.hours},
        source=form.source(f"source_place{n}"),
    )


def _words(form: Form, n: int, language: str, plain_name: str, plain_hours: str, room: int) -> PlaceWords:
    name, hours = (form.said(f"place{n}_{language}_{part}", room, plain=False) for part in ("name", "hours"))
    length = len(name or plain_name) + len(hours or plain_hours)
    if (name or hours) and length > room:
        form.refuse(f"place{n}_{language}_{'hours' if hours else 'name'}", LONG_WORDS, length=length, room=room)
    return PlaceWords(name=name, hours=hours)

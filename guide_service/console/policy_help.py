"""The numbers that texts tell people to call, each for every language or with one of its own."""

from __future__ import annotations

from dataclasses import replace

from guide_service.console.catalogue import N_, gettext
from guide_service.console.policy_form import Form
from guide_service.console.policy_lines import Line
from guide_service.county import County, HelpLine
from guide_service.county_decided import Rules
from guide_service.wording.catalogue import SOURCE_LANGUAGE
from guide_service.wording.formats import own_name
from guide_service.wording.longest import longest

CALL_BACK = N_("A person of the county answers, in office hours")
LINES = {
    "distress": N_("Somebody to talk to, day or night"),
    "poison": N_("Poison, at any hour"),
    "referral": N_("Food, shelter, money, legal help"),
}
"""Those that the texts name. Where one is not given they name the number that a person answers, for poison 911."""
IN_LANGUAGE = N_("%(line)s, in %(language)s")
NAME_MISSING = N_("Say whose number it is.")
LONGEST_NAME = 60


def lines(rules: Rules, _county: County) -> list[Line]:
    decided = rules.decided
    shown = [Line("call_back", gettext(CALL_BACK), decided.call_back, decided.call_back_source)]
    for line in decided.help_lines:
        label = gettext(LINES[line.id]) if line.id in LINES else line.id
        shown.append(Line(f"help_{line.id}", label, f"{line.name}: {line.number}", line.source))
        for language, number in sorted(line.numbers.items()):
            named = gettext(IN_LANGUAGE) % {"line": label, "language": own_name(language)}
            shown.append(Line(f"help_{line.id}_{language}", named, number, line.source))
    return shown


def fields(rules: Rules, county: County) -> dict[str, str]:
    decided = rules.decided
    values = {"call_back": decided.call_back, "source_call_back": decided.call_back_source}
    given = {line.id: line for line in decided.help_lines}
    for id_ in LINES:
        line = given.get(id_) or HelpLine(id=id_, name="", number="")
        values |= {f"{id_}_name": line.name, f"{id_}_number": line.number, f"source_{id_}": line.source}
        values |= {f"{id_}_{language}": line.numbers.get(language, "") for language in others(county)}
    return values


def read(form: Form, before: Rules, county: County) -> Rules:
    given = {line.id: line for line in before.decided.help_lines}
    found = {id_: _line(form, id_, given.get(id_), county) for id_ in LINES}
    untouched = [line for line in before.decided.help_lines if line.id not in LINES]
    update = {
        "call_back": form.phone("call_back", _room("callback"), must=True),
        "call_back_source": form.source("source_call_back"),
        "help_lines": (*(line for line in found.values() if line), *untouched),
    }
    return replace(before, decided=before.decided.model_copy(update=update))


def _line(form: Form, id_: str, before: HelpLine | None, county: County) -> HelpLine | None:
    """None where no number is given; languages that are not offered keep what they have."""
    room = _room(f"{id_}_line")
    number, name = form.phone(f"{id_}_number", room), form.words(f"{id_}_name", LONGEST_NAME)
    own = {language: form.phone(f"{id_}_{language}", room) for language in others(county)}
    source = form.source(f"source_{id_}")
    if not number:
        if any(own.values()):
            form.phone(f"{id_}_number", room, must=True)
        return None
    if not name:
        form.refuse(f"{id_}_name", NAME_MISSING)
    kept = {language: said for language, said in (before.numbers if before else {}).items() if language not in own}
    numbers = kept | {language: said for language, said in own.items() if said}
    return HelpLine(id=id_, name=name, number=number, numbers=numbers, source=source)


def others(county: County) -> list[str]:
    """The county's languages besides the one that stands for all."""
    return [language for language in county.languages if language != SOURCE_LANGUAGE]


def _room(placeholder: str) -> int:
    """Characters that a text has for it within its segment budget."""
    return len(longest(placeholder) or "")

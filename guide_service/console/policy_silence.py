"""How long nothing is heard, of a household or a meter that was lent, before somebody asks: shown, filled in, read."""

from __future__ import annotations

from dataclasses import replace

from guide_service.console.catalogue import N_, gettext
from guide_service.console.policy_form import Form, bounds
from guide_service.console.policy_lines import Line, Strictness
from guide_service.county import County
from guide_service.county_decided import Rules
from guide_service.county_rules import LoanRules, SilenceRules

SILENCE = {
    "answer": N_("Silent at an open question: asked after days"),
    "work": N_("Silent with work in hand (mud, walls, washing): asked after days"),
    "drying": N_("Silent while the house dries: asked after days"),
    "others": N_("Silent while it waits for others: asked after days"),
    "listed": N_("Still silent: another phone, then the agents' list, each after days"),
    "most_a_day": N_("Households first asked on one day, at most"),
}
LOANS = {"person_after": N_("A meter not brought back: on the waiting list after days")}
_PARTS = ((SilenceRules, "silence", SILENCE), (LoanRules, "loans", LOANS))
LABELS = SILENCE | LOANS


def lines(rules: Rules, _county: County) -> list[Line]:
    return [
        Line(name, gettext(label), str(getattr(part, name)), part.sources.get(name, ""))
        for _, part_name, labels in _PARTS
        for part in (getattr(rules.decided, part_name),)
        for name, label in labels.items()
    ]


def fields(rules: Rules, county: County) -> dict[str, str]:
    shown = lines(rules, county)
    return {line.name: line.value for line in shown} | {f"source_{line.name}": line.source for line in shown}


def read(form: Form, before: Rules, _county: County) -> Rules:
    after = {}
    for model, part_name, labels in _PARTS:
        old = getattr(before.decided, part_name)
        values = {name: form.whole(name, *map(int, bounds(model.model_fields[name]))) for name in labels}
        sources = {name: text for name in labels if (text := form.source(f"source_{name}"))}
        for name, value in values.items():
            was, source = getattr(old, name), sources.get(name, "")
            if value != was:
                form.rests_on(name, source, old=str(was) if source == old.sources.get(name) else "")
        after[part_name] = old.model_copy(update={**values, "sources": sources})
    return replace(before, decided=before.decided.model_copy(update=after))


def _measure(name: str) -> Strictness:
    return Strictness(lambda rules: (float(getattr(rules.decided.silence, name)),), 1)


STRICTNESS = {name: _measure(name) for name in ("answer", "work", "drying", "others", "listed")}
"""Whoever may be silent for longer is missed later."""

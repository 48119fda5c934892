"""What the waiting list says of why something stands there: the facts that the guide had, in an agent's words."""

from __future__ import annotations

import datetime as dt

import pytest

from guide_service.console.because import because, house_of
from guide_service.dialogue.effects import EscalationReason
from guide_service.records import Escalation, Household

NOON = dt.datetime(2027, 3, 15, 16, tzinfo=dt.UTC)


def raised(reason: str, **detail: object) -> Escalation:
    return Escalation(household_id=1, reason=reason, urgency=3, detail=detail, state="waiting", opened_at=NOON)


@pytest.mark.parametrize(
    ("reason", "detail", "facts"),
    [
        (
            "stalled",
            {"places": "K1, K2", "finding": "too_slow", "cause": "humid_air", "rain": "no", "cover": "yes"},
            [
                "at K1, K2",
                "dries, but too slowly",
                "probable cause: humid air",
                "they found: something left on the wood",
            ],
        ),
        ("stalled", {"by": "7"}, []),
        (
            "mould",
            {"sense": "seen", "size": "big", "ducts": True, "when": "after_cleaning", "water": "sewage", "risk": True},
            [
                "seen",
                "larger than a household should clean",
                "in the air ducts",
                "after cleaning: it came back",
                "sewage water",
            ],
        ),
        ("danger", {"kind": "carbon_monoxide"}, ["exhaust, carbon monoxide"]),
        ("house_kind", {"kind": "manufactured", "belly": "yes"}, ["manufactured home", "belly wet or hanging"]),
        ("lost_from_sight", {"band": "wet", "stage": "measure"}, ["last read: wet"]),
        ("closed_while_wet", {"bands": "caution, wet"}, ["last read: caution, wet"]),
        ("language", {"language": "vi"}, ["Vietnamese"]),
        ("meter_overdue", {"meter": "A3", "due": "2027-03-12"}, ["meter A3, due back Fri, Mar 12"]),
        ("person", {}, []),
        ("a reason of tomorrow", {"kind": "gas"}, []),
    ],
)
def test_the_facts_behind_a_reason(reason: str, detail: dict[str, object], facts: list[str]) -> None:
    assert because(raised(reason, **detail)) == facts


def test_every_reason_is_told_without_failing_on_facts_that_it_does_not_know() -> None:
    for reason in EscalationReason:
        assert isinstance(because(raised(reason, kind="new", cause="new", where="new", about="new")), list)


def test_what_the_house_says_beside_is_not_said_twice() -> None:
    home = Household(created_at=NOON, updated_at=NOON, facts={"foundation": "basement", "water": "river"})
    mould = raised("mould", sense="seen", size="small", water="river")
    assert because(mould, home) == ["seen", "small"]
    assert because(mould, Household(created_at=NOON, updated_at=NOON, facts={})) == because(mould)
    assert because(mould)[-1] == "river water"


def test_what_the_house_is_as_far_as_it_was_told() -> None:
    facts = {"house_kind": "masonry", "foundation": "crawl", "water": "river", "old_house": "yes"}
    home = Household(created_at=NOON, updated_at=NOON, facts=facts)
    assert house_of(home) == "block or brick walls, crawl space, river water, older house: lead, asbestos"
    assert house_of(Household(created_at=NOON, updated_at=NOON, facts={"foundation": "unsure"})) == ""

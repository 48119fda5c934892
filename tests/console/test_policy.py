"""The policy: shown with its sources, changed with a reason, refused by the county file's own rules."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlmodel import select

from guide_service.console.policy_changes import LIMITS, WINDOWS
from guide_service.database import reading
from guide_service.drying.policy import Policy
from guide_service.records import PolicyRow
from guide_service.records.policies import as_policy
from guide_service.wiring import PolicyInForce, Service
from tests.console.conftest import Desk, audited

Seat = Callable[..., Desk]
PAGE = "/console/policy"


def as_form(policy: Policy, **changes: str) -> dict[str, str]:
    values = {name: str(getattr(policy, name)) for name in LIMITS}
    for band in WINDOWS:
        values[f"{band}_from"] = str(policy.next_check_days[band].earliest)
        values[f"{band}_to"] = str(policy.next_check_days[band].latest)
    values |= {f"source_{name}": text for name, text in policy.sources.items()}
    return values | {"version": str(policy.version), "reason": "New advice of the state office"} | changes


def stored(service: Service) -> list[PolicyRow]:
    with reading(service.engine) as session:
        return list(session.exec(select(PolicyRow).order_by(PolicyRow.version)))


def test_a_change_is_a_version_and_the_old_one_stays(service: Service, desk: Seat) -> None:
    chief, old = desk("chief", coordinator=True), service.policy()
    elsewhere = PolicyInForce(service.engine, service.county.first_policy())
    chief.do(PAGE, **as_form(old, dry_below_mc="14", wet_from="4", source_dry_below_mc="State notice 7"))
    first, second = stored(service)
    assert as_policy(first) == old
    assert (second.version, second.reason, second.made_by) == (2, "New advice of the state office", chief.agent.id)
    for now in (service.policy(), elsewhere.now()):
        assert (now.version, now.dry_below_mc, now.next_check_days["wet"].earliest) == (2, 14.0, 4)
        assert now.u_meter_mc == old.u_meter_mc
    shown = desk("rivera").see(PAGE)
    assert "dry_below_mc: 15 → 14" in shown
    assert "State notice 7" in shown
    assert "Make this the new version" not in shown
    assert "policy_change" in audited(service)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"dry_below_mc": "25"}, "must rise"),
        ({"rounds": "1"}, "rounds"),
        ({"species_offset_mc": "nan"}, "species_offset_mc"),
        ({"wet_from": "9", "wet_to": "3"}, "next_check_days"),
        ({"harm_mc": "dry"}, "harm_mc"),
        ({"dry_below_mc": "14", "reason": ""}, "Say why"),
        ({"dry_below_mc": "14", "version": "7"}, "meanwhile"),
        ({}, "Nothing was changed"),
    ],
)
def test_what_cannot_be_changes_nothing(service: Service, desk: Seat, changes: dict[str, str], named: str) -> None:
    page = desk("chief", coordinator=True).do(PAGE, 422, **as_form(service.policy(), **changes))
    assert named in page.partition('role="alert"')[2].partition("</p>")[0]
    assert stored(service) == []


def test_an_agent_only_looks(service: Service, desk: Seat) -> None:
    answer = desk("rivera").client.post(PAGE, data=as_form(service.policy(), dry_below_mc="14"))
    assert answer.status_code != 200
    assert stored(service) == []

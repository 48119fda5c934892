"""State ids are permanent: the ledger of all that were ever shipped, and that each of them still leads somewhere."""

from __future__ import annotations

from guide_service.dialogue.flow_checks import KNOWN_STATES
from guide_service.settings import FLOWS_DIR
from tests.dialogue.world import larkwater


def ledger() -> list[str]:
    return (FLOWS_DIR / KNOWN_STATES).read_text(encoding="utf-8").split()


def test_every_state_stands_in_the_ledger() -> None:
    flows = larkwater().flows
    missing = (set(flows.states) | set(flows.replaced)) - set(ledger())
    assert not missing, f"add to conversation_flows/{KNOWN_STATES}: {sorted(missing)}"


def test_the_ledger_is_in_order_and_holds_each_state_once() -> None:
    assert ledger() == sorted(set(ledger()))


def test_a_conversation_stored_in_any_known_state_resumes() -> None:
    flows = larkwater().flows
    assert {flows.resume(state) for state in ledger()} <= set(flows.states)

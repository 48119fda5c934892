"""Passwords are kept as argon2id with the parameters of the standard, and nobody's costs as much as somebody's."""

from __future__ import annotations

import pytest
from argon2 import PasswordHasher, Type, extract_parameters

from guide_service.console import passwords


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> None:
    """The hasher of the service, which the other tests have exchanged for a quick one."""
    monkeypatch.setattr(passwords, "_hasher", PasswordHasher())


def test_the_hash_is_argon2id_with_the_second_recommended_option(slow: None) -> None:
    """RFC 9106, section 4: t = 3, p = 4, 64 MiB where memory is scarce."""
    used = extract_parameters(passwords.hash_password("a river of nine letters"))
    assert (used.type, used.time_cost, used.parallelism, used.memory_cost) == (Type.ID, 3, 4, 65_536)


def test_no_agent_and_a_damaged_hash_are_never_right() -> None:
    assert not passwords.matches("the password of nobody at all", None)
    assert not passwords.matches("anything", "no hash")
    assert passwords.matches("a river", passwords.hash_password("a river"))


def test_nobodys_hash_costs_as_much_as_an_agents() -> None:
    assert extract_parameters(passwords._NOBODY) == extract_parameters(PasswordHasher().hash("x"))

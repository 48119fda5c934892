"""No test of the carrier may reach a network: only the loopback can be connected to."""

from __future__ import annotations

import socket
from typing import Any

import pytest

_LOOPBACK = ("127.", "::1", "localhost")


@pytest.fixture(autouse=True)
def only_loopback(monkeypatch: pytest.MonkeyPatch) -> None:
    connect = socket.socket.connect

    def guarded(self: socket.socket, address: Any) -> None:
        host = address[0] if isinstance(address, tuple) else ""
        if self.family in (socket.AF_INET, socket.AF_INET6) and not str(host).startswith(_LOOPBACK):
            raise AssertionError("a test tried to reach the network")
        connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", guarded)


@pytest.fixture(autouse=True)
def no_carrier_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("ACCOUNT_SID", "AUTH_TOKEN", "EDGE", "REGION"):
        monkeypatch.delenv(f"TWILIO_{name}", raising=False)

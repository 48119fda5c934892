"""Tests reach nothing but this machine."""

from __future__ import annotations

import socket

import httpx
import pytest

from tests.conftest import NetworkReached


def test_a_connection_to_another_machine_is_refused() -> None:
    with socket.socket() as outward, pytest.raises(NetworkReached):
        outward.connect(("203.0.113.7", 80))  # documentation range, RFC 5737


def test_the_carriers_client_is_refused_too() -> None:
    with httpx.Client() as client, pytest.raises(NetworkReached):
        client.get("http://203.0.113.7/")


def test_loopback_is_reached() -> None:
    with socket.socket() as listener, socket.socket() as inward:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        inward.connect(listener.getsockname())

"""The practice phone in the terminal, on the same addresses as the page."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator

import pytest
from fastapi.testclient import TestClient
from rich.console import Console

from guide_service.handset.terminal import PhoneTrouble, TerminalPhone, minutes_of, number_of


@pytest.fixture
def screen() -> io.StringIO:
    return io.StringIO()


@pytest.fixture
def terminal(phone: TestClient, screen: io.StringIO) -> TerminalPhone:
    return TerminalPhone("", "0123", Console(file=screen, width=200), http=phone)  # type: ignore[arg-type]


def typing(*lines: str) -> Callable[[str], str]:
    waiting: Iterator[str] = iter(lines)

    def ask(_prompt: str) -> str:
        try:
            return next(waiting)
        except StopIteration:
            raise EOFError from None

    return ask


def test_what_is_typed_is_sent_and_the_reply_is_printed_once(terminal: TerminalPhone, screen: io.StringIO) -> None:
    terminal.run(typing("hello", "/quit"))
    shown = screen.getvalue()
    assert "This phone is +12025550123." in shown
    assert shown.count("Larkwater County Extension. We help you") == 1
    assert "segment" in shown


def test_the_clock_and_the_number_are_commands(terminal: TerminalPhone, screen: io.StringIO) -> None:
    terminal.run(typing("/clock 2d", "/number 0140", "/nonsense", "/clock soon"))
    shown = screen.getvalue()
    assert "It is now " in shown
    assert "This phone is +12025550140." in shown
    assert "/quit" in shown
    assert "say how long" in shown


def test_coming_back_to_a_number_shows_its_last_texts(terminal: TerminalPhone, screen: io.StringIO) -> None:
    terminal.run(typing("hello"))
    again = TerminalPhone("", "0123", Console(file=screen, width=200), http=terminal.http)
    again.run(typing())
    assert "> hello" in screen.getvalue()


@pytest.mark.parametrize(
    ("words", "minutes"), [("90m", 90), ("6h", 360), ("2d", 2880), ("1 week", 10_080), ("3 days", 4320)]
)
def test_spans_of_time(words: str, minutes: int) -> None:
    assert minutes_of(words) == minutes


@pytest.mark.parametrize("words", ["", "2", "d", "-1d", "2y"])
def test_what_is_no_span_of_time(words: str) -> None:
    with pytest.raises(PhoneTrouble, match="say how long"):
        minutes_of(words)


def test_numbers_short_and_long() -> None:
    assert {number_of(each) for each in ("0123", "202 555 0123", "+1 (202) 555-0123")} == {"+12025550123"}
    with pytest.raises(PhoneTrouble, match="555-0100 to 555-0199"):
        number_of("+14155552671")

"""The practice phone in a terminal. It talks to the same addresses as the page."""

from __future__ import annotations

import datetime as dt
import re
import threading
from collections.abc import Callable
from typing import Any

import httpx
from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from guide_service.handset.terminal_call import TerminalCall

HELP = """Type a text and press Enter. Commands:
  /clock 2d     let time pass: m minutes, h hours, d days, w weeks
  /number 0123  use another number (555-0100 to 555-0199)
  /call         call the county (/call hidden: without showing the number)
  /take         pick up when the county calls
  /aloud        prompts of calls are spoken too, or no longer (needs espeak-ng)
  /quit         leave"""
SPANS = {"m": 1, "h": 60, "d": 1440, "w": 10_080}
LOOK_EVERY_SECONDS = 1.0


class PhoneTrouble(Exception):
    """What went wrong, as one line."""


def minutes_of(words: str) -> int:
    """ "2d", "3 hours", "90m": minutes. Raises ``PhoneTrouble``."""
    found = re.fullmatch(r"\s*(\d{1,5})\s*([mhdw])[a-z]*\s*", words.lower())
    if not found:
        raise PhoneTrouble("say how long: /clock 90m, /clock 6h, /clock 2d, /clock 1w")
    return int(found[1]) * SPANS[found[2]]


def number_of(words: str) -> str:
    """ "0123", "202 555 0123", "+12025550123": the number. Raises ``PhoneTrouble``."""
    digits = re.sub(r"\D", "", words)
    number = {4: f"+1202555{digits}", 10: f"+1{digits}"}.get(len(digits), f"+{digits}")
    if not re.fullmatch(r"\+1[2-9]\d{2}55501\d{2}", number):
        raise PhoneTrouble("practice numbers are 555-0100 to 555-0199, such as +12025550123")
    return number


class TerminalPhone:
    """One phone on one terminal. Texts that arrive by themselves are printed by a thread that looks for them."""

    def __init__(self, address: str, number: str, console: Console, http: httpx.Client | None = None) -> None:
        self.number = number_of(number)
        self.console = console
        self.http = http or httpx.Client(base_url=address, timeout=30)
        self.call: TerminalCall | None = None
        self.aloud = False
        self.seen: set[str] = set()
        self.lock = threading.Lock()
        self.stop = threading.Event()

    def run(self, ask: Callable[[str], str] = input) -> None:
        self.console.print(HELP, style="dim", highlight=False)
        self.use(self.number)
        watcher = threading.Thread(target=self._watch, name="practice-phone", daemon=True)
        watcher.start()
        try:
            while self._once(ask):
                pass
        finally:
            self.stop.set()
            watcher.join(timeout=5)

    def obey(self, line: str) -> bool:
        """One line typed; False when it was the last."""
        if self.call is not None:
            self._on_call(self.call, line)
            return True
        command, _, rest = line.strip().partition(" ")
        if command in ("/quit", "/exit"):
            return False
        if command == "/clock":
            now = self._call("POST", "/handset/clock", json={"advance_minutes": minutes_of(rest)})["now"]
            self.console.print(f"It is now {_time(now)}.", style="dim", highlight=False)
        elif command == "/call":
            self._on_the_line("/handset/calls", {"number": self.number, "shown": rest != "hidden"})
        elif command == "/take":
            self._take()
        elif command == "/aloud":
            self.aloud = not self.aloud
            self.console.print(f"Prompts of calls are {'spoken' if self.aloud else 'not spoken'}.", style="dim")
        elif command == "/number":
            self.use(number_of(rest))
        elif command.startswith("/"):
            self.console.print(HELP, style="dim", highlight=False)
        elif line.strip():
            self.show(self._call("POST", "/handset/texts", json={"number": self.number, "body": line})["texts"])
        return True

    def use(self, number: str) -> None:
        self.number = number
        self.console.print(f"This phone is {number}.", style="bold", highlight=False)
        self.show(self._look(), last=6)

    def show(self, texts: list[dict[str, Any]], last: int | None = None) -> None:
        """Prints what was not printed yet (``last``: only the newest); one's own words stand there already."""
        with self.lock:
            new = [text for text in texts if text["id"] not in self.seen]
            self.seen.update(text["id"] for text in new)
            for text in new if last is None else new[-last:]:
                if text["direction"] == "received":
                    self.console.print(Padding(_line(text), (0, 0, 0, 4)))
                elif text["direction"] == "rings":
                    self.console.print("    The county calls: /take to pick up.", style="bold", highlight=False)
                elif last is not None and text["direction"] == "sent":
                    self.console.print(f"> {text['body']}", markup=False, highlight=False)

    def _once(self, ask: Callable[[str], str]) -> bool:
        try:
            return self.obey(ask(self.call.prompt if self.call else "> "))
        except (EOFError, KeyboardInterrupt):
            return False
        except PhoneTrouble as trouble:
            self.console.print(str(trouble), style="red", highlight=False)
            return True

    def _take(self) -> None:
        rings = [text["sid"] for text in self._look() if text["direction"] == "rings"]
        if not rings:
            raise PhoneTrouble("the phone does not ring")
        self._on_the_line(f"/handset/calls/{rings[-1]}/take", {})

    def _on_the_line(self, path: str, said: dict[str, Any]) -> None:
        self.call = TerminalCall(self._post, self.console, path, said, aloud=self.aloud)
        self._end_of_call(self.call)

    def _on_call(self, call: TerminalCall, line: str) -> None:
        try:
            call.obey(line)
        except PhoneTrouble:
            self.call = None
            raise
        self._end_of_call(call)

    def _end_of_call(self, call: TerminalCall) -> None:
        if call.over:
            self.aloud, self.call = call.aloud, None

    def _post(self, path: str, said: dict[str, Any]) -> dict[str, Any]:
        return self._call("POST", path, json=said)

    def _watch(self) -> None:
        while not self.stop.wait(LOOK_EVERY_SECONDS):
            try:
                self.show(self._look())
            except PhoneTrouble:
                continue

    def _look(self) -> list[dict[str, Any]]:
        texts: list[dict[str, Any]] = self._call("GET", "/handset/texts", params={"number": self.number})["texts"]
        return texts

    def _call(self, method: str, path: str, **arguments: Any) -> dict[str, Any]:
        try:
            answer = self.http.request(method, path, **arguments)
        except httpx.HTTPError as problem:
            raise PhoneTrouble(f"the service does not answer ({type(problem).__name__}); is it running?") from None
        if answer.status_code == 404:
            raise PhoneTrouble("this service has no practice phone: it runs without GUIDE_DEMO")
        result: dict[str, Any] = answer.json() if answer.content else {}
        if answer.status_code >= 400:
            raise PhoneTrouble(str(result.get("detail", f"status {answer.status_code}")))
        return result


def _time(iso: str) -> str:
    return dt.datetime.fromisoformat(iso).strftime("%a %d %b %Y, %H:%M")


def _line(text: dict[str, Any]) -> Text:
    """A text as it arrived, with its size."""
    size = "1 segment" if text["segments"] == 1 else f"{text['segments']} segments"
    return Text(text["body"], style="bold").append(f"  [{size}]", style="dim not bold")

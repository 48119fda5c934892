"""A call on the practice phone in a terminal: prompts as text (and aloud), keys and words typed."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from guide_service.handset.aloud import NoSynthesiser, speak

HELP = """On a call, type keys (such as 1 or 2219#) or words, and press Enter; nothing is silence.
  /hang         hang up
  /aloud        prompts are spoken too, or no longer (needs espeak-ng)"""
_KEYS = re.compile(r"[0-9*# ]+")
Ask = Callable[[str, dict[str, Any]], dict[str, Any]]
"""Address and JSON of a request of the practice phone; its answer."""


class TerminalCall:
    """One call, from its first prompt to its end."""

    def __init__(self, ask: Ask, console: Console, path: str, said: dict[str, Any], *, aloud: bool) -> None:
        """``path`` and ``said``: the request with which the call begins."""
        self.ask, self.console, self.aloud = ask, console, aloud
        console.print(HELP, style="dim", highlight=False)
        self.now = ask(path, said)
        self._hear()

    @property
    def over(self) -> bool:
        return bool(self.now["then"] == "over")

    @property
    def prompt(self) -> str:
        return "agent takes it (y/n)> " if self.now["then"] == "dial" else "call> "

    def obey(self, line: str) -> None:
        typed = line.strip()
        if typed == "/hang":
            self.ask(f"/handset/calls/{self.now['call']}/end", {})
            self.now = {**self.now, "then": "over"}
            self.console.print("You hung up.", style="dim")
        elif typed == "/aloud":
            self.aloud = not self.aloud
            self.console.print(f"Prompts are {'spoken' if self.aloud else 'not spoken'}.", style="dim")
        elif typed.startswith("/"):
            self.console.print(HELP, style="dim", highlight=False)
        else:
            self.now = self.ask(f"/handset/calls/{self.now['call']}", self._answer(typed))
            self._hear()

    def _answer(self, typed: str) -> dict[str, Any]:
        if self.now["then"] == "dial":
            return {"agent": typed.lower().startswith("y")}
        if self.now["then"] == "record":
            # four words in two seconds: a message is as long as it would be said (common practice)
            return {"left_seconds": min(120, len(typed.split()) // 2 + bool(typed))}
        if _KEYS.fullmatch(typed):
            return {"keys": typed.replace(" ", "")}
        return {"words": typed}

    def _hear(self) -> None:
        for line in self.now["lines"]:
            said = f"[recording: {line['words']}]" if line["recording"] else line["words"]
            self.console.print(Padding(Text(said, style="bold"), (0, 0, 0, 4)))
            if self.aloud and not line["recording"]:
                self._speak(line["words"], line["language"])
        if self.now["then"] == "dial":
            self.console.print(f"A phone rings at {self.now['dials']}.", style="dim", highlight=False)
        elif self.now["then"] == "record":
            self.console.print("A tone: type the message.", style="dim")
        elif self.over:
            self.console.print("The county hung up.", style="dim")

    def _speak(self, words: str, language: str) -> None:
        try:
            speak(words, language)
        except NoSynthesiser as problem:
            self.aloud = False
            self.console.print(f"Not aloud: {problem}.", style="red", highlight=False)

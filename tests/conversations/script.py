"""Conversations as plain text: who says what, what must come back, what time and people do, what must be kept.

# Anything after a hash is for the reader.
at: 2026-05-20 11:00              local time of the county; the clock stands still from there
on: postgres                      this script runs on PostgreSQL too
languages: en es                  what the county offers (English alone, unless said)
never: safe to close              before the first text: in no text of the whole conversation

> water in basement               the first phone texts this (``B>`` is another phone)
< Stay out of the water           in the answer, in this order
said: danger.gas                  the message of this id, in the language of the phone
said in es: danger.gas            ... in another language than the phone's (``said B:`` in that of the other phone)
never: you may                    not in this answer
silence: opted_out                instead of ``<``: no answer, for this reason
wait: 3 days                      time passes and the worker works (also: ``until the next check``)
sent: time to measure             what went out meanwhile to the first phone (``sent B:`` to the other), in order
nothing sent                      ... or nothing at all
again                             the carrier posts the last text once more: same answer, nothing changes
carrier: OptOutType=STOP          more form fields of the next text (``NumMedia=1 MediaUrl0=...`` for a picture)
fails: deciding                   the next turn meets a fault of ours (or ``storing``)
agent: takes over                 what an agent does on the agents' pages (``stage.AGENT_DOES``)
undelivered: B 30006              the carrier reports that the last text to that phone did not arrive, and why
kept: next check 2026-05-27       what stands in the records (``kept.KEPT``)
B> join {code}                    the household code that was told last
B lives with A                    two phones of one household

A script of the folder ``both`` is one conversation in English and in Spanish: ``> it is mine || es mía``. A line with
nothing on one side is of the other language alone; ``> why / 2 / back`` are three texts, one after the other.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

_TEXT = re.compile(r"(?P<who>[A-Z]?)>(?: (?P<text>.*))?")
_SENT = re.compile(r"sent(?: (?P<who>[A-Z]))?: (?P<text>.+)")
_SAID_IN = re.compile(r"said (?:in )?(?P<who>[a-z-]+|[A-Z]): (?P<text>.+)")
_BEFORE = re.compile(r"(?:[A-Z]?>|<|[\w ]+:) ")
_TOGETHER = re.compile(r"(?P<who>[A-Z]) lives with (?P<text>[A-Z])")
BOTH, NEXT_TEXT, SIDES = "||", " / ", ("en", "es")
EXPECTATIONS = ("<", "said", "never", "silence", "sent", "nothing sent", "again", "kept")
_VERBS = ("after", "at", "languages", "on", "said", "never", "silence", "wait", "carrier", "undelivered", "fails",
          "agent", "kept")  # fmt: skip


class NotAScript(ValueError):
    """A line that is none of the format; named with file and line."""


@dataclass(frozen=True, slots=True)
class Step:
    line: int
    verb: str
    text: str = ""
    who: str = "A"


@dataclass(frozen=True, slots=True)
class Script:
    path: Path
    steps: tuple[Step, ...]

    @property
    def beginning(self) -> str | None:
        """Name of the script that this one begins after."""
        return next((step.text for step in self.steps if step.verb == "after"), None)

    @property
    def databases(self) -> tuple[str, ...]:
        more = [step.text for step in self.steps if step.verb == "on"]
        return ("sqlite", *more)

    @property
    def languages(self) -> tuple[str, ...]:
        return next((tuple(step.text.split()) for step in self.steps if step.verb == "languages"), ("en",))

    @property
    def never(self) -> tuple[str, ...]:
        """Fragments that no text of the whole conversation may hold."""
        first = next((n for n, step in enumerate(self.steps) if step.verb == ">"), 0)
        return tuple(step.text for step in self.steps[:first] if step.verb == "never")


def read_script(path: Path, side: int | None = None) -> Script:
    """``side``: 0 or 1 of a script in two languages, whose name then ends so."""
    lines = path.read_text(encoding="utf-8").splitlines()
    if side is not None:
        lines = [each for line in lines for each in _one_by_one(_side(line, side))]
        path = path.with_stem(f"{path.stem}_{SIDES[side]}")
    steps = [_step(path, number, line) for number, line in enumerate(lines, 1) if line.strip() and line[0] != "#"]
    if not any(step.verb in EXPECTATIONS for step in steps):
        raise NotAScript(f"{path.name}: nothing is expected of this conversation")
    return Script(path, tuple(steps))


def _side(line: str, side: int) -> str:
    """One language of a line; empty where it has nothing to say."""
    found = None if line.startswith("#") else _BEFORE.match(line)
    if found is None or BOTH not in line:
        return line
    words = line[found.end() :].split(BOTH)[side].strip()
    return f"{found.group()}{words}" if words else ""


def _one_by_one(line: str) -> list[str]:
    """The texts of a line."""
    who, sign, texts = line.partition("> ")
    if not sign or len(who) > 1 or NEXT_TEXT not in texts:
        return [line]
    return [f"{who}> {text}" for text in texts.split(NEXT_TEXT)]


def _step(path: Path, number: int, line: str) -> Step:
    line = line.rstrip()
    if found := _TEXT.fullmatch(line):
        return Step(number, ">", found["text"] or "", found["who"] or "A")
    if line.startswith("< "):
        return Step(number, "<", line[2:])
    if found := _SENT.fullmatch(line):
        return Step(number, "sent", found["text"], found["who"] or "A")
    if found := _SAID_IN.fullmatch(line):
        return Step(number, "said", found["text"], found["who"])
    if found := _TOGETHER.fullmatch(line):
        return Step(number, "lives with", found["text"], found["who"])
    if line in ("again", "nothing sent"):
        return Step(number, line)
    verb, colon, text = line.partition(": ")
    if colon and verb in _VERBS:
        return Step(number, verb, text.strip())
    raise NotAScript(f"{path.name}:{number}: {line!r}")

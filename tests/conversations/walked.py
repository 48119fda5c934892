"""Which transitions of the flows the conversations take, in English and in Spanish, and that they still do.

python -m tests.conversations.walked

``walked.json`` names for each transition that somebody's text or call takes the conversation in which it is taken. It
is made by playing all of them; each is held to what the file says of it whenever it is played (``Stage.play``; of calls
``tests.calls.test_only_by_call``). Names are the state and what it met ("order.where outside", "check.block on number
2"), so that lines of a file may move.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from guide_service.dialogue.context import Context
from guide_service.dialogue.events import EventName
from guide_service.dialogue.flow import FlowSet, Transition
from guide_service.dialogue.machine import UNANSWERED
from tests.conversations.playing import left_by
from tests.dialogue.transitions import transitions_of, whenever_taken

FILE = Path(__file__).with_name("walked.json")
FOLDER = "GUIDE_TEST_WALKED"
LANGUAGES = ("en", "es")
PLAYED = ("test_scripts.py", "test_stories.py", "test_every_language.py", "../calls/test_only_by_call.py")
NO_TEXT = (UNANSWERED - {EventName.AUTOMATIC}) | {EventName.HANDED_BACK}
"""Events of the clock and of agents."""

_DENIAL = "that there is no mold is heard only while mold is asked about; elsewhere the line keeps it from a report"
_IN_ITS_TURN = "which house a text of a phone of several names is known to its turn alone"
_DENIED = {
    "closed.signs on mould 1": "there, that there is no mold is the answer no; the line keeps it from a report",
    "welcome.new on mould 1": _DENIAL,
    "welcome.language on mould 1": _DENIAL,
    "welcome.consent on mould 1": _DENIAL,
}
NOT_BY_TEXT = {
    **_DENIED,
    "file.locked on mould 1": "takes a phone whose proof went wrong while mold was asked about",
    "anywhere start 3": "START of somebody who did not stop is heard as a greeting or as yes; a key can say it",
    "anywhere house 1": _IN_ITS_TURN,
    "anywhere house 2": _IN_ITS_TURN,
}
"""Transitions that no single text takes in the machine alone, and why. ``test_exploration`` looks for one in vain."""
NEVER_TAKEN = {
    **_DENIED,
    "stopped on *": "it meets the clock; of who said stop START, danger and a caller's wish for a person are decided",
}
"""Transitions that neither text nor call takes, and why: each is there so that nothing is ever unanswered, or answered
wrongly. All others are walked in both languages. ``test_exploration`` and ``test_walked`` see that it is so."""

Walked = set[tuple[str, str]]
"""Language and name of each transition that was taken."""


def may_come_by_text(name: str) -> bool:
    """Whether the transition of this name waits for something that a text or a call can be."""
    words = name.split()
    event = words[1] if words[0] == "anywhere" else words[2] if words[1] == "on" else ""
    return event not in NO_TEXT


@contextmanager
def walking(flows: FlowSet) -> Iterator[Walked]:
    """Notes what texts and calls take while it is open."""
    names, walked = {id(each): name for name, each in transitions_of(flows)}, set[tuple[str, str]]()

    def note(sheet: Context, transition: Transition) -> None:
        if sheet.event.name not in NO_TEXT:
            walked.add((sheet.facts.language, names[id(transition)]))

    with whenever_taken(note):
        yield walked


def settle(conversation: str, walked: Walked) -> list[str]:
    """What the file says that ``conversation`` takes and it did not; leaves what it took where it is asked for."""
    folder = os.environ.get(FOLDER)
    if folder:
        (Path(folder) / f"{conversation}.json").write_text(json.dumps(sorted(walked)), encoding="utf-8")
        return []
    return sorted(
        f"{language}: {name}"
        for language, taken in recorded().items()
        for name, by in taken.items()
        if by == conversation and (language, name) not in walked
    )


def recorded() -> dict[str, dict[str, str]]:
    """By language, each transition and the conversation that takes it."""
    return dict(json.loads(FILE.read_text(encoding="utf-8")))


def main() -> None:
    played = left_by(PLAYED, FOLDER, *sys.argv[1:], check=False)
    found: dict[str, dict[str, str]] = {language: {} for language in LANGUAGES}
    for conversation, walked in played.items():
        for language, name in walked:
            if language in found:
                found[language].setdefault(name, conversation)
    FILE.write_text(json.dumps(found, indent=0, sort_keys=True) + "\n", encoding="utf-8")
    counts = ", ".join(f"{language} {len(taken)}" for language, taken in found.items())
    sys.stdout.write(f"{len(played)} conversations take: {counts}\n")


if __name__ == "__main__":
    main()

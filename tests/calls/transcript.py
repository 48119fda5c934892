"""Writes calls out as transcripts with seconds counted, for docs/voice.md: ``python -m tests.calls.transcript``.

Seconds of speech are those of espeak-ng at ``WORDS_A_MINUTE``; a key takes ``KEY``, the first one ``THINK`` more. The
caller hears everything to its end (nobody cuts in), so these are upper bounds. ``--as-texted`` measures the same calls
with the sentences of the text messages, as they were before they got spoken variants.
"""

from __future__ import annotations

import argparse
import io
import subprocess
import sys
import tempfile
import wave
from pathlib import Path
from unittest.mock import patch

from guide_service.carrier.recording import RecordingSender
from guide_service.clock import FixedClock
from guide_service.records.migrating import migrate
from guide_service.settings import read_settings
from guide_service.wiring import Service, build_service
from guide_service.wording import voice
from guide_service.wording.catalogue import Catalogues
from tests.calls.conftest import house_with_places
from tests.calls.phone import Exchange, Phone
from tests.conftest import MONDAY_NOON, offering

WORDS_A_MINUTE = 155
"""Of the voices on a call (conversational English is 140 to 160; espeak-ng's own default is 175). Our assumption."""
KEY, THINK = 0.5, 1.5
"""[s] for a key, and until the first is pressed. Our assumption, generous for those who know the call."""
CALLS: dict[str, tuple[bool, tuple[str, ...]]] = {
    "a first call": (False, ("1", "1", "1", "1", "14", "1", "2")),
    "a full check of six places": (True, ("1", "1", "1", *("221917", "1") * 6)),
    "a call to an agent": (True, ("0",)),
}
"""Whether the house is known with six places, and the keys."""


def seconds_of(words: str) -> float:
    spoken = subprocess.run(
        ["espeak-ng", "-v", "en-us", "-s", str(WORDS_A_MINUTE), "--stdout", words], capture_output=True, check=True
    ).stdout
    with wave.open(io.BytesIO(spoken)) as sound:
        # espeak-ng writes a length of "unknown" into what it streams
        return (len(spoken) - 44) / (sound.getframerate() * sound.getsampwidth())


def fresh_service(folder: str) -> Service:
    settings = read_settings(demo=True, database_url=f"sqlite:///{folder}/calls.db")
    service = build_service(settings, clock=FixedClock(MONDAY_NOON), sender=RecordingSender())
    migrate(service.engine)
    return offering(service, "en", "es")


def played(exchange: Exchange, number: str, known: bool, keys: tuple[str, ...]) -> list[tuple[str, str, float]]:
    """(who, words or keys, seconds) of each turn."""
    if known:
        house_with_places(exchange.service, number)
    phone: Phone = exchange.call(number)
    lines = [("service", phone.says, seconds_of(phone.says))]
    for pressed in keys:
        closed = pressed + ("#" if not phone.gather.get("numDigits") else "")
        phone.key(pressed)
        lines.append(("caller", " ".join(closed), THINK + KEY * len(closed)))
        lines.append(("service", phone.says, seconds_of(phone.says)))
    return lines


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--as-texted", action="store_true")
    as_texted = parser.parse_args().as_texted
    text = Catalogues.text

    def texted(self: Catalogues, language: str, id_: str, *, spoken: bool = False, count: int | None = None) -> str:
        return text(self, language, id_, spoken=spoken and id_.startswith("call."), count=count)

    if as_texted:
        patch.object(Catalogues, "text", texted).start()
        patch.object(voice, "NOT_SAID", frozenset()).start()
    with tempfile.TemporaryDirectory() as folder:
        exchange = Exchange(fresh_service(folder))
        for at, (name, (known, keys)) in enumerate(CALLS.items()):
            write(name, played(exchange, f"+1202555013{at}", known, keys))


def write(name: str, lines: list[tuple[str, str, float]]) -> None:
    out = sys.stdout.write
    out(f"### {name}: {sum(seconds for _who, _words, seconds in lines):.0f} s\n\n")
    for who, words, seconds in lines:
        out(f"- {who} ({seconds:.1f} s): {words}\n")
    out("\n")


if __name__ == "__main__":
    assert Path("guide_service").is_dir(), "run it in the project's folder"
    main()

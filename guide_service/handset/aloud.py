"""The prompts of a practice call spoken by a synthesiser of this machine (espeak-ng), where there is one.

It is no match for the carrier's voices: it tells whether a prompt can be listened to, and how long it takes.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence

PROGRAM = "espeak-ng"
LONGEST_SECONDS = 60
"""A prompt that speaks longer is cut off."""


class NoSynthesiser(RuntimeError):
    """espeak-ng is not installed, or does not speak the language."""


def speech(words: str, language: str) -> bytes:
    """A WAV file of the words. ``language``: BCP 47, of which the first part chooses the voice.

    Raises ``NoSynthesiser``.
    """
    return _run(["--stdout"], words, language)


def speak(words: str, language: str) -> None:
    """Aloud, and until it has ended. Raises ``NoSynthesiser``; a machine without a loudspeaker stays silent."""
    _run([], words, language)


def _run(options: Sequence[str], words: str, language: str) -> bytes:
    program = shutil.which(PROGRAM)
    if program is None:
        raise NoSynthesiser(f"{PROGRAM} is not installed")
    voice = language.partition("-")[0] or "en"
    try:
        # words by the standard input: they never stand among the options
        done = subprocess.run(
            [program, "-v", voice, *options], input=words.encode(), capture_output=True, timeout=LONGEST_SECONDS,
            check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return b""
    if done.returncode and options:
        raise NoSynthesiser(done.stderr.decode("utf-8", "replace").strip() or f"no voice for {language}")
    return done.stdout

"""A second of a tone, in place of the message that the practice phone cannot record."""

from __future__ import annotations

import io
import math
import struct
import wave
from functools import cache

RATE, SECONDS, HERTZ, LOUDNESS = 8_000, 1.0, 440.0, 8_000
FADE = 400
"""Samples over which it swells and dies away, so that it does not click."""


@cache
def tone() -> bytes:
    """A WAV file."""
    last = int(RATE * SECONDS)
    samples = (
        int(LOUDNESS * min(1.0, at / FADE, (last - at) / FADE) * math.sin(2 * math.pi * HERTZ * at / RATE))
        for at in range(last)
    )
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setparams((1, 2, RATE, 0, "NONE", ""))
        sound.writeframes(b"".join(struct.pack("<h", sample) for sample in samples))
    return file.getvalue()

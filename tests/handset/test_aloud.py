"""Prompts spoken by a synthesiser of this machine: not silent, and as long as a prompt may be."""

from __future__ import annotations

import io
import shutil
import wave
from pathlib import Path

import numpy as np
import pytest

from guide_service.dialogue.saying import Say
from guide_service.handset import aloud
from guide_service.settings import FLOWS_DIR, LOCALES_DIR
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.messages import load_messages
from guide_service.wording.recordings import wrong_with
from guide_service.wording.speech import speech_of
from guide_service.wording.voice import piece

SPOKEN = ("en", "es", "fr", "vi", "ar", "zh")
needs_espeak = pytest.mark.skipif(shutil.which(aloud.PROGRAM) is None, reason="espeak-ng is not on this machine")


def seconds_and_peak(wav: bytes) -> tuple[float, float]:
    # a stream of unknown length says so in its head: what is there is what counts
    with wave.open(io.BytesIO(wav)) as file:
        rate = file.getframerate()
        samples = np.frombuffer(wav[44:], dtype="<i2").astype(float)
    return len(samples) / rate, float(np.abs(samples).max()) / 32_768


@needs_espeak
@pytest.mark.parametrize("language", SPOKEN)
def test_a_prompt_is_spoken_in_every_language_that_a_machine_speaks(language: str) -> None:
    catalogues = Catalogues.load(LOCALES_DIR, load_messages(FLOWS_DIR), [language])
    speech = speech_of(LOCALES_DIR, language)
    assert speech is not None
    said = piece(Say("call.keys"), language, catalogues).words
    seconds, peak = seconds_and_peak(aloud.speech(said, speech.says_in))
    assert 2 < seconds < 15
    assert peak > 0.05


@needs_espeak
def test_twice_the_words_take_longer_and_a_recording_made_of_it_is_in_order(tmp_path: Path) -> None:
    words = "Take your time."
    once, _ = seconds_and_peak(aloud.speech(words, "en-US"))
    twice, _ = seconds_and_peak(aloud.speech(f"{words} {words}", "en-US"))
    assert 1.5 * once < twice < 3 * once
    path = tmp_path / "call.take_time--0.wav"
    sound = np.frombuffer(aloud.speech(words, "en-US")[44:], dtype="<i2")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(22_050)
        file.writeframes(sound.tobytes())
    assert wrong_with(path, words) == ()


@needs_espeak
def test_words_are_never_taken_for_options_of_the_program() -> None:
    assert seconds_and_peak(aloud.speech("--version -f /etc/hostname", "en-US"))[0] > 1


@needs_espeak
def test_a_language_that_it_does_not_speak_is_said_to_be_so() -> None:
    with pytest.raises(aloud.NoSynthesiser):
        aloud.speech("Hello", "qq-QQ")


def test_a_machine_without_one_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(aloud.shutil, "which", lambda _name: None)
    with pytest.raises(aloud.NoSynthesiser, match="not installed"):
        aloud.speech("Hello", "en-US")

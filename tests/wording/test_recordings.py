"""Recorded voices: the list holds every piece that a call can need, and a file that would be stumbled over is found."""

from __future__ import annotations

import csv
import datetime as dt
import wave
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from guide_service.cli import app
from guide_service.dialogue.saying import Argument, Say
from guide_service.settings import FLOWS_DIR, LOCALES_DIR
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.messages import load_messages
from guide_service.wording.recorded import file_of, part_of, parts_of
from guide_service.wording.recordings import wanted, wrong_with
from guide_service.wording.template import placeholders
from guide_service.wording.voice import NOT_SAID

RATE = 8_000
ARGUMENTS: tuple[Argument, ...] = (14.5, 100, "K12", "202-555-0123", "7", dt.date(2027, 3, 31), dt.time(14, 5))


@pytest.fixture(scope="module")
def catalogues() -> Catalogues:
    return Catalogues.load(LOCALES_DIR, load_messages(FLOWS_DIR), ["ht", "ar"])


@pytest.mark.parametrize("language", ["ht", "ar"])
def test_the_list_holds_every_piece_that_any_text_can_need(catalogues: Catalogues, language: str) -> None:
    listed = {each.part for each in wanted(language, catalogues, ["Larkwater County Extension"])}
    for message in catalogues.messages.values():
        if message.printed or message.id.startswith("alarm.") or message.id in NOT_SAID | {"offer"}:
            continue
        for count in (None, 0, 1, 2, 3, 11, 100):
            names = placeholders(catalogues.text(language, message.id, spoken=True, count=count))
            for value in ARGUMENTS:
                args = dict.fromkeys(names, value) | dict.fromkeys(names & {"office"}, "Larkwater County Extension")
                needed = set(parts_of(Say(message.id, args, count=count), language, catalogues))
                assert needed <= listed, (message.id, needed - listed)


def test_each_plural_form_is_a_recording_of_its_own(catalogues: Catalogues) -> None:
    plural = next(m for m in catalogues.messages.values() if m.plural and not m.spoken)
    said = {parts_of(Say(plural.id, {}, count=count), "ar", catalogues)[0] for count in (1, 2, 3, 11)}
    different = {catalogues.text("ar", plural.id, count=count) for count in (1, 2, 3, 11)}
    assert len(said) == len(different) > 2


def test_safety_comes_first_and_no_file_has_two_texts(catalogues: Catalogues) -> None:
    every = wanted("ht", catalogues, ["Millrace"])
    safety = [each.safety for each in every]
    assert safety == sorted(safety, reverse=True)
    assert any(safety)
    assert len({each.file for each in every}) == len(every)
    assert all(part_of(file_of(each.part)) == each.part for each in every)


def tone(seconds: float, lead: float = 0.0, peak: float = 0.5) -> np.ndarray:
    at = np.arange(int(seconds * RATE)) / RATE
    return np.concatenate([np.zeros(int(lead * RATE)), peak * np.sin(2 * np.pi * 220 * at)])


def written(path: Path, sound: np.ndarray, channels: int = 1, rate: int = RATE) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes((sound * 32_767).astype("<i2").tobytes())
    return path


WORDS = "Rete deyo kay la"


@pytest.mark.parametrize(
    ("sound", "fault"),
    [
        (tone(1.2), None),
        (tone(1.2, peak=0.001), "silent"),
        (tone(1.2, peak=1.0), "too loud"),
        (tone(1.2, lead=1.5), "1.5 s of quiet"),
        (tone(0.2), "too short"),
        (tone(9.0), "too long"),
    ],
)
def test_what_a_listener_would_stumble_over(tmp_path: Path, sound: np.ndarray, fault: str | None) -> None:
    found = wrong_with(written(tmp_path / "a.wav", sound), WORDS)
    assert found == () if fault is None else fault in found[0], found


def test_what_the_carrier_could_not_play(tmp_path: Path) -> None:
    assert "one channel" in wrong_with(written(tmp_path / "two.wav", tone(2.4), channels=2), WORDS)[0]
    assert "8000 Hz" in wrong_with(written(tmp_path / "low.wav", tone(1.2), rate=4_000), WORDS)[0]
    (tmp_path / "no.wav").write_bytes(b"ID3")
    assert "not a plain WAV" in wrong_with(tmp_path / "no.wav", WORDS)[0]


def test_the_list_as_a_table_and_the_check_by_command() -> None:
    run = CliRunner()
    rows = list(csv.DictReader(run.invoke(app, ["locales", "recordings", "ht"]).stdout.splitlines()))
    assert rows[0]["safety"] == "yes"
    assert {"number--22.wav", "name--larkwater-county-extension.wav"} <= {row["file"] for row in rows}
    checked = run.invoke(app, ["locales", "recordings", "ht", "--check"])
    assert checked.exit_code == 0
    assert f"0 of {len(rows)} recorded" in checked.stdout

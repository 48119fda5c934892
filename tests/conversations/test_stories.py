"""Whole stories of eight weeks over the carrier's webhooks: from the first hour to the look back after closing.

``TOLD_STORIES=<folder> pytest tests/conversations/test_stories.py`` writes each conversation there to be read whole.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from sqlmodel import col, select

from guide_service.carrier.sender import SentText
from guide_service.database import make_engine, reading
from guide_service.records import Message
from guide_service.wiring import Service
from tests.conftest import MONDAY_NOON
from tests.conversations.script import Script, read_script
from tests.conversations.stage import Stage
from tests.turn.conftest import service_on

STORIES = [read_script(path) for path in sorted(Path(__file__).with_name("stories").glob("*.txt"))]


@dataclass
class StoryStage(Stage):
    """A stage whose carrier reports what became of every text that went out, and that notes when each went."""

    went: list[tuple[SentText, dt.datetime]] = field(default_factory=list)

    def run_worker(self) -> None:
        before = len(self.sender.sent)
        super().run_worker()
        for text in self.sender.sent[before:]:
            self.went.append((text, self.clock.at.astimezone(self.service.county.zone(None))))
            for status in ("sent", "delivered"):
                self.report(text, status)


@pytest.mark.parametrize("script", STORIES, ids=lambda script: script.path.stem)
def test_story(script: Script, wired: Service, sqlite_template: Path, tmp_path: Path) -> None:
    path = tmp_path / "guide.db"
    shutil.copyfile(sqlite_template, path)
    stage = StoryStage(service_on(wired, make_engine(f"sqlite:///{path}"), MONDAY_NOON, script.languages), script)
    try:
        stage.play()
        keeps_the_rules(stage)
    finally:
        if folder := os.environ.get("TOLD_STORIES"):
            Path(folder, f"{script.path.stem}.txt").write_text("\n".join(stage.heard) + "\n", encoding="utf-8")
        stage.service.engine.dispose()


def keeps_the_rules(stage: StoryStage) -> None:
    """What holds over a whole story, whatever was said in it."""
    assert stage.went, "eight weeks in which nothing was ever sent"
    hours = stage.service.county.hours
    late = [text.body for text, at in stage.went if not hours.quiet_before <= at.time() < hours.quiet_after]
    assert late == []
    with reading(stage.service.engine) as session:
        sent = [text.sid for text, _ in stage.went]
        rows = session.exec(select(Message).where(col(Message.carrier_sid).in_(sent))).all()
        assert [row.status for row in rows if row.status != "delivered"] == []
        assert len(rows) == len(sent)
        heard = session.exec(select(Message.outcome).where(Message.direction == "in")).all()
    assert None not in heard

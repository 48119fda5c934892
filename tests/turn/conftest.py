"""Turns without HTTP: a service on a fresh SQLite file, phones, what is stored of them."""

from __future__ import annotations

import asyncio
import datetime as dt
import shutil
import uuid
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest
from sqlalchemy import Engine
from sqlmodel import SQLModel, col, select

from guide_service.app import create_app
from guide_service.carrier.form import InboundText
from guide_service.carrier.recording import RecordingSender
from guide_service.clock import FixedClock
from guide_service.database import make_engine, reading
from guide_service.handset.carrier_side import signed, text_form
from guide_service.records import Contact, Conversation, Household, Message
from guide_service.turn import take_turn
from guide_service.turning.keeping import Answer
from guide_service.wiring import Service
from tests.people import NUMBER

WEDNESDAY = dt.datetime(2026, 5, 20, 16, tzinfo=dt.UTC)
"""Noon in Larkwater County."""


@dataclass
class Phones:
    """Everybody who texts one service."""

    service: Service

    @property
    def clock(self) -> FixedClock:
        assert isinstance(self.service.clock, FixedClock)
        return self.service.clock

    @property
    def sender(self) -> RecordingSender:
        assert isinstance(self.service.sender, RecordingSender)
        return self.service.sender

    def inbound(self, body: str, number: str = NUMBER, **more: Any) -> InboundText:
        settings = self.service.settings
        return InboundText(f"SM{uuid.uuid4().hex}", settings.account_sid, number, settings.number, body, **more)

    def say(self, body: str, number: str = NUMBER, **more: Any) -> Answer:
        return take_turn(self.service, self.inbound(body, number, **more))

    def contact(self, number: str = NUMBER) -> Contact | None:
        key = self.service.sealer.phone_key(number)
        with reading(self.service.engine) as session:
            return session.exec(select(Contact).where(Contact.phone_key == key)).first()

    def conversation(self, number: str = NUMBER) -> Conversation | None:
        contact = self.contact(number)
        if contact is None:
            return None
        mine = select(Conversation).where(Conversation.contact_id == contact.id)
        with reading(self.service.engine) as session:
            return session.exec(mine.order_by(col(Conversation.updated_at).desc())).first()

    def household(self, number: str = NUMBER) -> Household | None:
        talk = self.conversation(number)
        if talk is None:
            return None
        with reading(self.service.engine) as session:
            return session.get(Household, talk.household_id)

    def rows(self, table: type[SQLModel], *where: Any) -> list[Any]:
        with reading(self.service.engine) as session:
            return list(session.exec(select(table).where(*where).order_by(table.id)))  # type: ignore[attr-defined]

    def texts_out(self) -> list[Message]:
        return self.rows(Message, Message.direction == "out")


async def posted(phones: Phones, texts: Sequence[InboundText]) -> list[httpx.Response]:
    """Sent as the carrier sends them, all at the same instant."""
    settings = phones.service.settings
    url = f"{settings.address}/carrier/sms"
    forms = [text_form(settings, text.sender, text.body, text.sid) for text in texts]
    async with httpx.AsyncClient(transport=httpx.ASGITransport(create_app(phones.service))) as carrier:
        posts = [carrier.post(url, data=form, headers=signed(settings, url, form)) for form in forms]
        return await asyncio.gather(*posts)


def service_on(
    wired: Service, engine: Engine, at: dt.datetime = WEDNESDAY, languages: tuple[str, ...] = ("en",)
) -> Service:
    """With a number that sends as fast as it likes: its rate is kept in real time, and weeks pass here in a second."""
    hours = wired.county.hours.model_copy(update={"segments_per_second": 10_000.0})
    county = wired.county.model_copy(update={"hours": hours, "languages": languages})
    return wired.on(engine, county, clock=FixedClock(at), sender=RecordingSender())


@pytest.fixture
def phones(wired: Service, engine: Engine) -> Phones:
    """On each of the two databases."""
    return Phones(service_on(wired, engine))


@pytest.fixture
def new_phones(wired: Service, sqlite_template: Path, tmp_path: Path) -> Iterator[Callable[[], Phones]]:
    """A new service on a new SQLite file at every call."""
    made: list[Engine] = []

    def fresh() -> Phones:
        path = tmp_path / f"{len(made)}.db"
        shutil.copyfile(sqlite_template, path)
        made.append(make_engine(f"sqlite:///{path}"))
        return Phones(service_on(wired, made[-1]))

    yield fresh
    for engine in made:
        engine.dispose()

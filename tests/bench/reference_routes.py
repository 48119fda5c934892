"""Two small routes to hold the service against: what HTTP alone costs, and what one stored row costs.

``/echo`` reads the form and answers; ``/one`` checks the signature, inserts one row through the ORM, commits, answers.
The same framework, server, driver and durability settings as the service (WAL with ``synchronous=normal`` on SQLite,
the server's own settings on PostgreSQL). Settings: GUIDE_REFERENCE_URL (the database) and GUIDE_REFERENCE_TOKEN.
"""

from __future__ import annotations

import datetime as dt
import os
import uuid
from typing import Any

from fastapi import FastAPI, Request, Response
from fastapi.concurrency import run_in_threadpool
from sqlalchemy import Engine, event
from sqlmodel import Field, Session, SQLModel, create_engine
from starlette.datastructures import FormData
from twilio.request_validator import RequestValidator

ANSWER = '<?xml version="1.0" encoding="UTF-8"?><Response><Message>noted</Message></Response>'


class NotedText(SQLModel, table=True):
    """The row that is inserted: key, unique id, sender, words, time."""

    __tablename__ = "reference_text"
    id: int | None = Field(default=None, primary_key=True)
    sid: str = Field(index=True, unique=True)
    sender: str
    body: str
    at: dt.datetime


def _engine(url: str) -> Engine:
    if not url.startswith("sqlite"):
        return create_engine(url, pool_size=20)
    engine = create_engine(url, connect_args={"check_same_thread": False})
    event.listen(engine, "connect", _as_durable_as_the_service)
    return engine


def _as_durable_as_the_service(connection: Any, _record: Any) -> None:
    for pragma in ("journal_mode=wal", "synchronous=normal", "busy_timeout=5000"):
        connection.execute(f"pragma {pragma}")


def create_app() -> FastAPI:
    engine = _engine(os.environ["GUIDE_REFERENCE_URL"])
    SQLModel.metadata.tables["reference_text"].create(engine, checkfirst=True)
    validator = RequestValidator(os.environ["GUIDE_REFERENCE_TOKEN"])
    app = FastAPI()

    def note(form: FormData) -> None:
        row = NotedText(sid=uuid.uuid4().hex, sender=form["From"], body=form["Body"], at=dt.datetime.now(dt.UTC))
        with Session(engine) as session:
            session.add(row)
            session.commit()

    @app.post("/echo")
    async def echo(request: Request) -> Response:
        await request.form()
        return Response(ANSWER, media_type="application/xml")

    @app.post("/one")
    async def one(request: Request) -> Response:
        form = await request.form()
        validator.validate(str(request.url), form, request.headers.get("X-Twilio-Signature", ""))
        await run_in_threadpool(note, form)
        return Response(ANSWER, media_type="application/xml")

    return app

"""The database server ends every connection between two texts: the second is answered as if nothing had happened."""

from __future__ import annotations

import asyncio

import pytest
from sqlalchemy import Engine, text

from guide_service.database import make_engine
from guide_service.wiring import Service
from tests.turn.conftest import Phones, posted, service_on

NUMBER = "+12025550177"
END_OTHERS = text("select pg_terminate_backend(pid) from pg_stat_activity where datname = current_database() "
                  "and pid <> pg_backend_pid()")  # fmt: skip


@pytest.fixture
def phones_on_postgres(wired: Service, postgres_engine: Engine) -> Phones:
    return Phones(service_on(wired, postgres_engine))


def end_connections_of(engine: Engine) -> None:
    another = make_engine(engine.url.render_as_string(hide_password=False))
    with another.begin() as connection:
        ended = connection.execute(END_OTHERS).all()
    another.dispose()
    assert ended, "there was no connection to end"


def test_a_turn_begins_on_a_new_connection(phones_on_postgres: Phones) -> None:
    phones = phones_on_postgres
    first = phones.say("hello", NUMBER)
    end_connections_of(phones.service.engine)
    second = phones.say("hello", NUMBER)
    assert first.texts
    assert second.texts
    assert "went wrong" not in " ".join(body for _, body in second.texts)
    contact = phones.contact(NUMBER)
    assert contact is not None
    assert phones.conversation(NUMBER) is not None


def test_a_turn_on_the_event_loop_does_too(phones_on_postgres: Phones) -> None:
    phones = phones_on_postgres
    first = phones.say("hello", NUMBER)
    end_connections_of(phones.service.engine)
    answers = asyncio.run(posted(phones, [phones.inbound("hello", NUMBER) for _ in range(3)]))
    assert first.texts
    assert [answer.status_code for answer in answers] == [200] * 3
    assert not any("went wrong" in answer.text for answer in answers)
    assert len(phones.texts_out()) >= 4

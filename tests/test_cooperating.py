"""Functions on the event loop: while one waits for the server, others go on; what they raise comes out."""

from __future__ import annotations

import asyncio

import pytest
from sqlalchemy import Engine, text

from guide_service.cooperating import on_the_loop

TAKE, LEAVE = text("select pg_advisory_lock(4711)"), text("select pg_advisory_unlock(4711)")
SLEEP = text("select pg_sleep(60)")
WITHIN = 30.0


def test_the_loop_goes_on_while_a_function_waits_for_the_server(postgres_engine: Engine) -> None:
    told = []

    def wait_for_it() -> str:
        with postgres_engine.connect() as connection:
            told.append("asks")
            connection.execute(TAKE)
            told.append("has it")
            connection.execute(LEAVE)
        return "done"

    async def both() -> str:
        with postgres_engine.connect() as other:
            other.execute(TAKE)
            asking = asyncio.create_task(on_the_loop(wait_for_it))
            while not told:
                await asyncio.sleep(0)
            told.append("it is left")
            other.execute(LEAVE)
        return await asking

    assert asyncio.run(asyncio.wait_for(both(), WITHIN)) == "done"
    assert told == ["asks", "it is left", "has it"]


def test_what_it_raises_comes_out_and_what_it_is_given_goes_in(postgres_engine: Engine) -> None:
    def divide(by: int, *, what: int) -> int:
        with postgres_engine.connect() as connection:
            connection.execute(text("select 1"))
        return what // by

    assert asyncio.run(on_the_loop(divide, 2, what=9)) == 4
    with pytest.raises(ZeroDivisionError):
        asyncio.run(on_the_loop(divide, 0, what=9))


def test_one_that_is_given_up_leaves_nothing_behind(postgres_engine: Engine) -> None:
    """Its connection is not used again: what it sent may still be at work at the server."""

    def sleep() -> None:
        with postgres_engine.connect() as connection:
            connection.execute(SLEEP)

    async def give_up() -> None:
        asleep = asyncio.create_task(on_the_loop(sleep))
        await asyncio.sleep(0.2)
        asleep.cancel()
        await asleep

    with pytest.raises(asyncio.CancelledError):
        asyncio.run(asyncio.wait_for(give_up(), WITHIN))
    with postgres_engine.connect() as connection:
        assert connection.execute(text("select 7")).scalar() == 7
    assert postgres_engine.pool.checkedout() == 0  # type: ignore[attr-defined]


def test_outside_the_loop_a_connection_waits_as_always(postgres_engine: Engine) -> None:
    async def plainly() -> int:
        with postgres_engine.connect() as connection:
            return int(connection.execute(text("select 5")).scalar_one())

    assert asyncio.run(plainly()) == 5

"""No faster than the number may send, with any number of workers."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
from sqlalchemy import Engine

from guide_service.database import writing
from guide_service.followup.send_rate import LONGEST_BOOKING, book, hold

NUMBER = "+12025550100"
NOW = dt.datetime(2027, 3, 15, 16, 0, tzinfo=dt.UTC)


def booked(engine: Engine, segments: int, after: float = 0.0, rate: float = 1.0) -> tuple[float, bool]:
    with writing(engine) as session:
        return book(session, NUMBER, segments, rate, NOW + dt.timedelta(seconds=after))


def test_the_first_goes_at_once_and_each_next_waits_for_the_one_before(engine: Engine) -> None:
    assert booked(engine, 1) == (0.0, True)
    assert booked(engine, 2) == (0.0, True)
    assert booked(engine, 1) == (2.0, True)
    assert booked(engine, 1) == (3.0, True)
    assert booked(engine, 1, after=2.0) == (2.0, True)


def test_who_would_wait_too_long_books_nothing(engine: Engine) -> None:
    booked(engine, 1)
    booked(engine, 6)
    wait, taken = booked(engine, 1)
    assert (wait, taken) == (6.0, False)
    assert booked(engine, 1, after=6.0) == (0.0, True)


def test_idle_time_saves_up_no_more_than_a_second(engine: Engine) -> None:
    booked(engine, 1, rate=10)
    assert [booked(engine, 5, after=3600, rate=10)[0] for _ in range(4)] == [0.0, 0.0, 0.0, 0.5]


def test_a_held_queue_waits_and_goes_on_afterwards(engine: Engine) -> None:
    with writing(engine) as session:
        hold(session, NUMBER, 1.0, NOW, 900)
    assert booked(engine, 1) == (900.0, False)
    assert booked(engine, 1, after=897) == (3.0, True)
    assert booked(engine, 1, after=901)[1]


def test_a_shorter_hold_does_not_end_a_longer_one(engine: Engine) -> None:
    with writing(engine) as session:
        hold(session, NUMBER, 1.0, NOW, 900)
        hold(session, NUMBER, 1.0, NOW, 5)
    assert booked(engine, 1) == (900.0, False)


@pytest.mark.parametrize("rate", [1.0, 4.0])
def test_many_workers_together_keep_to_the_rate(engine: Engine, rate: float) -> None:
    waits: list[float] = []

    def worker() -> None:
        for _ in range(4):
            wait, taken = booked(engine, 1, rate=rate)
            if taken:
                waits.append(wait)

    threads = [threading.Thread(target=worker) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for second in range(int(LONGEST_BOOKING) + 1):
        assert len([wait for wait in waits if second <= wait < second + 1]) <= 2 * rate + 1
    assert len(waits) >= min(16, LONGEST_BOOKING * rate)

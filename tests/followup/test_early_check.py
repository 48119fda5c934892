"""Readings that arrive while their reminder still waits to be sent: the reminder is not sent any more."""

from __future__ import annotations

import datetime as dt

from guide_service.carrier.form import InboundText
from guide_service.carrier.recording import RecordingSender
from guide_service.records import Message
from guide_service.turn import take_turn
from guide_service.wiring import Service
from tests.kill.talks import BEGINNING, DAYS
from tests.people import NUMBER, live_jobs, rows, work


def say(service: Service, *texts: str) -> None:
    for text in texts:
        sid = f"SM{len(rows(service, Message))}"
        take_turn(service, InboundText(sid, service.settings.account_sid, NUMBER, service.settings.number, text))


def reminder_waits(service: Service) -> None:
    """The check has fallen due, and the text about it stands in line."""
    service.clock.at = DAYS[0].begins()
    say(service, *BEGINNING)
    (check,) = [job for job in live_jobs(service) if job.kind == "check_due"]
    service.clock.at = check.run_at
    work(service, at_most=1)
    assert [message.status for message in rows(service, Message, Message.origin == "started")] == ["waiting"]


def test_a_check_done_meanwhile_takes_the_reminder_back(service: Service, sender: RecordingSender) -> None:
    reminder_waits(service)
    say(service, "K1 21 19 17, K2 20 18 17", "wood setting, pins")
    work(service)
    assert sender.sent == []
    kinds = {job.kind: job.run_at for job in live_jobs(service)}
    assert set(kinds) == {"check_due"}
    assert kinds["check_due"] > service.clock.now() + dt.timedelta(days=2)


def test_a_question_meanwhile_does_not(service: Service, sender: RecordingSender) -> None:
    reminder_waits(service)
    say(service, "help")
    work(service)
    assert len(sender.sent) == 1

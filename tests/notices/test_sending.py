"""A notice on its way: every phone once, whatever dies or stops or opts out meanwhile, and behind everything else."""

from __future__ import annotations

import datetime as dt
import threading
import time
from collections import Counter
from collections.abc import Callable

import pytest
from sqlalchemy import update
from sqlmodel import select

from guide_service.carrier.form import StatusReport
from guide_service.carrier.recording import RecordingSender
from guide_service.carrier.sender import Ambiguous
from guide_service.database import reading, writing
from guide_service.followup import retention, silent_replies
from guide_service.followup.delivery_reports import apply_status
from guide_service.followup.send_rate import LONGEST_BOOKING_OF_MANY
from guide_service.followup.worker import Worker
from guide_service.notices import deciding, handing_over
from guide_service.notices.progress import counted_as
from guide_service.outbox import cancel_texts_to
from guide_service.records import Contact, Household, Job, Message, Notice, NoticeRecipient, SendBucket
from guide_service.wiring import Service
from tests.notices.crowd import add_homes, counts, decide, draft, go_on, night, start, stored, with_rules
from tests.people import OTHER_NUMBER, add_person, change, live_jobs, row, rows, sms, work
from tests.people import start as start_one

BODY = "Larkwater County Extension: The office is open on Saturday.\nText STOP to end."


def test_everybody_gets_it_once_and_it_stands_in_each_conversation(service: Service, sender: RecordingSender) -> None:
    service = with_rules(service)
    add_homes(service, 60)
    notice = draft(service)
    start(service, notice)
    go_on(service, 5)
    assert Counter(text.body for text in sender.sent) == {BODY: 60}
    assert len({text.to for text in sender.sent}) == 60
    assert counts(service, notice) == {"sent": 60}
    assert stored(service, notice).state == "done"
    texts = rows(service, Message)
    assert {(text.origin, text.language) for text in texts} == {("many", "en")}
    assert {text.household_id for text in texts} == {home.id for home in rows(service, Household)}


def test_the_list_is_made_in_slices(service: Service, monkeypatch: pytest.MonkeyPatch, sender: RecordingSender) -> None:
    monkeypatch.setattr(handing_over, "ROWS_AT_ONCE", 7)
    service = with_rules(service)
    add_homes(service, 21)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=1)
    assert (len(rows(service, NoticeRecipient)), stored(service, notice).listed_at) == (7, None)
    go_on(service, 5)
    assert len(sender.sent) == 21


class Killed(BaseException):
    pass


@pytest.mark.parametrize("dies_at", ["list", "hand over", "after it was handed over"])
def test_a_worker_that_dies_midway_leaves_nothing_out_and_doubles_nothing(
    service: Service, sender: RecordingSender, monkeypatch: pytest.MonkeyPatch, dies_at: str
) -> None:
    monkeypatch.setattr(handing_over, "ROWS_AT_ONCE", 5)
    service = with_rules(service, rate=1.0)
    add_homes(service, 12)
    notice = draft(service)
    start(service, notice)
    where = {"list": "_recipient", "hand over": "_text", "after it was handed over": "_next_run"}[dies_at]
    honest, calls = getattr(handing_over, where), []

    def dying(*given: object) -> object:
        calls.append(1)
        if len(calls) == (1 if where == "_next_run" else 3):
            raise Killed
        return honest(*given)

    monkeypatch.setattr(handing_over, where, dying)
    deaths = 0
    for _ in range(60):
        full_again(service)
        try:
            go_on(service, 1, seconds=5)
        except Killed:
            deaths += 1
            end_leases(service)
    assert deaths == 1
    assert len(sender.sent) == 12
    assert len({text.to for text in sender.sent}) == 12
    assert counts(service, notice) == {"sent": 12}


def end_leases(service: Service) -> None:
    with writing(service.engine) as session:
        session.execute(update(Job).values(lease_until=dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)))


def full_again(service: Service) -> None:
    """The bucket of the sending number goes by real time: as if a minute had passed."""
    with writing(service.engine) as session:
        session.execute(update(SendBucket).values(filled_at=dt.datetime.now(dt.UTC) - dt.timedelta(minutes=1)))


def test_only_a_few_texts_at_once_stand_in_the_outbox(service: Service) -> None:
    service = with_rules(service, rate=1.0)
    add_homes(service, 200)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=2)
    assert len([job for job in live_jobs(service) if job.kind == "send_many"]) == 10
    assert counts(service, notice)["queued"] == 200


def test_stopped_midway_what_is_not_on_its_way_stays_unsent(service: Service, sender: RecordingSender) -> None:
    service = with_rules(service, rate=1.0)
    add_homes(service, 50)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=5)
    out = len(sender.sent)
    assert 0 < out < 10
    assert decide(service, notice, deciding.stop) is None
    assert counts(service, notice) == {"sent": out, "stopped": 50 - out}
    assert [job.kind for job in live_jobs(service) if job.kind in ("notice", "send_many")] == []
    full_again(service)
    go_on(service, 10)
    assert len(sender.sent) == out
    assert decide(service, notice, deciding.stop) == deciding.Refused.GONE
    assert Counter(text.status for text in rows(service, Message))["waiting"] == 0


def test_stopped_before_the_list_is_made_nobody_is_texted(service: Service, sender: RecordingSender) -> None:
    add_homes(service, 5)
    notice = draft(service)
    start(service, notice)
    decide(service, notice, deciding.stop)
    go_on(service, 5)
    assert sender.sent == []


def test_whoever_opts_out_between_queueing_and_sending_gets_nothing(service: Service, sender: RecordingSender) -> None:
    service = with_rules(service, rate=0.1)
    people = add_homes(service, 6)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=2)
    handed = [each.contact_id for each in rows(service, NoticeRecipient) if each.state == "handed"]
    assert len(handed) == 2
    in_line = next(person for person in people if person not in handed)
    for person in (handed[0], in_line):
        with writing(service.engine) as session:
            session.get_one(Contact, person).opted_out_at = service.clock.now()
            cancel_texts_to(session, person)
    assert counts(service, notice)["opted_out"] == 1
    for _ in range(30):
        full_again(service)
        go_on(service, 1, seconds=20)
    assert counts(service, notice) == {"sent": 4, "opted_out": 2}
    assert len(sender.sent) == 4


def test_a_phone_that_is_gone_meanwhile_is_passed_over(service: Service, sender: RecordingSender) -> None:
    service = with_rules(service)
    first, _second, third = add_homes(service, 3)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=1)
    change(service, Contact, first, undeliverable="30006")
    change(service, Contact, third, consented_at=None)
    go_on(service, 3)
    assert counts(service, notice) == {"sent": 1, "left": 2}
    assert len(sender.sent) == 1


def test_in_quiet_hours_everything_is_held_and_goes_out_in_the_morning(
    service: Service, sender: RecordingSender
) -> None:
    service = with_rules(service)
    night(service)
    add_homes(service, 5)
    change(service, Contact, rows(service, Contact)[0].id, last_heard_at=service.clock.now())
    notice = draft(service)
    start(service, notice)
    go_on(service, 5)
    assert sender.sent == [], "not even to somebody who wrote just now"
    assert counts(service, notice) == {"held": 5}
    (job,) = [job for job in live_jobs(service) if job.kind == "notice"]
    assert job.run_at.astimezone(service.county.zone(None)).time() == dt.time(8)
    service.clock.at = job.run_at
    go_on(service, 5)
    assert counts(service, notice) == {"sent": 5}


def test_areas_that_are_awake_do_not_wait_for_those_that_sleep(service: Service, sender: RecordingSender) -> None:
    areas = [
        area.model_copy(update={"time_zone": "Pacific/Honolulu"}) if area.id == "upper_larkwater" else area
        for area in service.county.areas
    ]
    service = with_rules(service)
    service = service.with_county(service.county.model_copy(update={"areas": tuple(areas)}))
    add_homes(service, 3, area="upper_larkwater")
    add_homes(service, 2, first=10)
    notice = draft(service)
    start(service, notice)
    go_on(service, 5)
    assert counts(service, notice) == {"sent": 2, "held": 3}


def test_people_without_a_version_have_their_row_and_no_text(service: Service, sender: RecordingSender) -> None:
    service = with_rules(service)
    add_homes(service, 2)
    add_homes(service, 3, first=10, language="vi")
    notice = draft(service)
    start(service, notice)
    go_on(service, 3)
    assert counts(service, notice) == {"sent": 2, "no_text": 3}


def test_everything_else_goes_first(service: Service, sender: RecordingSender) -> None:
    service = with_rules(service)
    add_homes(service, 30)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=2)
    service.clock.advance(minutes=1)
    contact, household = add_person(service)
    start_one(service, contact, household)
    start_one(service, contact, household, origin="alarm")
    work(service, at_most=2)
    assert [text.to for text in sender.sent] == ["+12025550123"] * 2


def test_no_worker_waits_long_with_a_text_of_a_notice_in_hand(service: Service, sender: RecordingSender) -> None:
    service = with_rules(service, rate=0.5)
    add_homes(service, 4)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=20)
    assert len(sender.sent) == 2, "the third would wait two seconds: it is put off, and the worker is free"
    with reading(service.engine) as session:
        bucket = session.exec(select(SendBucket)).one()
    assert -bucket.available / 0.5 <= LONGEST_BOOKING_OF_MANY + 2


def test_reports_of_the_carrier_move_the_count_and_a_second_try_is_followed(
    service: Service, sender: RecordingSender
) -> None:
    service = with_rules(service)
    add_homes(service, 4)
    notice = draft(service)
    start(service, notice)
    go_on(service, 3)
    first, second, third, _fourth = rows(service, Message)
    for message, status, code in ((first, "delivered", None), (second, "undelivered", 30006), (third, "failed", 30003)):
        apply_status(service, StatusReport(message.carrier_sid, status, code, None))
    assert counts(service, notice) == {"delivered": 1, "failed": 1, "sent": 1, "queued": 1}
    again = rows(service, Message)[-1]
    assert (again.origin, again.status) == ("many", "waiting")
    followed = [each.message_id for each in rows(service, NoticeRecipient)]
    assert again.id in followed
    assert third.id not in followed


def test_the_words_are_those_that_were_started(service: Service, sender: RecordingSender) -> None:
    add_homes(service, 1)
    notice = draft(service)
    start(service, notice)
    change(service, Notice, notice, own={"en": "Something else"})
    go_on(service, 3)
    assert [text.body for text in sender.sent] == [BODY]


def test_every_row_is_counted_under_one_word() -> None:
    assert counted_as("handed", False, "canceled", True) == "opted_out"
    assert counted_as("handed", False, "canceled", False) == "failed"
    assert counted_as("handed", False, "canceled", False, stopped=True) == "stopped"
    assert counted_as("handed", True, "waiting", False) == "held"
    assert counted_as("handed", False, "read", False) == "delivered"
    assert counted_as("handed", False, None, False) == "sent", "its text has been forgotten by now"
    assert counted_as("stopped", True, None, True) == "stopped"


def test_a_text_that_waits_for_the_morning_is_not_taken_for_one_taken_back(service: Service) -> None:
    """The sweep marks texts without a live job: those of notices have a job of their own kind."""
    service = with_rules(service, rate=0.1)
    add_homes(service, 2)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=2)
    message = rows(service, Message)[0]
    with writing(service.engine) as session:
        silent_replies._mark_taken_back(session, 0, message.id)
    assert row(service, Message, message.id).status == "waiting"


def test_recipients_are_forgotten_with_their_texts(service: Service) -> None:
    service = with_rules(service)
    add_homes(service, 2)
    notice = draft(service)
    start(service, notice)
    go_on(service, 3, seconds=5)
    with writing(service.engine) as session:
        assert retention.forget_recipients(session, service) == 0
    service.clock.advance(days=service.county.retention.carrier_row_days + 1)
    with writing(service.engine) as session:
        assert retention.forget_recipients(session, service) == 2


def test_with_all_of_it_in_the_outbox_it_is_not_done_and_can_be_stopped(
    service: Service, sender: RecordingSender
) -> None:
    service = with_rules(service, rate=1.0)
    add_homes(service, 8)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=2)
    assert [each.state for each in rows(service, NoticeRecipient)] == ["handed"] * 8
    work(service, at_most=2)
    out = len(sender.sent)
    assert 0 < out < 8
    assert stored(service, notice).state == "sending"
    assert decide(service, notice, deciding.stop) is None
    for _ in range(5):
        full_again(service)
        go_on(service, 2, seconds=10)
    assert len(sender.sent) == out
    assert counts(service, notice) == {"sent": out, "stopped": 8 - out}


def test_it_is_done_when_the_carrier_has_the_last(service: Service, sender: RecordingSender) -> None:
    service = with_rules(service, rate=1.0)
    add_homes(service, 4)
    notice = draft(service)
    start(service, notice)
    seen = []
    for _ in range(10):
        full_again(service)
        seen.append((stored(service, notice).state, len(sender.sent) == 4))
        go_on(service, 1, seconds=5)
    assert ("done", False) not in seen
    assert stored(service, notice).state == "done"


def test_a_text_that_waits_in_a_workers_hand_is_stopped_before_the_carrier_hears_of_it(
    service: Service, sender: RecordingSender
) -> None:
    service = with_rules(service, rate=1.5)
    add_homes(service, 6)
    notice = draft(service)
    start(service, notice)
    pauses = _DuringThePause(lambda: decide(service, notice, deciding.stop))
    worker = Worker(service, "w1", pauses)  # type: ignore[arg-type]
    while worker.work_once():
        pass
    assert pauses.happened
    out = len(sender.sent)
    assert counts(service, notice) == {"sent": out, "stopped": 6 - out}
    assert out < 3


def test_who_says_stop_while_the_text_waits_in_a_workers_hand_gets_nothing(
    service: Service, sender: RecordingSender
) -> None:
    service = with_rules(service, rate=1.0)
    contact, household = add_person(service)
    start_one(service, contact, household, sms(), sms())
    second, its_house = add_person(service, OTHER_NUMBER)
    start_one(service, second, its_house)

    def opts_out() -> None:
        with writing(service.engine) as session:
            session.get_one(Contact, second).opted_out_at = service.clock.now()
            cancel_texts_to(session, second)

    worker = Worker(service, "w1", _DuringThePause(opts_out))  # type: ignore[arg-type]
    while worker.work_once():
        pass
    assert len(sender.sent) == 2
    assert [text.status for text in rows(service, Message)] == ["queued", "queued", "canceled"]


class _DuringThePause:
    """Stands for the event that stops a worker: something happens while it waits for the number to be free."""

    def __init__(self, happens: Callable[[], object]) -> None:
        self.happens, self.happened = happens, False

    def wait(self, seconds: float) -> bool:
        if seconds and not self.happened:
            self.happened = True
            self.happens()
        return False

    def is_set(self) -> bool:
        return False


def test_a_text_whose_answer_was_lost_goes_out_no_more_after_the_stop(
    service: Service, sender: RecordingSender
) -> None:
    service = with_rules(service)
    add_homes(service, 2)
    notice = draft(service)
    start(service, notice)
    sender._outcomes = [Ambiguous("ReadTimeout")]
    honest, sender._keep = sender._keep, lambda _text: None  # the carrier never had it
    work(service, at_most=3)
    sender._keep = honest
    tried = len(sender.sent)
    assert decide(service, notice, deciding.stop) is None
    for _ in range(4):
        go_on(service, 1, seconds=60)
    assert len(sender.sent) == tried
    assert counts(service, notice) == {"stopped": 2}


def test_a_second_try_of_a_notice_that_is_done_can_be_stopped(service: Service, sender: RecordingSender) -> None:
    service = with_rules(service)
    add_homes(service, 1)
    notice = draft(service)
    start(service, notice)
    go_on(service, 5, seconds=6)
    assert stored(service, notice).state == "done"
    assert decide(service, notice, deciding.stop) == deciding.Refused.GONE
    (message,) = rows(service, Message)
    apply_status(service, StatusReport(message.carrier_sid, "undelivered", 30003, None))
    assert counts(service, notice) == {"queued": 1}
    assert decide(service, notice, deciding.stop) is None
    go_on(service, 20, seconds=3_600)
    assert len(sender.sent) == 1
    assert counts(service, notice) == {"stopped": 1}


@pytest.mark.parametrize("after", [0.0, 0.02, 0.05, 0.1])
def test_workers_and_a_stop_at_the_same_moment(service: Service, sender: RecordingSender, after: float) -> None:
    """Whatever is sent is counted as sent, and once the stop has been said no worker begins another text."""
    service = with_rules(service)
    add_homes(service, 40)
    notice = draft(service)
    start(service, notice)
    work(service, at_most=2)
    over = threading.Event()
    workers = [threading.Thread(target=_works, args=(service, f"w{number}", over)) for number in range(3)]
    for worker in workers:
        worker.start()
    time.sleep(after)
    assert decide(service, notice, deciding.stop) is None
    said = len(sender.sent)
    time.sleep(0.2)
    over.set()
    for worker in workers:
        worker.join()
    out = len(sender.sent)
    assert out - said <= len(workers), "what each had in hand"
    assert {name: count for name, count in counts(service, notice).items() if name != "stopped"} == (
        {"sent": out} if out else {}
    )
    assert sum(counts(service, notice).values()) == 40


def _works(service: Service, name: str, over: threading.Event) -> None:
    worker = Worker(service, name, over)
    while not over.is_set():
        worker.work_once()

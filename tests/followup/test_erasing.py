"""What the carrier keeps for us goes with what we keep of it, as often as it takes."""

from __future__ import annotations

import datetime as dt

import pytest

from guide_service import jobs
from guide_service.carrier.kept import API, NotToBeHad
from guide_service.carrier.recording import RecordingSender
from guide_service.database import writing
from guide_service.deletion.removing import remove_file
from guide_service.followup import erasing
from guide_service.records import Household, Job, Message
from guide_service.wiring import Service
from tests.people import add_person, live_jobs, rows, work

WORD = f"Recordings/RE{'1' * 32}"
PICTURE = f"Messages/MM{'2' * 32}/Media/ME{'3' * 32}"


def kept_text(service: Service, days_old: int = 0, **values: object) -> tuple[int, int]:
    """A household whose phone left word and sent a picture."""
    contact_id, household_id = add_person(service)
    account = f"{API}/{service.settings.account_sid}"
    media = [{"url": f"{account}/{WORD}", "type": "audio/mpeg"}, {"url": f"{account}/{PICTURE}", "type": "image/jpeg"}]
    media.append({"url": "https://pictures.example/1", "type": "image/jpeg"})
    with writing(service.engine) as session:
        at = service.clock.now() - dt.timedelta(days=days_old)
        row = Message(contact_id=contact_id, household_id=household_id, direction="in", origin="person", body="look",
                      at=at, media=media, **values)  # fmt: skip
        session.add(row)
    return contact_id, household_id


def erase_jobs(service: Service) -> list[Job]:
    return [job for job in live_jobs(service) if job.kind == erasing.KIND]


def test_with_the_link_goes_what_it_led_to(service: Service, sender: RecordingSender) -> None:
    kept_text(service, days_old=91)
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, "retention", key="retention", payload={}, run_at=now, now=now)
    work(service)
    assert [message.media for message in rows(service, Message)] == [None]
    assert sorted(sender.erased) == sorted([WORD, PICTURE])


def test_younger_ones_stay(service: Service, sender: RecordingSender) -> None:
    kept_text(service, days_old=89)
    with writing(service.engine) as session:
        now = service.clock.now()
        jobs.enqueue(session, "retention", key="retention", payload={}, run_at=now, now=now)
    work(service)
    assert sender.erased == []


def test_with_a_file_go_its_recordings_pictures_and_the_carriers_rows_of_its_texts(
    service: Service, sender: RecordingSender
) -> None:
    sid = f"SM{'4' * 32}"
    _, household_id = kept_text(service, carrier_sid=sid)
    with writing(service.engine) as session:
        remove_file(session, service, session.get_one(Household, household_id), keep_readings=False)
    assert sender.erased == [], "not before the file is gone for certain"
    work(service)
    assert sorted(sender.erased) == sorted([WORD, PICTURE, f"Messages/{sid}"])


def test_a_file_that_stays_after_all_loses_nothing(service: Service, sender: RecordingSender) -> None:
    _, household_id = kept_text(service)

    def interrupted() -> None:
        with writing(service.engine) as session:
            remove_file(session, service, session.get_one(Household, household_id), keep_readings=False)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        interrupted()
    work(service)
    assert sender.erased == []


def test_a_carrier_that_does_not_answer_is_asked_again_and_then_left_to_the_operator(
    service: Service, sender: RecordingSender, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept_text(service, days_old=91)
    asked: list[str] = []

    def silent(resource: str) -> None:
        asked.append(resource)
        raise NotToBeHad("HTTP 500")

    monkeypatch.setattr(sender, "erase", silent)
    monkeypatch.setattr(erasing, "MOST_TRIES", 3)
    with writing(service.engine) as session:
        erasing.erase_media(session, service, [[{"url": f"{API}/{service.settings.account_sid}/{WORD}"}]])
    for _ in range(2):
        work(service)
        assert len(erase_jobs(service)) == 1
        service.clock.advance(hours=7)  # type: ignore[attr-defined]
    assert asked == [WORD] * 2
    work(service, at_most=1)
    (job,) = [job for job in rows(service, Job) if job.kind == erasing.KIND and job.state != "done"]
    assert job.attempts == 1, "it fails now, and ends among the dead"
    assert len(asked) == 3

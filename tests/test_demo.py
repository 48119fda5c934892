"""The demo's county: lived through turns, kept by a second start, forgotten only when asked, never anybody else's."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import col, func, select

from guide_service.database import make_engine, reading, writing
from guide_service.demo import PASSWORD, prepare
from guide_service.demo_cast import CAST
from guide_service.records import (
    Agent,
    Check,
    Contact,
    Conversation,
    DemoClock,
    Escalation,
    HandsetText,
    Household,
    Loan,
    Message,
)
from guide_service.records.migrating import migrate
from guide_service.settings import Settings, SettingsError, read_settings
from guide_service.wiring import Service


def demo_settings(path: Path) -> Settings:
    return read_settings(demo=True, database_url=f"sqlite:///{path}/larkwater.db")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo") / "made" / "here"


@pytest.fixture(scope="module")
def demo(place: Path) -> Iterator[Service]:
    service = prepare(demo_settings(place))
    yield service
    service.engine.dispose()


def count(service: Service, table: type, *conditions: object) -> int:
    with reading(service.engine) as session:
        return session.exec(select(func.count()).select_from(table).where(*conditions)).one()  # type: ignore[arg-type]


def test_a_dozen_households_stand_at_different_stages(demo: Service) -> None:
    assert count(demo, Household) == len(CAST) >= 12
    with reading(demo.engine) as session:
        bands = set(session.exec(select(Household.band)))
        states = set(session.exec(select(Conversation.state)))
        reasons = set(session.exec(select(Escalation.reason)))
        said = session.exec(select(Message.texts)).all()
    assert bands == {"wet", "caution", "dry", "unread"}
    assert {"welcome.consent", "places.which", "stopped"} <= states
    assert {"mould", "stalled", "person", "lost_from_sight", "meter_wanted", "meter_overdue", "danger"} <= reasons
    assert count(demo, Contact, col(Contact.opted_out_at).is_not(None)) == 1
    assert any("ready.wall" in (ids or []) for ids in said)


def test_of_three_loans_one_is_due_soon_one_overdue_and_one_back(demo: Service) -> None:
    today = demo.clock.now().astimezone(demo.county.zone(None)).date()
    with reading(demo.engine) as session:
        loans = {(loan.meter, loan.returned_on is None): loan for loan in session.exec(select(Loan))}
        checks = set(session.exec(select(Check.meter).where(Check.household_id == loans["A5", True].household_id)))
    assert set(loans) == {("A3", True), ("A4", False), ("A5", True)}
    assert 0 < (loans["A5", True].due_on - today).days <= 3
    assert loans["A3", True].days_overdue(today) > demo.county.loans.person_after
    assert loans["A3", True].reminders == 2
    assert checks == {"A5"}, "what it measures is measured with the meter that it was lent"


def test_history_covers_weeks_and_ends_at_the_present(demo: Service) -> None:
    with reading(demo.engine) as session:
        first, last = session.exec(select(func.min(Message.at), func.max(Message.at))).one()
    assert last - first > dt.timedelta(weeks=6)
    assert dt.timedelta(0) <= dt.datetime.now(dt.UTC) - last < dt.timedelta(days=1)
    assert abs(demo.clock.now() - dt.datetime.now(dt.UTC)) < dt.timedelta(seconds=5)


def test_every_text_has_one_outcome_and_no_turn_failed(demo: Service) -> None:
    assert count(demo, Message, Message.direction == "in", col(Message.outcome).is_(None)) == 0
    assert count(demo, Message, Message.outcome_reason == "failure") == 0
    assert count(demo, Message, Message.direction == "in") > 150


def test_every_text_of_ours_stands_on_a_practice_phone_too(demo: Service) -> None:
    sent = count(demo, Message, Message.direction == "out", Message.status == "delivered")
    assert sent == count(demo, HandsetText, HandsetText.direction == "received")


def test_a_second_start_keeps_everything(demo: Service, place: Path) -> None:
    before = count(demo, Message)
    demo.clock.advance(60)  # type: ignore[attr-defined]
    again = prepare(demo_settings(place))
    assert count(again, Message) == before
    assert again.clock.now() - dt.datetime.now(dt.UTC) > dt.timedelta(minutes=59)
    again.engine.dispose()


def test_a_filling_that_was_broken_off_is_begun_anew_and_a_reset_starts_over(tmp_path: Path) -> None:
    settings = demo_settings(tmp_path)
    engine = make_engine(settings.database)
    migrate(engine)
    now = dt.datetime.now(dt.UTC)
    with writing(engine) as session:
        session.add_all([DemoClock(id=1, ahead_seconds=60), Household(created_at=now, updated_at=now)])
    service = prepare(settings)
    assert count(service, Household) == len(CAST)
    with writing(engine) as session:
        session.add(Household(created_at=now, updated_at=now))
    service.engine.dispose()
    service = prepare(settings, reset=True)
    assert count(service, Household) == len(CAST)
    service.engine.dispose()
    engine.dispose()


@pytest.mark.parametrize("reset", [False, True])
def test_a_database_with_other_households_is_left_alone(tmp_path: Path, reset: bool) -> None:
    settings = demo_settings(tmp_path)
    engine = make_engine(settings.database)
    migrate(engine)
    now = dt.datetime.now(dt.UTC)
    with writing(engine) as session:
        session.add(Household(created_at=now, updated_at=now, address="12 Weir Street"))
    with pytest.raises(SettingsError, match="not the demo's"):
        prepare(settings, reset)
    with reading(engine) as session:
        assert session.exec(select(Household.address)).all() == ["12 Weir Street"]
    engine.dispose()


def test_the_agents_of_the_demo_can_sign_in(demo: Service) -> None:
    from guide_service.console.sign_in import Refusal, sign_in

    with reading(demo.engine) as session:
        logins = session.exec(select(Agent.login).order_by(col(Agent.login))).all()
    assert logins == ["county", "deputy", "holt", "rivera", "walker", "words"]
    assert not isinstance(sign_in(demo, "rivera", PASSWORD), Refusal)

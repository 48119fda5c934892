"""Who may let a notice go out: above a size a second person, for just these words and these phones."""

from __future__ import annotations

from guide_service.database import writing
from guide_service.notices import deciding
from guide_service.notices.choice import Choice
from guide_service.notices.deciding import Refused
from guide_service.notices.preview import preview
from guide_service.records import Notice
from guide_service.wiring import Service
from tests.notices.crowd import AUTHOR, EVERYWHERE, SECOND, add_homes, decide, draft, stored, with_rules

LARGE = 3


def large(service: Service) -> Service:
    service = with_rules(service, second_person_above=LARGE - 1)
    add_homes(service, LARGE)
    return service


def changed(service: Service, notice_id: int, by: int, choice: Choice = EVERYWHERE, title: str = "t", **own: str):
    with writing(service.engine) as session:
        notice = session.get_one(Notice, notice_id)
        return deciding.change(session, service, by, notice, title, choice, None, own)


def test_a_small_one_needs_nobody_else(service: Service) -> None:
    service = with_rules(service, second_person_above=LARGE)
    add_homes(service, LARGE)
    assert decide(service, draft(service), deciding.start) is None


def test_a_large_one_needs_a_second_person_who_is_never_the_author(service: Service) -> None:
    service = large(service)
    notice = draft(service)
    assert decide(service, notice, deciding.start) == Refused.NOT_APPROVED
    assert decide(service, notice, deciding.approve, AUTHOR) == Refused.OWN
    assert decide(service, notice, deciding.start) == Refused.NOT_APPROVED
    assert decide(service, notice, deciding.approve, SECOND) is None
    assert decide(service, notice, deciding.start) is None
    assert stored(service, notice).state == "sending"


def test_whoever_changed_it_does_not_approve_it_either(service: Service) -> None:
    service = large(service)
    notice = draft(service)
    assert changed(service, notice, SECOND, en="other words") is None
    assert decide(service, notice, deciding.approve, SECOND) == Refused.OWN
    assert decide(service, notice, deciding.approve, AUTHOR) == Refused.OWN
    assert decide(service, notice, deciding.approve, 13) is None


def test_changed_words_or_another_choice_void_the_approval(service: Service) -> None:
    service = large(service)
    for change in ({"en": "other words"}, {"choice": Choice(("millrace",)), "en": "The office is open on Saturday."}):
        notice = draft(service)
        decide(service, notice, deciding.approve, SECOND)
        changed(service, notice, AUTHOR, **change)
        assert stored(service, notice).approved_by is None
        assert decide(service, notice, deciding.start) == Refused.NOT_APPROVED


def test_another_title_leaves_the_approval(service: Service) -> None:
    service = large(service)
    notice = draft(service)
    decide(service, notice, deciding.approve, SECOND)
    changed(service, notice, AUTHOR, title="Saturday hours", en="The office is open on Saturday.")
    assert stored(service, notice).approved_by == SECOND
    assert decide(service, notice, deciding.start) is None


def test_nobody_approves_or_starts_what_was_changed_since_it_was_seen(service: Service) -> None:
    service = large(service)
    notice = draft(service)
    with writing(service.engine) as session:
        seen = preview(session, service, session.get_one(Notice, notice)).digest
    changed(service, notice, AUTHOR, en="other words")
    assert decide(service, notice, deciding.approve, SECOND, seen) == Refused.CHANGED
    decide(service, notice, deciding.approve, SECOND)
    assert decide(service, notice, deciding.start, AUTHOR, seen) == Refused.CHANGED


def test_an_approval_does_not_hold_for_many_more_phones(service: Service) -> None:
    service = large(service)
    notice = draft(service)
    decide(service, notice, deciding.approve, SECOND)
    add_homes(service, 20, first=100)
    assert decide(service, notice, deciding.start) == Refused.NOT_APPROVED


def test_it_starts_once_and_only_with_somebody_to_text_and_a_text_that_fits(service: Service) -> None:
    service = with_rules(service)
    assert decide(service, draft(service), deciding.start) == Refused.NOBODY
    add_homes(service, 2)
    assert decide(service, draft(service, own={"en": "x" * 500}), deciding.start) == Refused.TOO_LONG
    notice = draft(service)
    assert decide(service, notice, deciding.start) is None
    for decision in (deciding.start, deciding.approve, deciding.drop):
        assert decide(service, notice, decision, SECOND) == Refused.GONE
    assert changed(service, notice, AUTHOR, en="other words") == Refused.GONE


def test_a_dropped_draft_goes_nowhere(service: Service) -> None:
    add_homes(service, 1)
    notice = draft(service)
    assert decide(service, notice, deciding.drop) is None
    assert decide(service, notice, deciding.start) == Refused.GONE

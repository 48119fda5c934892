"""The policy page: everything in force with its source, changed part by part with a reason, as a new version."""

from __future__ import annotations

import datetime as dt
import html
import re
from collections.abc import Callable

import pytest
from pydantic import ValidationError
from sqlmodel import select

from guide_service.console import policy_limits
from guide_service.console.policy_form import bounds
from guide_service.console.policy_sections import BY_KEY
from guide_service.county_decided import Rules
from guide_service.county_rules import Limits
from guide_service.database import reading, writing
from guide_service.dialogue.effects import EscalationReason
from guide_service.followup.escalations import raise_escalation
from guide_service.followup.quiet_hours import next_allowed
from guide_service.in_force import InForce
from guide_service.records import Audit, Job, PolicyRow
from guide_service.records.policies import as_policy
from guide_service.wiring import Service
from tests.conftest import offering
from tests.console.conftest import Desk, audited
from tests.console.rows import one_household
from tests.turn.conftest import Phones

Seat = Callable[..., Desk]
PAGE = "/console/policy"
PARTS = tuple(BY_KEY)


@pytest.fixture
def service(service: Service) -> Service:
    """A county of two languages, with its first version as a start makes it."""
    both = offering(service, "en", "es")
    both.in_force.seed(both.clock.now())
    return both


def filled(service: Service, part: str, **changes: str) -> dict[str, str]:
    """What the form of that part holds, and what somebody changed in it."""
    service.in_force.look()
    rules = service.in_force.rules
    form = BY_KEY[part].fields(rules, service.county)
    return form | {"version": str(rules.policy.version), "reason": "New advice of the state office"} | changes


def stored(service: Service) -> list[PolicyRow]:
    with reading(service.engine) as session:
        return list(session.exec(select(PolicyRow).order_by(PolicyRow.version)))


def beside(page: str, name: str) -> str:
    found = re.search(rf'id="wrong-{name}">([^<]+)<', page)
    return html.unescape(found[1]) if found else ""


def test_the_first_version_is_there_from_the_start(service: Service, desk: Seat) -> None:
    (first,) = stored(service)
    assert as_policy(first) == service.county.first_policy()
    assert first.made_by is None
    shown = desk("rivera").see(PAGE)
    for words in ("As in the county file.", "EPA, flooded-home drying video", "47 CFR", "Poison Help", "4 Weir Street"):
        assert words in shown
    assert "/console/policy/limits" not in shown  # an agent looks


def test_a_change_is_a_version_and_the_old_one_stays(service: Service, desk: Seat) -> None:
    chief, old = desk("chief", coordinator=True), service.policy()
    chief.do(f"{PAGE}/limits", **filled(service, "limits", dry_below_mc="14,5", source_dry_below_mc="State notice 7"))
    first, second = stored(service)
    assert as_policy(first) == old
    assert (second.version, second.reason, second.made_by) == (2, "New advice of the state office", chief.agent.id)
    changed = {"name": "dry_below_mc", "old": "15", "new": "14.5", "source": "State notice 7", "laxer": False}
    assert second.changes == [changed]
    assert (service.policy().dry_below_mc, service.policy().u_meter_mc) == (14.5, old.u_meter_mc)
    shown = desk("rivera").see(PAGE)
    assert "15 → <strong>14.5</strong>" in shown
    assert f"a coordinator ({chief.agent.name})" in shown
    assert "county file: 15" in shown
    earlier = desk("holt", "upper").see(f"{PAGE}/versions/1")
    assert "not in force any more" in earlier
    assert "State notice 7" not in earlier
    assert "policy_change" in audited(service)
    desk("other").see(f"{PAGE}/versions/9", 404)


@pytest.mark.parametrize(
    ("part", "changes", "where", "told"),
    [
        ("limits", {"dry_below_mc": "25"}, "harm_mc", "rise in this order"),
        ("limits", {"dry_below_mc": "14.55"}, "dry_below_mc", "1 digits"),
        ("limits", {"dry_below_mc": "14"}, "source_dry_below_mc", "speaks of 15"),
        ("limits", {"rounds": "3", "source_rounds": ""}, "source_rounds", "what this value rests on"),
        ("limits", {"rounds": "1"}, "rounds", "From 2 to 10"),
        ("limits", {"rounds": "2.5"}, "rounds", "whole number"),
        ("limits", {"species_offset_mc": "nan"}, "species_offset_mc", "Write a number"),
        ("limits", {"wet_from": "9", "wet_to": "3"}, "wet_to", "not before the earliest"),
        ("limits", {"harm_mc": "dry"}, "harm_mc", "Write a number"),
        ("limits", {"rounds": "3", "reason": ""}, "reason", "Say why"),
        ("hours", {"quiet_before": "07:00"}, "quiet_before", "Not before 08:00"),
        ("hours", {"quiet_after": "22:00"}, "quiet_after", "47 CFR"),
        ("hours", {"reminder_at": "21:30"}, "reminder_at", "between the two times"),
        ("hours", {"reminder_at": "25:00"}, "reminder_at", "time of day"),
        ("hours", {"nudge_after_days": "4, 2"}, "nudge_after_days", "rising"),
        ("hours", {"nudge_after_days": ""}, "nudge_after_days", "rising"),
        ("hours", {"re_alarm_1": "90"}, "re_alarm_2", "more urgent"),
        ("silence", {"work": "1"}, "work", "From 2 to 60"),
        ("silence", {"answer": "soon"}, "answer", "whole number"),
        ("silence", {"person_after": "2"}, "person_after", "From 5 to 60"),
        ("silence", {"drying": "9", "source_drying": ""}, "source_drying", "what this value rests on"),
        ("offices", {"millrace_opens": "18:00"}, "millrace_closes", "after it opens"),
        ("help", {"call_back": ""}, "call_back", "must not be empty"),
        ("help", {"poison_number": "call us"}, "poison_number", "can be dialed"),
        ("help", {"poison_es": "1-800-222-1222 y otro"}, "poison_es", "At most 14"),
        ("help", {"poison_name": ""}, "poison_name", "whose number"),
        ("places", {"place0_name": "Fire hall č"}, "place0_name", "č"),
        ("places", {"place0_address": ""}, "place0_address", "must not be empty"),
        ("places", {"place0_address": "1" * 60}, "place0_address", "together"),
        ("places", {"place2_name": "Barn"}, "place2_address", "must not be empty"),
        ("places", {"place1_name": "millrace office"}, "place1_name", "this name"),
    ],
)
def test_a_mistake_is_told_beside_its_field_and_nothing_is_lost(
    service: Service, desk: Seat, part: str, changes: dict[str, str], where: str, told: str
) -> None:
    form = filled(service, part, **{"reason": "because of <that>", **changes})
    page = desk("chief", coordinator=True).do(f"{PAGE}/{part}", 422, **form)
    assert told in beside(page, where)
    for name, value in form.items():
        shown = html.escape(value, quote=False) if name == "reason" else html.escape(value)
        if name != "version" and not re.search(r"_day\d$|_area$", name):
            assert shown.replace("&#x27;", "&#39;") in page, name
    assert len(stored(service)) == 1


def test_nothing_new_is_no_version(service: Service, desk: Seat) -> None:
    for part in PARTS:
        page = desk("chief", coordinator=True) if part == PARTS[0] else None
        seat = page or Desk(service, "chief")
        assert "Nothing was changed" in seat.do(f"{PAGE}/{part}", 422, **filled(service, part))
    assert len(stored(service)) == 1


@pytest.mark.parametrize(
    ("part", "changes", "file", "new"),
    [
        ("limits", {"harm_mc": "18", "source_harm_mc": "Our own"}, "16", "18"),
        ("limits", {"days_between_rounds": "2", "source_days_between_rounds": "Our own"}, "3", "2"),
        ("limits", {"wet_to": "14"}, "5 to 7 days", "5 to 14 days"),
        ("hours", {"re_alarm_1": "20"}, "10", "20"),
        ("silence", {"work": "8", "source_work": "Our own"}, "5", "8"),
    ],
)
def test_what_lets_more_pass_needs_a_second_look(
    service: Service, desk: Seat, part: str, changes: dict[str, str], file: str, new: str
) -> None:
    chief = desk("chief", coordinator=True)
    page = chief.do(f"{PAGE}/{part}", 422, **filled(service, part, **changes))
    assert f"{new}</strong> instead of {file}" in page
    tick = re.search(r'name="looked_at" value="([^"]+)"', page)
    assert tick
    assert len(stored(service)) == 1
    # the tick is worth these values only
    other = {**changes, next(iter(changes)): "17" if "harm_mc" in changes else "1" if "days" in tick[1] else "25"}
    if part == "limits" and "wet_to" in changes:
        other = {"wet_to": "20"}
    assert "Laxer than" in chief.do(f"{PAGE}/{part}", 422, **filled(service, part, **other), looked_at=tick[1])
    chief.do(f"{PAGE}/{part}", **filled(service, part, **changes), looked_at=tick[1])
    assert [each["laxer"] for each in stored(service)[1].changes] == [True]
    assert "laxer than the county file" in chief.see(PAGE)
    with reading(service.engine) as session:
        assert session.exec(select(Audit.detail).where(Audit.action == "policy_change")).one()["laxer"]
    # back to the file's own value is no laxer one
    own = BY_KEY[part].fields(Rules.of(service.in_force.file), service.county)
    chief.do(f"{PAGE}/{part}", **filled(service, part, **own))


def test_of_two_at_once_the_later_one_sees_what_the_other_did_and_loses_nothing(service: Service, desk: Seat) -> None:
    chief, second = desk("chief", coordinator=True), desk("second", coordinator=True)
    mine = filled(service, "limits", rounds="4", source_rounds="Mine", reason="my reason")
    hours = filled(service, "hours", reminder_at="10:00")
    chief.do(f"{PAGE}/limits", **filled(service, "limits", rounds="3", source_rounds="Theirs"))
    chief.do(f"{PAGE}/hours", **hours)  # another part moved on meanwhile: that is no conflict
    page = second.do(f"{PAGE}/limits", 422, **mine)
    assert "Somebody changed this part meanwhile" in page
    assert "2 → 3" in page
    assert "my reason" in page
    newest = re.search(r'name="version" value="(\d+)"', page)
    assert newest
    second.do(f"{PAGE}/limits", **{**mine, "version": newest[1]})
    assert (service.policy().rounds, service.county.hours.reminder_at) == (4, dt.time(10))


def test_every_process_has_it_at_once(service: Service, desk: Seat) -> None:
    """Another web process and a worker: a turn of either says the new number, in the person's language."""
    elsewhere = Phones(service.on(service.engine))
    elsewhere.say("HELLO", "+12025550140")
    form = filled(service, "help", poison_number="202-555-0177", call_back="202-555-0178")
    desk("chief", coordinator=True).do(f"{PAGE}/help", **form)
    told = " ".join(text for _, text in elsewhere.say("the fumes make me sick, I mixed bleach", "+12025550140").texts)
    assert "202-555-0177" in told
    # a phone that was never heard has no file to look up, and still hears the newest
    assert "202-555-0178" in " ".join(
        text for _, text in Phones(service.on(service.engine)).say("HELLO", "+12025550141").texts
    )


def test_quiet_hours_follow_at_once(service: Service, desk: Seat) -> None:
    desk("chief", coordinator=True).do(f"{PAGE}/hours", **filled(service, "hours", quiet_after="19:00"))
    worker = InForce(service.engine, service.in_force.file)
    worker.look()
    evening = service.clock.now().replace(hour=23, minute=30)  # 19:30 there
    assert next_allowed(evening, service.county.zone(None), worker.county.hours) > evening
    assert next_allowed(evening, service.county.zone(None), service.in_force.file.hours) == evening


def test_silence_days_are_in_force_at_once(service: Service, desk: Seat) -> None:
    """A row from before they could be changed has the file's; a new version counts for the next thing a worker does."""
    with writing(service.engine) as session:
        first = session.get_one(PolicyRow, 1)
        first.county = {name: held for name, held in (first.county or {}).items() if name not in ("silence", "loans")}
        session.add(first)
    worker = InForce(service.engine, service.in_force.file)
    worker.look()
    assert (worker.county.silence, worker.county.loans) == (worker.file.silence, worker.file.loans)
    words = {"answer": "2", "source_answer": "June Castell", "person_after": "9", "source_person_after": "Desk rule 4"}
    desk("chief", coordinator=True).do(f"{PAGE}/silence", **filled(service, "silence", **words))
    worker.look()
    assert (worker.county.silence.days().answer, worker.county.silence.days().work) == (2, 5)
    assert (worker.county.loans.person_after, worker.county.loans.sources["person_after"]) == (9, "Desk rule 4")
    shown = desk("rivera").see(PAGE)
    assert "7 → <strong>9</strong>" in shown
    assert "June Castell" in shown


def test_an_alarm_that_waits_follows_the_new_hours(service: Service, desk: Seat) -> None:
    home, _ = one_household(service, area="millrace")
    with writing(service.engine) as session:
        raise_escalation(session, service, home, EscalationReason.STALLED)
    desk("chief", coordinator=True).do(
        f"{PAGE}/hours", **filled(service, "hours", re_alarm_1="1", re_alarm_2="1", re_alarm_3="1")
    )
    with reading(service.engine) as session:
        (run_at,) = session.exec(select(Job.run_at).where(Job.kind == "alarm"))
    assert run_at <= service.clock.now() + dt.timedelta(minutes=1)


def test_office_hours_places_and_what_languages_fall_back_to(service: Service, desk: Seat) -> None:
    chief = desk("chief", coordinator=True)
    closed = {f"upper_day{day}": "" for day in range(7)}
    saturdays = {**closed, "upper_day5": "1", "upper_opens": "10:00"}
    chief.do(f"{PAGE}/offices", **filled(service, "offices", **saturdays))
    office = service.county.office_of("upper_larkwater")
    assert (office.days, office.opens) == ((5,), dt.time(10))
    assert service.county.office_of("millrace") == service.in_force.file.office_of("millrace")
    new = {"place2_name": "Fire hall", "place2_address": "1 Mill Road", "place2_hours": "Sat 9 to 1"}
    chief.do(f"{PAGE}/places", **filled(service, "places", **new, place2_es_hours="sáb de 9 a 1", place0_out="1"))
    facts = service.county_facts.meter_places
    assert [place.words.said_in("vi").partition(",")[0] for place in facts] == ["Upper Larkwater office", "Fire hall"]
    assert facts[1].words.said_in("es") == "Fire hall, 1 Mill Road, sáb de 9 a 1"
    shown = chief.see(PAGE)
    assert "Sat, 10:00 to 16:00" in shown
    assert "Millrace office" in shown
    page = chief.do(f"{PAGE}/offices", 422, **filled(service, "offices", upper_day5=""))
    assert "one day at least" in beside(page, "upper_days")


def test_an_edited_county_file_changes_no_version(service: Service, caplog: pytest.LogCaptureFixture) -> None:
    limits = service.in_force.file.limits.model_copy(update={"dry_below_mc": 12.0})
    again = service.with_county(service.in_force.file.model_copy(update={"limits": limits}))
    service.in_force.seed(service.clock.now())
    assert not caplog.records
    again.in_force.seed(service.clock.now())
    assert "policy page" in caplog.text
    assert again.policy().dry_below_mc == 15.0
    assert len(stored(service)) == 1


def test_a_form_lets_pass_what_the_county_file_may_say() -> None:
    for name in policy_limits.LIMITS:
        least, most = bounds(Limits.model_fields[name])
        own = getattr(Limits(), name)
        assert least <= own <= most, name
        for value in (least - 0.01, most + 0.01):
            with pytest.raises(ValidationError):
                Limits.model_validate({name: value, "sources": {}})


def test_an_agent_only_looks(service: Service, desk: Seat) -> None:
    agent = desk("rivera")
    for part in PARTS:
        agent.see(f"{PAGE}/{part}", 404)
        agent.do(f"{PAGE}/{part}", 404, **filled(service, part))
    assert len(stored(service)) == 1

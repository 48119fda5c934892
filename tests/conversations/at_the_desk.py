"""What the agent of a script does at the pages."""

from __future__ import annotations

from collections.abc import Callable

from sqlmodel import col, select

from guide_service.database import reading
from guide_service.records import Escalation, MouldReport
from tests.console.conftest import Desk

House = Callable[[], tuple[int, int, int]]
"""Ids of the first phone's contact, household and conversation."""


def _claims(desk: Desk, _house: House, reason: str) -> None:
    with reading(desk.service.engine) as session:
        row = session.exec(select(Escalation).where(Escalation.reason == reason, Escalation.state == "waiting")).one()
    desk.do(f"/console/escalations/{row.id}/claim")


def _settles(desk: Desk, _house: House, reason: str) -> None:
    with reading(desk.service.engine) as session:
        row = session.exec(select(Escalation).where(Escalation.reason == reason, Escalation.state != "settled")).one()
    desk.do(f"/console/escalations/{row.id}/settle", outcome="answered")


def _takes_over(desk: Desk, house: House, _words: str) -> None:
    _, household, conversation = house()
    desk.do(f"/console/households/{household}/take-over", conversation=str(conversation))


def _hands_back(desk: Desk, house: House, _words: str) -> None:
    _, household, conversation = house()
    desk.do(f"/console/households/{household}/hand-back", conversation=str(conversation))


def _answers(desk: Desk, house: House, words: str) -> None:
    contact, household, _ = house()
    desk.do(f"/console/households/{household}/answer", contact=str(contact), text=words)


def _confirms(desk: Desk, house: House, _words: str) -> None:
    desk.do(f"/console/households/{house()[1]}/confirm-readings")


def _lifts(desk: Desk, _house: House, _words: str) -> None:
    with reading(desk.service.engine) as session:
        open_ = session.exec(select(MouldReport).where(col(MouldReport.lifted_at).is_(None))).all()
    for report in open_:
        desk.do(f"/console/mould-reports/{report.id}/lift")


def _floods(desk: Desk, _house: House, area: str) -> None:
    desk.do("/console/flooded-again", area=area, sure="yes")


AGENT_DOES: dict[str, Callable[[Desk, House, str], None]] = {
    "claims": _claims,
    "settles": _settles,
    "takes over": _takes_over,
    "hands back": _hands_back,
    "answers": _answers,
    "confirms the readings": _confirms,
    "lifts the mould": _lifts,
    "declares flooded again": _floods,
}

"""What a helper sent is put before somebody of the household, once for a round; silence leaves it unconfirmed."""

from __future__ import annotations

from sqlmodel import Session

from guide_service.dialogue.events import EventName
from guide_service.followup.work import Work
from guide_service.records.loading import load_resident
from guide_service.turn import clock_turn

KIND = "confirm_due"


def confirm_due(work: Work) -> None:
    def settled(session: Session) -> None:
        work.hold(session)
        work.settle(session)

    clock_turn(work.service, work.number("household"), EventName.CONFIRM_DUE, settle=settled, load=load_resident)

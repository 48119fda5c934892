"""The one look back, some weeks after a wall was closed: smell, stain, swelling?

Who does not answer is nudged like anybody whose check fell due, and then stays on the agents' list.
"""

from __future__ import annotations

from sqlmodel import Session

from guide_service.dialogue.events import EventName
from guide_service.followup.checks import begin_nudges
from guide_service.followup.work import Work
from guide_service.turn import clock_turn

KIND = "look_back"


def look_back(work: Work) -> None:
    def nudges_follow(session: Session) -> None:
        work.hold(session)
        begin_nudges(work, session)
        work.settle(session)

    clock_turn(work.service, work.number("household"), EventName.LOOK_BACK, settle=nudges_follow)

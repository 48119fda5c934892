"""What the carrier keeps for us goes there too when it goes here: recordings and pictures, and the texts of a file that
is deleted. One job for each, in the transaction that forgets it: the carrier is asked outside of any, until it has it
no more."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

from sqlmodel import Session

from guide_service import jobs
from guide_service.carrier.kept import NotToBeHad, resource_of, resource_of_text
from guide_service.followup.work import Work
from guide_service.records import Message
from guide_service.wiring import Service

KIND = "erase_at_carrier"
TRY_AGAIN_AFTER = dt.timedelta(hours=6)
MOST_TRIES = 60
"""About two weeks; then the job is dead, and stays where the operator sees it."""


def erase_media(session: Session, service: Service, media: Iterable[Any]) -> None:
    """``media``: what message rows hold of recordings and pictures."""
    account = service.settings.account_sid
    found = (resource_of(str(each.get("url", "")), account) for held in media for each in held or ())
    _put_in_line(session, service, [resource for resource in found if resource is not None])


def erase_texts(session: Session, service: Service, messages: Sequence[Message]) -> None:
    """The carrier's own rows of these texts, with their words and numbers."""
    found = (resource_of_text(message.carrier_sid or "") for message in messages)
    _put_in_line(session, service, [resource for resource in found if resource is not None])


def erase_at_carrier(work: Work) -> None:
    try:
        work.service.sender.erase(str(work.job.payload["resource"]))
    except NotToBeHad:
        tries = int(work.job.payload.get("tries", 0)) + 1
        if tries >= MOST_TRIES:
            raise
        with work.settling() as session:
            work.again(session, work.service.clock.now() + TRY_AGAIN_AFTER, tries=tries)
        return
    with work.settling():
        """Done with the asking."""


def _put_in_line(session: Session, service: Service, resources: Sequence[str]) -> None:
    now = service.clock.now()
    for resource in dict.fromkeys(resources):
        key = f"erase:{resource.rpartition('/')[2]}"  # the carrier's id alone: a key has no room for more
        jobs.enqueue(session, KIND, key=key, payload={"resource": resource}, run_at=now, now=now)

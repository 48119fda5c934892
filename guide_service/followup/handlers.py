"""Every kind of job: what does it, and what is done when it is dead."""

from __future__ import annotations

import logging
from collections.abc import Callable

from guide_service.deletion import carrying_out, deciding
from guide_service.followup import (
    alarms,
    checks,
    confirming,
    county_counts,
    erasing,
    look_back,
    retention,
    send_text,
    silence,
    silent_replies,
    take_overs,
)
from guide_service.followup.escalations import ALARM
from guide_service.followup.holding import unless_held
from guide_service.followup.work import Work
from guide_service.lending import loans
from guide_service.notices import handing_over
from guide_service.outbox import SEND_MANY, SEND_TEXT
from guide_service.recalls import undoing, weighing
from guide_service.recalls.marking import RECALL

log = logging.getLogger(__name__)

Handler = Callable[[Work], None]

HANDLERS: dict[str, Handler] = {
    SEND_TEXT: send_text.send_text,
    SEND_MANY: send_text.send_text,
    handing_over.KIND: handing_over.notice_due,
    "check_due": unless_held(checks.check_due),
    checks.NUDGE: unless_held(checks.nudge_due),
    checks.SILENT: unless_held(checks.silent),
    silence.KIND: silence.sweep_silence,
    silence.DUE: silence.silence_due,
    silence.END: silence.silence_end,
    look_back.KIND: unless_held(look_back.look_back),
    confirming.KIND: unless_held(confirming.confirm_due),
    ALARM: alarms.alarm,
    "take_over_end": take_overs.take_over_end,
    silent_replies.KIND: silent_replies.sweep_replies,
    retention.KIND: retention.retention,
    county_counts.KIND: county_counts.count_county,
    RECALL: weighing.recall_due,
    weighing.HOUSE: weighing.recall_house,
    undoing.UNDONE: undoing.recall_undone,
    deciding.KIND: carrying_out.delete_file,
    erasing.KIND: erasing.erase_at_carrier,
    loans.KIND: unless_held(loans.loan_due),
}
PERIODIC = (silent_replies.KIND, retention.KIND, county_counts.KIND, silence.KIND)
"""Kinds that put themselves in line again; a worker that starts makes sure that they are there."""


def _only_logged(work: Work) -> None:
    log.error("job %s of kind %s is dead: %s", work.job.id, work.job.kind, work.job.last_error)


BURIALS: dict[str, Handler] = {
    SEND_TEXT: send_text.bury,
    SEND_MANY: send_text.bury,
    "check_due": checks.bury,
    checks.NUDGE: checks.bury,
    checks.SILENT: checks.bury,
    silence.DUE: checks.bury,
    silence.END: checks.bury,
    look_back.KIND: checks.bury,
    weighing.HOUSE: weighing.bury,
    undoing.UNDONE: undoing.bury,
    deciding.KIND: checks.bury,
}


def bury(work: Work) -> None:
    _only_logged(work)
    also = BURIALS.get(work.job.kind)
    if also is not None:
        also(work)

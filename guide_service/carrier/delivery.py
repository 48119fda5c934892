"""What became of a text, and what to do when it did not arrive.

Rules of this file. Reports come in any order and more than once: a status only ever rises in rank, and one that ends
the story is replaced by nothing, except delivered by read. ``sent`` may be the last that is ever heard (some networks
give no receipt), so it is no failure. Codes and meanings: the carrier's public error dictionary (2023) and, where a
date is given, its page of that day. What we do about each is our own judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

_RANKS = {
    "scheduled": 0,
    "accepted": 1,
    "queued": 2,
    "sending": 3,
    "sent": 4,
    "delivered": 5,
    "partially_delivered": 5,
    "undelivered": 5,
    "failed": 5,
    "canceled": 5,
    "read": 6,
}
FINAL = frozenset(status for status, rank in _RANKS.items() if rank >= 5)
FAILED = frozenset({"undelivered", "failed", "canceled"})


def rank(status: str | None) -> int:
    """How far along: 0 to 6; -1 for a status that is none of an outbound text's."""
    return _RANKS.get(status or "", -1)


def later_of(current: str | None, new: str | None) -> str | None:
    """The status that holds after ``new`` is reported: repeated, late and unknown reports change nothing."""
    if current in FINAL and (current, new) != ("delivered", "read"):
        return current
    return new if rank(new) > rank(current) else current


class Action(StrEnum):
    RETRY_LATER = "retry_later"
    RETRY_DAYTIME = "retry_daytime"
    """At the next daytime slot of the household."""
    GIVE_UP_NUMBER = "give_up_number"
    """This number reaches nobody."""
    GIVE_UP_SMS = "give_up_sms"
    """The number may still take calls."""
    MARK_OPTED_OUT = "mark_opted_out"
    HOLD_UNTIL_RESET = "hold_until_reset"
    """Until 00:00 US Pacific, when the carriers' daily caps start anew."""
    ALARM = "alarm"
    """Our account, its registration or its words: the operator must hear of it (and ``holds_queue``)."""
    BUG = "bug"
    """Our own mistake; sending it again cannot help."""
    LOOK_UP = "look_up"
    """Nobody knows whether it went out: look for it before it is sent again."""
    ASK_SENDER = "ask_sender"
    """Inbound only: part of a text is missing."""


@dataclass(frozen=True, slots=True)
class Policy:
    action: Action
    max_retries: int = 0
    escalate: bool = True
    """A person must see it once no retry is left."""
    note: str = ""
    source: str = "error dictionary 2023"
    wait_seconds: int = 60
    """Least wait before the first retry; it doubles, with jitter. Our choice unless the note says otherwise."""
    then: Action = Action.GIVE_UP_SMS
    """What holds when the retries are used up."""
    holds_queue: bool = False
    """Nothing else will go out either until someone mends it: keep the queue, do not burn it."""


_CONFIG = Policy(Action.ALARM, note="account, sender or registration is not in order", holds_queue=True)
_OURS = Policy(Action.BUG, note="our webhook's answer")
_UNKNOWN_OUTCOME = Policy(
    Action.LOOK_UP, 3, note="the API failed while it worked; the text may be out", wait_seconds=30
)
_NOT_BY_TEXT = Policy(Action.GIVE_UP_SMS, note="not reachable by text; offer a call")
_NO_SUCH_NUMBER = Policy(Action.GIVE_UP_NUMBER, note="not a number that can be reached")
_QUEUE_FULL = Policy(Action.RETRY_LATER, 5, note="queue full: send slower", wait_seconds=300)
_SLOWER = Policy(Action.RETRY_LATER, 5, note="rate limit or time-out further on: send slower", wait_seconds=120)
_DAILY_CAP = Policy(Action.HOLD_UNTIL_RESET, 3, note="daily cap; resets at 00:00 US Pacific; urgent texts first")

POLICIES: dict[int, Policy] = {
    # the API refuses the request
    20003: Policy(Action.ALARM, note="authentication failed", holds_queue=True),
    20429: Policy(
        Action.RETRY_LATER, 8, note="too many at once; never processed, always safe to send again", wait_seconds=5
    ),
    21211: _NO_SUCH_NUMBER,
    21212: _CONFIG,
    21408: Policy(Action.ALARM, note="region not enabled: no text to this country until it is"),
    21602: Policy(Action.BUG, note="no body"),
    21603: _CONFIG,
    21604: Policy(Action.BUG, note="no recipient"),
    21606: _CONFIG,
    21608: Policy(Action.ALARM, note="trial account: only verified numbers"),
    21610: Policy(
        Action.MARK_OPTED_OUT,
        escalate=False,
        note="opted out at the carrier, told at once or in a report; holds for every channel until START",
        source="error dictionary 2023; advanced opt-out page",
    ),
    21611: _QUEUE_FULL,
    21612: _NOT_BY_TEXT,
    21614: _NOT_BY_TEXT,
    21617: Policy(Action.BUG, note="longer than 1,600 characters"),
    21635: _NOT_BY_TEXT,
    # a report says that it did not arrive
    30001: _QUEUE_FULL,
    30002: Policy(Action.ALARM, note="account suspended", holds_queue=True),
    30003: Policy(
        Action.RETRY_DAYTIME, 3, note="handset off or out of range; often passes", source="page of 2026-04-27"
    ),
    30004: Policy(Action.GIVE_UP_SMS, note="blocked: do not send again; offer a call, a person looks"),
    30005: Policy(
        Action.RETRY_DAYTIME, 1, note="unknown or given up; may be someone else's by now", then=Action.GIVE_UP_NUMBER
    ),
    30006: Policy(
        Action.GIVE_UP_SMS,
        note="landline or unreachable carrier: the same text never arrives",
        source="page of 2026-04-21",
    ),
    30007: Policy(Action.ALARM, note="filtered as unwanted: never send the same words again"),
    30008: Policy(Action.RETRY_LATER, 1, note="unknown; a one-segment text in the GSM alphabet stands a better chance"),
    30009: Policy(Action.ASK_SENDER, escalate=False, note="inbound: a segment is missing; ask for the text again"),
    30022: _SLOWER,
    30023: _DAILY_CAP,
    30024: _CONFIG,
    30027: _DAILY_CAP,
    30032: _CONFIG,
    30034: _CONFIG,
    30035: _CONFIG,
    30036: Policy(
        Action.RETRY_DAYTIME,
        2,
        note="waited in the carrier's queue until our validity period ran out",
        source="from memory",
    ),
    30410: _SLOWER,
    30450: Policy(Action.RETRY_LATER, 2, note="pumping protection blocks for 15 to 30 minutes", wait_seconds=1_800),
    # our webhooks, seen by the carrier
    11200: _OURS,
    11205: _OURS,
    11210: _OURS,
    11215: _OURS,
    11220: _OURS,
    12100: _OURS,
    12200: _OURS,
    12300: _OURS,
    14107: Policy(Action.BUG, note="15 replies in less than 30 seconds to one person: a loop of automatic answers"),
    15003: _OURS,
    # calls
    13224: _NO_SUCH_NUMBER,
    13225: Policy(Action.GIVE_UP_NUMBER, note="blocked number"),
    13227: Policy(Action.ALARM, note="region not enabled for calls"),
    21214: _NO_SUCH_NUMBER,
    21217: _NO_SUCH_NUMBER,
}

_UNLISTED = Policy(Action.GIVE_UP_SMS, note="a code that is not in this table: a person decides", source="our choice")
_BAD_ACCOUNT = Policy(
    Action.ALARM, note="refused as a whole: credentials, account or address", source="HTTP status", holds_queue=True
)


def policy_for(code: int | None, http_status: int = 0) -> Policy:
    """What to do about an error code; the HTTP status speaks when the answer brought no code of the carrier's.

    The carrier's package hands the HTTP status over as the code when the answer had none.
    """
    known = POLICIES.get(code or 0)
    if known:
        return known
    http = http_status or code or 0
    if 500 <= http <= 599:
        return _UNKNOWN_OUTCOME
    if http == 429:
        return POLICIES[20429]
    return _BAD_ACCOUNT if http in (401, 403, 404) or 300 <= http <= 399 else _UNLISTED

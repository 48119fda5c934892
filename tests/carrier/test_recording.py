"""The twin behaves as the real sender does, so that what is tested with it holds."""

from __future__ import annotations

import datetime as dt

from guide_service.carrier.recording import RecordingSender
from guide_service.carrier.sender import Accepted, Ambiguous, RateLimited, SentText

TO = "+12025550123"
SINCE = dt.datetime(2026, 3, 2, 15, 30, tzinfo=dt.UTC)


def test_what_was_sent_is_kept_and_delivered() -> None:
    delivered: list[SentText] = []
    sender = RecordingSender(delivered.append, segments_of=len, now=lambda: SINCE)
    result = sender.send_text(TO, "K2", "https://guide.example/carrier/status?row=1", 600)
    assert isinstance(result, Accepted)
    assert (result.status, result.segments) == ("queued", 2)
    assert delivered == sender.sent
    assert (sender.sent[0].to, sender.sent[0].body, sender.sent[0].sid) == (TO, "K2", result.sid)


def test_every_text_has_an_id_of_its_own() -> None:
    sender = RecordingSender()
    for _ in range(20):
        sender.send_text(TO, "K2", None, 600)
    assert len({text.sid for text in sender.sent}) == 20


def test_failures_can_be_rehearsed_in_order() -> None:
    outcomes = [RateLimited(3.0), Ambiguous("ConnectError", may_be_out=False), Accepted("SM1", "queued", 1)]
    sender = RecordingSender(outcomes=outcomes)
    assert [sender.send_text(TO, "K2", None, 600) for _ in outcomes] == outcomes
    assert [text.sid for text in sender.sent] == ["SM1"]


def test_a_text_whose_answer_was_lost_is_found_by_a_look_up() -> None:
    sender = RecordingSender(outcomes=[Ambiguous("ReadTimeout")], now=lambda: SINCE)
    sender.send_text(TO, "K2", None, 600)
    sid = sender.sent[0].sid
    assert sender.find_sent(TO, "K2", SINCE, "1") == sid
    assert sender.find_sent(TO, "K2", SINCE, "1", {sid}) is None
    assert sender.find_sent(TO, "K3", SINCE, "1") is None
    assert sender.find_sent("+12025550124", "K2", SINCE, "1") is None
    assert sender.find_sent(TO, "K2", SINCE + dt.timedelta(seconds=1), "1") is None


def test_a_text_that_found_no_connection_is_not_found() -> None:
    sender = RecordingSender(outcomes=[Ambiguous("ConnectError", may_be_out=False)], now=lambda: SINCE)
    sender.send_text(TO, "K2", None, 600)
    assert sender.find_sent(TO, "K2", SINCE, "1") is None

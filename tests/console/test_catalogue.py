"""Every word of the agents' pages passes through the catalogue: shown with one that brackets all it is asked for."""

from __future__ import annotations

import gettext
import html
import re
from collections.abc import Callable
from html.parser import HTMLParser

import pytest
from sqlmodel import select

from guide_service.console import catalogue
from guide_service.console.phrases import phrases
from guide_service.database import writing
from guide_service.records import Contact, Household
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import make_escalation, make_message, one_household

DATA = re.compile(
    r"Larkwater County( Extension)?|Millrace|Fenn Landing|Upper Larkwater|Rivera|\u2026\d{4}|K\d|kitchen, north wall"
    r"|(Mon|Tue|Wed|Thu|Fri|Sat|Sun), |(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) \d+|\d+:\d\d\u202f[AP]M"
    r"|English|Español|\d+ minutes?|said by the person|black spots behind the sink|[&<>]"
)
"""What the pages show of the county, of people and of the calendar."""
SHOWN_ATTRIBUTES = ("aria-label", "title", "placeholder", "alt", "data-one", "data-many", "data-wide")


class Bracketing(gettext.NullTranslations):
    def gettext(self, message: str) -> str:
        return f"\u27e6{message}\u27e7"

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def pgettext(self, _context: str, message: str) -> str:
        return self.gettext(message)

    def npgettext(self, _context: str, msgid1: str, msgid2: str, n: int) -> str:
        return self.ngettext(msgid1, msgid2, n)


class Words(HTMLParser):
    """Texts and shown attributes of a page, without scripts."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(page)

    def handle_data(self, data: str) -> None:
        self.found.append(data)

    def handle_starttag(self, _tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [value or "" for name, value in attrs if name in SHOWN_ATTRIBUTES]


@pytest.fixture
def bracketed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(catalogue, "translations", lambda _language: Bracketing())


def bare_words(page: str) -> list[str]:
    """What a page says that never was in the catalogue."""
    found = []
    for words in Words(page).found:
        left = words
        while re.search(r"\u27e6[^\u27e6\u27e7]*\u27e7", left):
            left = re.sub(r"\u27e6[^\u27e6\u27e7]*\u27e7", " ", left)
        if re.search(r"[^\W\d_]", DATA.sub(" ", left)):
            found.append(words.strip())
    return found


def test_no_page_says_anything_that_cannot_be_translated(
    service: Service, desk: Callable[..., Desk], bracketed: None
) -> None:
    home, _ = one_household(service)
    with writing(service.engine) as session:
        house, contact = session.exec(select(Household)).one(), session.exec(select(Contact)).one()
        for reason in ("danger", "stalled"):
            make_escalation(session, service, house, contact, reason=reason, words="said by the person")
        for values in ({"outcome": "silence", "outcome_reason": "taken_over"}, {"direction": "out", "origin": "agent"}):
            make_message(session, service, house, contact, **{"body": "said by the person", "status": "sent", **values})
        for message in session.new:
            message.body = "said by the person"
    seat = desk("rivera")
    for address in ("/console", "/console?state=settled", f"/console/households/{home}?done=claimed"):
        page = seat.see(address)
        for sentence in phrases(service).values():  # of the households' catalogue
            page = page.replace(html.escape(sentence, quote=False), "said by the person")
        page = page.replace("can someone call me", "said by the person").replace("We will.", "said by the person")
        assert bare_words(page) == [], address
    assert bare_words(seat.client.get("/console/nowhere").text) == []
    seat.client.cookies.clear()
    assert bare_words(seat.client.get("/console/sign-in").text) == []


def test_a_bare_word_would_be_found() -> None:
    assert bare_words('<p>\u27e6Claim\u27e7 it</p><a title="Go">\u27e6x\u27e7</a>') == ["\u27e6Claim\u27e7 it", "Go"]

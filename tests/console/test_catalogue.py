"""Every word of every page comes from the catalogue, or is a name or somebody's words and then stands isolated.

Shown in a made-up language that is written from the right: each piece of a text that was asked for stands in brackets,
what is put into its places does not. What then still has letters outside of brackets must be in an element that says
of itself which way it runs (``bdi``, ``dir``, ``lang``); so nothing in a right-to-left page jumps over a name.
"""

from __future__ import annotations

import csv
import gettext
import html
import io
import re
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from sqlmodel import select

from guide_service.console import catalogue, log_pdf
from guide_service.console import catalogue_keeping as keeping
from guide_service.console.roles import Role
from guide_service.database import writing
from guide_service.followup import county_counts
from guide_service.records import Agent, Contact, Household
from guide_service.wiring import Service
from tests.console.conftest import Desk
from tests.console.rows import make_escalation, make_message
from tests.console.test_who_may_what import LOGINS, filled, ids_of, seat_all
from tests.console.who_may_what import WHO, rows

MADE_UP = "he"
"""Its letters, dates and direction are CLDR's; the words are bracketed English."""
SHOWN_ATTRIBUTES = ("aria-label", "title", "placeholder", "alt", "data-one", "data-many", "data-wide", "data-told")
SKIPPED = ("bdi", "script", "style", "svg", "textarea")
VOID = ("input", "meta", "link", "br", "img", "source", "hr")
NAMES = re.compile(
    r"Larkwater County|Millrace|12 Weir Street|Saturday|kitchen, north wall|Rivera|\u2026\d{4}|K\d|PDF|PIN|CSV|STOP|A4"
    r"|^[a-z_]+\.[a-z_.#]+ - $"
)
"""What stands in an attribute, where nothing can be isolated, or is the same in every language."""
_PLACE = re.compile(r"(%\(\w+\)[sd]|%%)")


KNOWN = {form for entry in keeping.extracted() for form in keeping._forms(entry.id)}


def bracketed(message: str) -> str:
    """ "claimed by %(name)s" -> "⟦claimed by ⟧%(name)s"; what no catalogue could hold stays as it is."""
    if message not in KNOWN:
        return message
    parts = _PLACE.split(message)
    return "".join(part if _PLACE.fullmatch(part) or not part else f"\u27e6{part}\u27e7" for part in parts)


class Bracketing(gettext.NullTranslations):
    def gettext(self, message: str) -> str:
        return bracketed(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return bracketed(msgid1 if n == 1 else msgid2)

    def pgettext(self, _context: str, message: str) -> str:
        return bracketed(message)

    def npgettext(self, _context: str, msgid1: str, msgid2: str, n: int) -> str:
        return self.ngettext(msgid1, msgid2, n)


class Words(HTMLParser):
    """Texts of a page outside of what says which way it runs, and shown attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self._open: list[tuple[str, bool]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        inside = bool(self._open) and self._open[-1][1]
        skipped = inside or tag in SKIPPED or (tag != "html" and ("dir" in said or "lang" in said))
        if tag not in VOID:
            self._open.append((tag, skipped))
        if not inside:
            self.found += [said[name] or "" for name in SHOWN_ATTRIBUTES if name in said]

    def handle_endtag(self, tag: str) -> None:
        while tag not in VOID and self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not (self._open and self._open[-1][1]):
            self.found.append(data)


def bare_words(page: str) -> list[str]:
    """What a page says that never was in the catalogue, and that does not stand isolated."""
    found = []
    for words in Words(page).found:
        left = NAMES.sub(" ", re.sub(r"\u27e6[^\u27e6\u27e7]*\u27e7", " ", words))
        if re.search(r"[A-Za-z]{2}", left):
            found.append(words.strip())
    return found


@pytest.fixture
def made_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    file = keeping.catalogue_path(tmp_path, MADE_UP)
    file.parent.mkdir(parents=True)
    file.touch()
    monkeypatch.setattr(catalogue, "LOCALES_DIR", tmp_path)
    monkeypatch.setattr(catalogue, "translations", lambda _language: Bracketing())
    catalogue.languages.cache_clear()
    yield
    catalogue.languages.cache_clear()


def everything_there(service: Service) -> dict[str, str]:
    """A household with what its page can show; ids for the addresses of all pages."""
    ids = ids_of(service)
    with writing(service.engine) as session:
        house, contact = session.exec(select(Household)).one(), session.exec(select(Contact)).one()
        house.address = "12 Weir Street"
        for reason in ("danger", "stalled"):
            make_escalation(session, service, house, contact, reason=reason, words="water in the outlet")
        for values in ({"outcome": "silence", "outcome_reason": "taken_over"}, {"direction": "out", "origin": "agent"}):
            make_message(session, service, house, contact, **{"body": "are you there", "status": "sent", **values})
    return ids | {"picture": "none.png"}


def test_no_page_says_anything_that_cannot_be_translated(service: Service, made_up: None) -> None:
    ids = everything_there(service)
    seat_all(service)
    with writing(service.engine) as session:
        for agent in session.exec(select(Agent)):
            agent.language = MADE_UP
    seen = {}
    for path, who in ((path, who) for (method, path), who in rows().items() if method == "GET"):
        if path.startswith(("/console", "/log")) and not path.endswith("/stream"):
            role = next((role for role in LOGINS if role in WHO.get(who, ())), Role.AGENT)
            client = Desk(service, LOGINS[role]).client
            page = client.get(filled(path, ids), headers={"accept-language": MADE_UP})
            if page.status_code == 200 and "html" in page.headers["content-type"]:
                seen[path] = bare_words(page.text)
                assert f'lang="{MADE_UP}" dir="rtl"' in page.text or "<html" not in page.text, path

    assert [(path, each) for path, bare in seen.items() for each in bare] == []
    assert len(seen) > 25


def test_a_refusal_and_a_missing_page_speak_too(service: Service, made_up: None, desk: Callable[..., Desk]) -> None:
    seat = desk("rivera")
    seat.do("/console/account/language", language=MADE_UP)
    for address in ("/console/nowhere", "/console/households/999"):
        assert bare_words(seat.client.get(address).text) == []
    wrong = seat.client.post("/console/account/password", data={"csrf": "old"})
    assert bare_words(wrong.text) == []
    fields = {"csrf": seat.csrf(), "present": "x", "new": "short", "again": "short"}
    assert bare_words(seat.client.post("/console/account/password", data=fields).text) == []


def test_papers_and_files_speak_too(
    service: Service, made_up: None, desk: Callable[..., Desk], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The drying log as PDF, the list as CSV, the report as text."""
    ids = everything_there(service)
    numbers = county_counts.counted_now(service)
    with writing(service.engine) as session:
        county_counts.keep(session, numbers)
    printed: list[str] = []
    monkeypatch.setattr(log_pdf._Pdf, "printable", lambda _, text: printed.append(text) or "x")
    seat = desk("castell", None, coordinator=True)
    seat.do("/console/account/language", language=MADE_UP)
    assert seat.client.get(filled("/console/households/{household}/log.pdf", ids)).status_code == 200
    assert len(printed) > 50
    headings, first = list(csv.reader(io.StringIO(seat.see("/console/finding.csv").removeprefix("\ufeff"))))[:2]
    assert bare_words("<br>".join(headings)) == []
    assert "\u27e6wet\u27e7" in first
    assert bare_words(seat.see("/console/county/report.txt").replace("(EDT)", "")) == []
    sources = {*service.county.first_policy().sources.values(), "Extension"}  # the county's own words
    said = [re.sub("|".join(map(re.escape, sorted(sources, key=len, reverse=True))), "", each) for each in printed]
    assert [each for each in said if bare_words(f"<p>{html.escape(each)}</p>")] == []


def test_a_bare_word_would_be_found() -> None:
    page = '<p>\u27e6Claim\u27e7 it <bdi>Rivera</bdi></p><a title="Go">\u27e6x\u27e7</a><p dir="auto">said</p>'
    assert bare_words(page) == ["\u27e6Claim\u27e7 it", "Go"]

"""In which language the pages are: the browser's, the one chosen before signing in, the account's."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from guide_service.console import catalogue
from guide_service.console import catalogue_keeping as keeping
from guide_service.console.tongue import negotiated
from guide_service.database import reading
from guide_service.records import Agent
from guide_service.wiring import Service
from tests.console.conftest import Desk, audited

HEADER = """msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"
"""


@pytest.fixture
def two_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Two languages with one word each: nothing but a file is needed for one."""
    for language, word in (("es", "Entrar"), ("ar", "\u062f\u062e\u0648\u0644")):
        path = keeping.catalogue_path(tmp_path, language)
        path.parent.mkdir(parents=True)
        path.write_text(f'{HEADER}\nmsgid "Sign in"\nmsgstr "{word}"\n', encoding="utf-8")
    monkeypatch.setattr(catalogue, "LOCALES_DIR", tmp_path)
    forget()
    yield
    monkeypatch.undo()
    forget()


def forget() -> None:
    catalogue.languages.cache_clear()
    catalogue.translations.cache_clear()


def test_the_sign_in_page_speaks_the_browsers_language_until_another_is_chosen(
    two_more: None, browser: TestClient
) -> None:
    spanish = browser.get("/console/sign-in", headers={"accept-language": "fr, es-MX;q=0.8, en;q=0.5"}).text
    assert '<html lang="es" dir="ltr">' in spanish
    assert ">Entrar</button>" in spanish
    assert '<html lang="en" dir="ltr">' in browser.get("/console/sign-in", headers={"accept-language": "fr"}).text
    assert '<html lang="ar" dir="rtl">' in browser.get("/console/sign-in?in_language=ar").text
    kept = browser.get("/console/sign-in", headers={"accept-language": "es"}).text
    assert '<html lang="ar" dir="rtl">' in kept
    assert 'lang="es" hreflang="es" dir="ltr">Espa\u00f1ol</a>' in kept
    assert 'lang="ar"' in browser.get("/console/nowhere").text


def test_an_unknown_language_is_not_kept(two_more: None, browser: TestClient) -> None:
    assert '<html lang="en"' in browser.get("/console/sign-in?in_language=xx").text
    assert "guide_language" not in browser.cookies


def test_the_accounts_language_counts_on_every_device(
    two_more: None, service: Service, desk: Callable[..., Desk]
) -> None:
    seat = desk("rivera")
    assert '<html lang="en"' in seat.see("/console/account")
    assert seat.do("/console/account/language", language="es") == "/console/account?done=language"
    with reading(service.engine) as session:
        assert session.exec(select(Agent.language).where(Agent.login == "rivera")).one() == "es"
    assert "set_language" in audited(service)
    elsewhere = Desk(service, "rivera")
    assert '<html lang="es"' in elsewhere.client.get("/console", headers={"accept-language": "ar"}).text
    assert '<html lang="es"' in elsewhere.see("/console/households/1", 404)
    seat.do("/console/account/language", 422, language="xx")


def test_two_requests_at_once_do_not_hear_each_other(
    two_more: None, service: Service, desk: Callable[..., Desk]
) -> None:
    spanish, english = desk("rivera"), desk("holt")
    spanish.do("/console/account/language", language="es")
    for _ in range(2):
        assert '<html lang="es"' in spanish.see("/console")
        assert '<html lang="en"' in english.see("/console")
    assert catalogue.language() == "en"


@pytest.mark.parametrize(
    ("header", "best"),
    [("es", "es"), ("es-419,es;q=0.9", "es"), ("en;q=0.3, es;q=0.4", "es"), ("es;q=0, en", "en"), ("", "en"),
     ("*", "en"), ("es;q=much", "en"), ("de, fr", "en"), ("AR-eg", "ar")],
)  # fmt: skip
def test_the_browsers_wishes(two_more: None, header: str, best: str) -> None:
    assert negotiated(header) == best


def test_dates_come_from_cldr() -> None:
    assert str(catalogue.locale_of("es")) == "es_US"
    assert str(catalogue.locale_of("zz")) == "en_US"

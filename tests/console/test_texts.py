"""The translators' desk: chosen by address, saved with the catalogue's checks, signed as shown, brought in as files."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlencode

import pytest
from sqlmodel import select

from guide_service.console import texts
from guide_service.console.roles import Role
from guide_service.database import reading
from guide_service.records import TextDraft
from guide_service.settings import FLOWS_DIR, LOCALES_DIR
from guide_service.wiring import Service
from guide_service.wording import importing
from guide_service.wording.book import Piece
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.reviews import read_records, read_reviews
from tests.console.conftest import Desk, audited

Seat = Callable[..., Desk]
OF = "/console/texts/es"
GAS = "danger.gas"


@pytest.fixture
def words(desk: Seat) -> Desk:
    return desk("words", None, role=Role.TRANSLATOR)


def piece(service: Service, context: str = GAS, language: str = "es") -> Piece:
    with reading(service.engine) as session:
        found = texts.desk(session, service, language).piece(context)
    assert found is not None
    return found


def version_of(page: str) -> str:
    found = re.search(r'name="version" value="(\d+)"', page)
    assert found
    return found[1]


def shown(words: Desk, context: str = GAS, of: str = OF) -> str:
    return words.see(f"{of}/text?{urlencode({'id': context})}")


def do(words: Desk, what: str, status: int = 303, of: str = OF, **fields: str) -> str:
    token = re.search(r'name="csrf" value="([^"]+)"', words.see("/console/texts"))
    assert token
    answer = words.client.post(f"{of}/{what}", data={"csrf": token[1], "id": GAS, **fields})
    assert answer.status_code == status, answer.text
    return answer.headers.get("location", answer.text)


def save(words: Desk, text: str, status: int = 303, version: str = "0", context: str = GAS) -> str:
    return do(words, "save", status, id=context, version=version, form_0=text)


def sign(service: Service, words: Desk, status: int = 303, context: str = GAS, **changes: str) -> str:
    at = piece(service, context)
    seen = {f"source_{n}": form for n, form in enumerate(at.entry.forms)}
    seen |= {f"target_{n}": form for n, form in enumerate(at.target)}
    fields = {**seen, "id": context, "version": str(at.version), "role": "interpreter", **changes}
    return do(words, "review", status, **fields)


def rows(service: Service) -> list[tuple[str, int, str]]:
    with reading(service.engine) as session:
        found = session.exec(select(TextDraft).order_by(TextDraft.version)).all()
    return [(row.act, row.version, row.target[0]) for row in found]


def alert(page: str) -> str:
    return page.partition('role="alert"')[2].partition("</div>")[0]


NEW = "Salga ya y llame al %(emergency)s desde afuera. No toque luces ni interruptores. Después escriba aquí."


def test_a_draft_is_a_row_of_its_own_and_nobody_gets_it_yet(service: Service, words: Desk) -> None:
    before = piece(service)
    where = save(words, NEW)
    assert "done=text_saved" in where
    after = piece(service)
    assert (after.target, after.state, after.waiting, after.version) == ((NEW,), "unsigned", True, 1)
    page = words.see(where)
    assert NEW in page
    assert "Residents get now" in page
    assert before.target[0] in re.sub(r"</?bdi[^>]*>", "", page.partition("Residents get now")[2])
    assert rows(service) == [("draft", 1, NEW)]
    assert service.catalogues.forms("es", GAS) == before.target
    assert "text_saved" in audited(service)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("Salga ya.", "Places"),
        (NEW + " {ya}", "Signs"),
        (NEW.replace("Salga", "Sal\u200fga"), None),
        (NEW + " Responda YES.", "A word that the carrier takes for itself"),
        (NEW + " muchísimo" * 40, "Too long"),
        ("  ", "Forms"),
    ],
)
def test_what_the_catalogue_would_refuse_is_not_saved(
    service: Service, words: Desk, text: str, named: str | None
) -> None:
    if named is None:  # what cannot be seen is taken out, not refused
        save(words, text)
        assert piece(service).target == (NEW,)
        return
    page = save(words, text, 422)
    assert named in alert(page)
    assert text.strip() in page
    assert rows(service) == []


def test_a_command_stands_in_the_word_that_is_understood(service: Service, words: Desk) -> None:
    at = next(one for one in _all(service) if "LECTURAS" in one.target[0] and len(one.target) == 1)
    page = save(words, at.target[0].replace("LECTURAS", "NÚMEROS"), 422, context=at.context)
    assert "LECTURAS" in alert(page)


def _all(service: Service) -> tuple[Piece, ...]:
    with reading(service.engine) as session:
        return texts.desk(session, service, "es").pieces


def test_of_two_at_one_text_the_first_has_it_and_the_second_is_told(service: Service, desk: Seat, words: Desk) -> None:
    other = desk("other", None, role=Role.TRANSLATOR)
    seen = version_of(shown(words))
    save(other, NEW, version=seen)
    page = save(words, NEW + " Ya.", 422, version=seen)
    assert "meanwhile" in alert(page)
    assert rows(service) == [("draft", 1, NEW)]


def test_what_is_signed_is_what_was_shown(service: Service, words: Desk) -> None:
    assert "meanwhile" in alert(sign(service, words, 422, target_0="Something else"))
    assert "meanwhile" in alert(sign(service, words, 422, source_0="Something else"))
    sign(service, words, 404, role="Noor Halim")
    assert rows(service) == []
    sign(service, words)
    at = piece(service)
    assert at.state == "signed"
    assert at.signed is not None
    assert (at.signed.role, at.signed.on) == ("interpreter", service.clock.now().date())
    assert rows(service) == [("reviewed", 1, at.target[0])]


def test_a_mark_does_not_hold_for_another_text_and_comes_back_with_its_own(service: Service, words: Desk) -> None:
    first = piece(service).target[0]
    sign(service, words)
    save(words, NEW, version="1")
    assert (piece(service).state, piece(service).changed_since_signed) == ("unsigned", True)
    save(words, first, version="2")
    assert piece(service).state == "signed"


def test_a_mark_can_be_taken_back(service: Service, words: Desk) -> None:
    sign(service, words)
    do(words, "take-back", version="1")
    assert piece(service).state == "unsigned"
    assert "meanwhile" in alert(do(words, "take-back", 422, version="2"))
    assert [act for act, *_ in rows(service)] == ["reviewed", "taken_back"]


def test_a_coordinator_looks_and_an_agent_finds_nothing(service: Service, desk: Seat, words: Desk) -> None:
    chief = desk("chief", coordinator=True)
    page = shown(chief)
    assert "Save as a draft" not in page
    assert "Mark as reviewed" not in page
    chief.do(f"{OF}/save", 404, id=GAS, version="0", form_0=NEW)
    desk("rivera").see(f"{OF}/text?id={GAS}", 404)
    words.see("/console/texts/xx", 404)
    words.see(f"{OF}/text?id=no.such", 404)
    assert rows(service) == []


def test_the_choice_stands_in_the_address(service: Service, words: Desk) -> None:
    safety = words.see(f"{OF}?safety=1")
    listed = re.findall(r'class="text-head"><a href="([^"]+)">([^<]+)', safety)
    contexts = [context for _, context in listed]
    assert contexts
    assert all(one.safety for one in _all(service) if one.context in contexts)
    assert all("safety=1" in address for address, _ in listed)
    sign(service, words, context=contexts[0])
    assert contexts[0] not in words.see(f"{OF}?safety=1")
    assert contexts[0] in words.see(f"{OF}?safety=1&show=all&words={contexts[0]}")
    save(words, NEW, version=str(piece(service).version))
    assert words.see(f"{OF}?show=waiting").count('class="text-head"') == 1
    assert 'rel="next"' in words.see(f"{OF}/text?id={contexts[0]}&safety=1")


def test_safety_texts_come_first(service: Service) -> None:
    safety = [one.safety for one in _all(service)]
    assert safety == sorted(safety, reverse=True)


def test_a_text_is_shown_where_it_is_said_in_both_languages(words: Desk) -> None:
    page = shown(words, "verdict.wet")
    english, spanish = page.partition("Where it is said")[2].split('class="said"')[1:3]
    assert "WET" in english + spanish
    assert 'class="meant"' in page
    assert "MOJADO" in page.partition("Where it is said")[2]
    assert "%(" not in page.partition("Where it is said")[2].partition("Worked on")[0]


def test_arabic_runs_from_the_right_and_every_form_of_it_is_there(service: Service, words: Desk) -> None:
    plural = next(one for one in _plurals(service, "ar"))
    page = shown(words, plural.context, "/console/texts/ar")
    assert page.count("<textarea") == 6
    assert page.count('lang="ar" dir="rtl"') >= 6
    assert "Said for 3, 4, 5, 6, 7, 8" in page


def _plurals(service: Service, language: str) -> list[Piece]:
    with reading(service.engine) as session:
        return [one for one in texts.desk(session, service, language).pieces if len(one.entry.forms) > 1]


def test_every_text_of_every_language_has_a_page(service: Service, words: Desk) -> None:
    for language in texts.languages():
        of = f"/console/texts/{language}"
        for context in (GAS, "help.spoken#spoken", "paper.do_dry", "offer", "label.owner"):
            if context in {one.context for one in _all(service)}:
                assert 'id="talk"' in shown(words, context, of), (language, context)


# out of the desk and into the catalogue


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    return Path(shutil.copytree(LOCALES_DIR, tmp_path / "locales"))


def brought_in(service: Service, words: Desk, copied: Path) -> importing.Taken:
    """What the desk gives, saved to files and imported as an operator does it."""
    po, marks = copied.parent / "es.po", copied.parent / "es-marks.toml"
    for path, name in ((po, "catalogue.po"), (marks, "marks.toml")):
        answer = words.client.get(f"{OF}/{name}")
        assert answer.status_code == 200
        path.write_bytes(answer.content)
    return importing.take(FLOWS_DIR, copied, "es", po, marks)


@pytest.mark.parametrize("text", [NEW, NEW + '\nEscriba "luz" \\ 100%%.', NEW + " ¡Ñandú – «sí»!"])
def test_what_a_reviewer_signs_is_the_very_text_that_residents_get(
    service: Service, words: Desk, copied: Path, text: str
) -> None:
    save(words, text)
    sign(service, words)
    page = shown(words)
    taken = brought_in(service, words, copied)
    assert (taken.changed, taken.signed) == ((GAS,), (GAS,))
    said = Catalogues.load(copied, service.catalogues.messages, ["es"]).forms("es", GAS)
    (signed,) = [one for one in read_reviews(copied, "es").signed if one.id == GAS]
    assert said == signed.target == (text,)
    assert "Take the mark back" in page


def test_after_it_was_brought_in_nothing_waits_any_more(service: Service, words: Desk, copied: Path) -> None:
    save(words, NEW)
    sign(service, words)
    brought_in(service, words, copied)
    with reading(service.engine) as session:
        at = texts.desk(session, service, "es", copied)
    assert [one.context for one in at.pieces if one.waiting] == []
    assert texts.marks_file(at).count("[[") == 0
    found = at.piece(GAS)
    assert found is not None
    assert found.state == "signed"


def test_a_mark_taken_back_leaves_the_catalogue_too(service: Service, words: Desk, copied: Path) -> None:
    sign(service, words)
    brought_in(service, words, copied)
    do(words, "take-back", version="1")
    with reading(service.engine) as session:
        marks = texts.marks_file(texts.desk(session, service, "es", copied))
    (copied.parent / "marks.toml").write_text(marks, encoding="utf-8")
    (back,) = read_records(copied.parent / "marks.toml", "taken_back")
    po = copied.parent / "es.po"
    importing.take(FLOWS_DIR, copied, "es", po, copied.parent / "marks.toml")
    assert back.id == GAS
    assert read_reviews(copied, "es").signed == ()


def test_no_name_of_a_person_leaves_the_desk(service: Service, desk: Seat) -> None:
    noor = desk("noorhalim", None, role=Role.TRANSLATOR)
    save(noor, NEW)
    sign(service, noor)
    files = [noor.client.get(f"{OF}/{name}").text for name in ("catalogue.po", "marks.toml")]
    assert "interpreter" in files[0]
    assert "interpreter" in files[1]
    assert "noorhalim" not in "".join(files).casefold()


# a reviewer without a computer


@pytest.mark.parametrize("language", ["es", "ar", "zh"])
def test_sheet_and_key_have_the_same_numbers_and_the_sheet_no_english(
    service: Service, words: Desk, language: str
) -> None:
    of = f"/console/texts/{language}"
    sheet, key = words.see(f"{of}/sheet?safety=1"), words.see(f"{of}/key?safety=1")
    numbers = re.findall(r'class="sheet-number">(\d+)<', sheet)
    assert numbers == re.findall(r'class="sheet-number">(\d+)<', key)
    assert len(numbers) > 30
    at = piece(service, GAS, language)
    assert at.entry.forms[0].split(".")[0] in key
    assert at.entry.forms[0].split(".")[0] not in sheet
    assert "%(" not in sheet + key
    assert sheet.count("sheet-line") >= 2 * len(numbers)

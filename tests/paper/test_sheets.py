"""The card and the log sheet: every language whole, figures from the policy, the number from the settings."""

from __future__ import annotations

import re
from dataclasses import astuple, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from typer.testing import CliRunner

from guide_service import settings
from guide_service.cli import app
from guide_service.county import read_county
from guide_service.county_decided import Rules
from guide_service.drying.policy import Policy
from guide_service.paper import drawing, making, pdf_log, pdf_page, print_page
from guide_service.paper.sheets import Source, card, log_sheet
from guide_service.settings import EXAMPLE_COUNTY, FLOWS_DIR, LOCALES_DIR, ROOT
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.messages import load_messages

MESSAGES = load_messages(FLOWS_DIR)
LANGUAGES = sorted(path.parents[1].name for path in LOCALES_DIR.glob("*/LC_MESSAGES/guide.po"))
PAPER = [name for name in MESSAGES if name.startswith("paper.")]
COUNTY = read_county(EXAMPLE_COUNTY)
NUMBER = "+12025550142"
SOURCE = Source(Catalogues.load(LOCALES_DIR, MESSAGES, LANGUAGES), COUNTY, COUNTY.first_policy(), NUMBER)


def words_of(sheet: object) -> list[str]:
    return list(making._strings(astuple(sheet)))  # type: ignore[call-overload]


def pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type /Page\b", pdf))


def test_the_shipped_languages_are_whole_on_paper() -> None:
    assert {"en", "es"} <= set(LANGUAGES)
    assert making.untranslated(SOURCE, "es") == 0


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_text_for_paper_stands_on_a_sheet(language: str) -> None:
    said = "\n".join([*words_of(card(SOURCE, language)), *words_of(log_sheet(SOURCE, language))])
    gone = []
    for name in PAPER:
        text = SOURCE.catalogues.text(language, name)
        pieces = [piece.strip() for piece in re.split(r"%\(\w+\)s|(?<=\w): ", text)]
        gone += [name for piece in pieces if piece not in said]
    assert gone == []


def test_the_limits_are_the_policys() -> None:
    strict = replace(SOURCE, policy=Policy(dry_below_mc=13.5, harm_mc=14.0, wet_above_mc=18.0))
    assert [line.range for line in card(strict, "en").bands] == ["above 18", "13.5 to 18", "below 13.5"]
    assert [line.range for line in card(SOURCE, "en").bands] == ["above 20", "15 to 20", "below 15"]


def test_no_limit_and_no_number_is_written_into_drawing_page_or_catalogue() -> None:
    written = drawing.stud_bay() + "".join(map(drawing.band_mark, ("wet", "caution", "dry")))
    assert "<text" not in written
    for name in PAPER:
        assert not re.search(r"\b(?:15|911|1980)\b|555-\d{4}", MESSAGES[name].text), name


def test_the_number_is_the_settings() -> None:
    for sheet in (card(SOURCE, "es"), log_sheet(SOURCE, "es")):
        assert sheet.head.number == "202-555-0142"


def test_the_year_and_the_emergency_number_are_the_county_files() -> None:
    other = COUNTY.model_copy(
        update={"emergency_number": "112", "guidance": COUNTY.guidance.model_copy(update={"old_house": 1990})}
    )
    said = "\n".join(words_of(card(replace(SOURCE, county=other), "en")))
    assert "Call 112" in said
    assert "911" not in said
    assert "1990" in said


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_a_card_is_a_front_and_a_back_and_a_log_one_page(tmp_path: Path, language: str, size: str) -> None:
    made = list(making.make(SOURCE, language, "pdf", size, tmp_path))
    assert [each.path.name for each in made] == [f"card-{language}-{size}.pdf", f"log-{language}-{size}.pdf"]
    found = [each.path.read_bytes() for each in made]
    assert all(pdf.startswith(b"%PDF-") for pdf in found)
    assert [pages(pdf) for pdf in found] == [2, 1]
    width = {"letter": b"612", "a4": b"595.28"}[size]
    assert all(b"/MediaBox [0 0 " + width in pdf for pdf in found)


def test_a_card_is_set_in_large_print(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    sizes: list[float] = []
    honest = pdf_page.PdfSheet._font
    monkeypatch.setattr(
        pdf_page.PdfSheet, "_font", lambda s, size, bold: (sizes.append(size), honest(s, size, bold))[1]
    )
    next(making.make(SOURCE, "en", "pdf", "letter", tmp_path))
    assert min(sizes) >= 14


def test_a_log_holds_at_least_a_dozen_lines(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    frames: list[float] = []
    honest = pdf_page.PdfSheet.frame
    monkeypatch.setattr(
        pdf_page.PdfSheet, "frame", lambda s, a, y, w, h, t=0.3: (frames.append(h), honest(s, a, y, w, h, t))[1]
    )
    list(making.make(SOURCE, "es", "pdf", "letter", tmp_path))
    assert frames.count(9.5) / 9 >= 12


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("language", [each for each in LANGUAGES if each not in ("ar", "zh")])
def test_no_word_above_a_column_is_cut_in_two(language: str, size: str) -> None:
    log = log_sheet(SOURCE, language)
    sheet = pdf_page.PdfSheet(size, log.head)
    widths = pdf_log._widths(sheet, log.columns)
    least = [max(sheet.width_of(w, size=pdf_log._HEAD, bold=True) for w in head.split()) for head in log.columns]
    sheet.bytes()  # closes the fonts
    assert sum(widths) == pytest.approx(sheet.room)
    assert min(widths) > 8
    assert all(width - 2 >= word - 1e-6 for width, word in zip(widths, least, strict=True))


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("language", [each for each in LANGUAGES if each != "zh"])
def test_what_is_to_be_filled_in_stands_on_one_line(monkeypatch: pytest.MonkeyPatch, language: str, size: str) -> None:
    log = log_sheet(SOURCE, language)
    lines: dict[str, float] = {}
    honest = pdf_page.PdfSheet.text

    def measured(sheet: pdf_page.PdfSheet, words: str, **how: Any) -> None:
        top = sheet.y
        honest(sheet, words, **how)
        lines[words] = (sheet.y - top) / (pdf_page.READ_FROM_AFAR * 25.4 / 72 * 1.2)

    monkeypatch.setattr(pdf_page.PdfSheet, "text", measured)
    pdf_log.log_pdf(log, size)
    assert {words: lines[words] for words in (log.whose, log.meter, log.page)} == pytest.approx(
        dict.fromkeys((log.whose, log.meter, log.page), 1.0)
    )


def test_a_print_page_stands_alone() -> None:
    page = print_page.card_page(card(SOURCE, "es"), "letter")
    assert '<html lang="es" dir="ltr">' in page
    assert "<svg" in page
    assert not re.search(r'(?:src|href)="|url\(|@import', page)
    assert "K1 22 19 17" in page


def in_letters(letters: str, code: str) -> Source:
    """A county of one more language, whose every text is written in these letters."""
    catalogues = Catalogues.load(LOCALES_DIR, MESSAGES, ["en"])
    foreign = {name: (letters + " ".join(re.findall(r"%\(\w+\)s", MESSAGES[name].text)),) for name in MESSAGES}
    tables = {**catalogues._tables, code: foreign}
    return replace(SOURCE, catalogues=Catalogues(MESSAGES, (code,), frozenset(), tables))


def test_arabic_runs_from_the_right_in_pdf_and_page(tmp_path: Path) -> None:
    source = in_letters("جدار مفتوح ", "ar")
    made = list(making.make(source, "ar", "pdf", "letter", tmp_path))
    assert [each.no_glyphs for each in made] == [False, False]
    assert 'lang="ar" dir="rtl"' in print_page.card_page(card(source, "ar"), "letter")
    assert "\u200e202-555-0110\u200e" in card(source, "ar").or_call


def test_a_language_that_the_font_cannot_write_gets_the_page(tmp_path: Path) -> None:
    made = list(making.make(in_letters("打开的墙 ", "zh"), "zh", "pdf", "letter", tmp_path))
    assert [(each.path.suffix, each.no_glyphs) for each in made] == [(".html", True)] * 2


def test_the_command_makes_all_offered_languages(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("GUIDE_DEMO", "1")
    monkeypatch.setenv("GUIDE_DATABASE_URL", f"sqlite:///{tmp_path}/none.db")
    monkeypatch.setenv("GUIDE_CARRIER_NUMBER", NUMBER)
    settings.get_settings.cache_clear()
    told = CliRunner().invoke(app, ["paper", "--format", "html", "--out", str(tmp_path / "sheets")])
    settings.get_settings.cache_clear()
    assert told.exit_code == 0, told.output
    made = sorted(path.name for path in (tmp_path / "sheets").iterdir())
    assert made == sorted(f"{n}-{code}-letter.html" for n in ("card", "log") for code in COUNTY.languages)
    assert "202-555-0142" in (tmp_path / "sheets" / "log-en-letter.html").read_text(encoding="utf-8")
    assert not (tmp_path / "none.db").exists()


def test_the_policy_in_force_counts_where_there_is_a_database(tmp_path: Path, sqlite_template: Path) -> None:
    empty = SimpleNamespace(database=f"sqlite:///{sqlite_template}")
    assert making._rules(empty, COUNTY) == Rules.of(COUNTY)  # type: ignore[arg-type]


def test_no_sentence_stands_in_the_code_of_the_room() -> None:
    room = ROOT / "guide_service" / "paper"
    for path in room.glob("templates/*.html"):
        bare = re.sub(r"<style>.*?</style>|\{[{%].*?[%}]\}|<[^>]+>", " ", path.read_text(encoding="utf-8"), flags=re.S)
        assert not re.findall(r"[A-Za-z]{2,}", bare), path.name

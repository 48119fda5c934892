import shutil
import subprocess
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir

from guide_service.wording import maintenance
from guide_service.wording.catalogue import Catalogues, catalogue_path, read_catalogue
from guide_service.wording.checking import Problem, allowed_segments, offered_keywords
from guide_service.wording.messages import load_messages

FIRST = """\
messages:
  hello: {text: "Hello, %(name)s.", note: First words., spoken: "Hello %(name)s, on the phone."}
  days: {text: "%(count)s day left.", plural: "%(count)s days left."}
states:
  a: {id: gas, text: "Get out now.", critical: "true", budget: "1"}
  b: {id: gone, text: "Old."}
"""
SECOND = FIRST.replace("Hello, %(name)s.", "Good day, %(name)s.").replace('  b: {id: gone, text: "Old."}\n', "")


@pytest.fixture
def flows(tmp_path: Path) -> Path:
    folder = tmp_path / "conversation_flows"
    folder.mkdir()
    (folder / "a.yaml").write_text(FIRST, encoding="utf-8")
    return folder


@pytest.fixture
def locales(tmp_path: Path) -> Path:
    return tmp_path / "locales"


def rewrite(path: Path, **changes: str) -> None:
    """Fill in translations: the msgstr after each msgid given."""
    text = path.read_text(encoding="utf-8")
    for english, translation in changes.items():
        before = f'msgid "{english}"\nmsgstr ""' if english in text else english
        assert before in text
        text = text.replace(before, f'msgid "{english}"\nmsgstr "{translation}"')
    path.write_text(text, encoding="utf-8")


def translated(flows: Path, locales: Path, translations: dict[str, str], language: str = "es") -> Path:
    (path,) = maintenance.update(flows, locales, [language])
    rewrite(path, **translations)
    return path


def write_flow(flows: Path, text: str) -> None:
    (flows / "a.yaml").write_text(text, encoding="utf-8")


def kinds(flows: Path, locales: Path, *languages: str) -> list[tuple[str, str]]:
    return [(p.kind, p.context) for p in maintenance.check(flows, locales, languages or ("en",)).problems]


def test_the_template_has_ids_notes_budgets_and_examples_and_no_dates(flows: Path, locales: Path) -> None:
    text = maintenance.extract(flows, locales).read_text(encoding="utf-8")
    assert text == maintenance.extract(flows, locales).read_text(encoding="utf-8")
    assert 'msgctxt "hello"\nmsgid "Hello, %(name)s."\nmsgstr ""\n' in text
    assert 'msgctxt "hello#spoken"\nmsgid "Hello %(name)s, on the phone."' in text
    assert 'msgid "%(count)s day left."\nmsgid_plural "%(count)s days left."\nmsgstr[0] ""\nmsgstr[1] ""' in text
    assert "#. First words.\n" in text
    assert "#. Safety text" in text
    assert "#. Text message: at most 1 segment in English.\n" in text
    assert "#. %(name)s: such as kitchen\n" in text
    assert "#: conversation_flows/a.yaml\n" in text
    assert "Date" not in text


def test_babels_own_extraction_finds_the_same_entries(flows: Path, locales: Path) -> None:
    ours = read_catalogue(maintenance.extract(flows, locales))
    babels = Catalog()
    methods = [("**.yaml", "guide_service.wording.extract:extract_flows")]
    for _, _, message, comments, context in extract_from_dir(str(flows), methods):
        babels.add(message, auto_comments=comments, context=context)
    assert {(m.context, str(m.id)): m.auto_comments for m in babels if m.id} == {
        (m.context, str(m.id)): m.auto_comments for m in ours if m.id
    }


def test_the_configuration_names_the_extractor(flows: Path) -> None:
    config = (Path(__file__).parents[2] / "babel.cfg").read_text(encoding="utf-8")
    assert "flows = guide_service.wording.extract:extract_flows" in config
    assert "[flows: **.yaml]" in config


def test_update_makes_a_catalogue_and_changes_nothing_the_second_time(flows: Path, locales: Path) -> None:
    (path,) = maintenance.update(flows, locales, ["uk"])
    first = path.read_bytes()
    assert path == catalogue_path(locales, "uk")
    assert b'"Language: uk\\n"' in first
    assert b'msgstr[2] ""' in first
    assert b"nplurals=3" in first
    maintenance.update(flows, locales, ["uk"])
    assert path.read_bytes() == first


def test_english_gets_its_own_texts(flows: Path, locales: Path) -> None:
    (path,) = maintenance.update(flows, locales, ["en"])
    assert 'msgid "Hello, %(name)s."\nmsgstr "Hello, %(name)s."' in path.read_text(encoding="utf-8")


def test_a_changed_english_text_keeps_its_translation_as_fuzzy_with_the_earlier_text(
    flows: Path, locales: Path
) -> None:
    path = translated(flows, locales, {"Hello, %(name)s.": "Hola, %(name)s.", "Get out now.": "Salga ya."})
    write_flow(flows, SECOND)
    maintenance.update(flows, locales, ["es"])
    text = path.read_text(encoding="utf-8")
    assert (
        '#, fuzzy, python-format\n#| msgid "Hello, %(name)s."\nmsgctxt "hello"\n'
        'msgid "Good day, %(name)s."\nmsgstr "Hola, %(name)s."\n'
    ) in text
    assert 'msgid "Get out now."\nmsgstr "Salga ya."' in text
    catalogues = Catalogues.load(locales, load_messages(flows), ("es",))
    assert catalogues.text("es", "hello") == "Hola, %(name)s.", "kept in use until it was read again"
    assert catalogues.text("es", "gas") == "Salga ya."


def test_the_earlier_text_of_a_fuzzy_translation_outlives_a_second_change(flows: Path, locales: Path) -> None:
    path = translated(flows, locales, {"Hello, %(name)s.": "Hola, %(name)s."})
    write_flow(flows, SECOND)
    maintenance.update(flows, locales, ["es"])
    once = path.read_bytes()
    maintenance.update(flows, locales, ["es"])
    assert path.read_bytes() == once
    write_flow(flows, SECOND.replace("Good day", "Welcome"))
    maintenance.update(flows, locales, ["es"])
    text = path.read_text(encoding="utf-8")
    assert '#| msgid "Hello, %(name)s."\nmsgctxt "hello"\nmsgid "Welcome, %(name)s."' in text
    assert text.count("#| msgid") == 1


def test_a_retired_text_keeps_its_translation_and_gets_it_back(flows: Path, locales: Path) -> None:
    path = translated(flows, locales, {"Old.": "Viejo."})
    write_flow(flows, SECOND)
    maintenance.update(flows, locales, ["es"])
    assert '#~ msgctxt "gone"\n#~ msgid "Old."\n#~ msgstr "Viejo."' in path.read_text(encoding="utf-8")
    maintenance.update(flows, locales, ["es"])
    write_flow(flows, FIRST)
    maintenance.update(flows, locales, ["es"])
    assert 'msgctxt "gone"\nmsgid "Old."\nmsgstr "Viejo."' in path.read_text(encoding="utf-8")
    assert "#~" not in path.read_text(encoding="utf-8")


def test_a_text_that_gains_a_plural_keeps_its_translation_for_a_start(flows: Path, locales: Path) -> None:
    path = translated(flows, locales, {"Get out now.": "Salga ya."})
    write_flow(flows, FIRST.replace('text: "Get out now."', 'text: "Get out now.", plural: "All of you, out."'))
    maintenance.update(flows, locales, ["es"])
    text = path.read_text(encoding="utf-8")
    assert 'msgstr[0] "Salga ya."\nmsgstr[1] "Salga ya."' in text
    assert '#, fuzzy\n#| msgid "Get out now."\nmsgctxt "gas"' in text


def test_translators_comments_and_names_are_kept(flows: Path, locales: Path) -> None:
    path = translated(flows, locales, {})
    text = path.read_text(encoding="utf-8").replace('"MIME', '"Last-Translator: A. Reader\\n"\n"MIME', 1)
    path.write_text(text.replace("#. First words.", "# Said by the county.\n#. First words."), encoding="utf-8")
    maintenance.update(flows, locales, ["es"])
    again = path.read_text(encoding="utf-8")
    assert '"Last-Translator: A. Reader\\n"' in again
    assert "# Said by the county.\n" in again


@pytest.mark.parametrize("language", ["en", "es", "uk", "ar", "fil", "pt"])
def test_files_satisfy_gettexts_own_check(flows: Path, locales: Path, language: str) -> None:
    if shutil.which("msgfmt") is None:
        pytest.skip("msgfmt of GNU gettext is not installed")
    (path,) = maintenance.update(flows, locales, [language])
    subprocess.run(["msgfmt", "-c", "-o", "/dev/null", str(path)], check=True, capture_output=True, timeout=30)


def test_check_finds_nothing_in_sound_files(flows: Path, locales: Path) -> None:
    maintenance.extract(flows, locales)
    maintenance.update(flows, locales, ["en", "es"])
    report = maintenance.check(flows, locales, ["en", "es"])
    assert report.problems == ()
    assert report.lacking == {"en": {}, "es": {"untranslated": 5}}


def test_a_stale_or_absent_template_is_found(flows: Path, locales: Path) -> None:
    assert kinds(flows, locales) == [("stale", "guide.pot")]
    maintenance.extract(flows, locales)
    assert kinds(flows, locales) == []
    write_flow(flows, SECOND)
    assert kinds(flows, locales) == [("stale", "guide.pot")]


@pytest.mark.parametrize(
    ("text", "kind", "detail"),
    [
        ("Wood at 5% is dry.", "form", "'% is dry.'"),
        ("Hello {name}, good day.", "form", "'{name}'"),
        ("Hello, dear %(nobody_knows)s, do come in now.", "unknown placeholder", "%(nobody_knows)s"),
        ("At 20\u00b0 it dries.", "character", "U+00B0 DEGREE SIGN"),
        ("Say \u202eit back.", "character", "U+202E"),
        ("Reply yes if it is dry.", "carrier keyword", "YES"),
        ("Is it dry? Text YES or NO.", "carrier keyword", "YES"),
        ("1 wet, 2 dry, CANCEL to leave.", "carrier keyword", "CANCEL"),
        ("%(wall)s: " + "a b c d e. " * 29, "budget", "3 segments (350 GSM-7 units) where 2 are allowed"),
        ("It necessitates considerable additional documentation today.", "reading grade", "6 is the hardest"),
    ],
)
def test_each_kind_of_problem_of_an_english_text(flows: Path, locales: Path, text: str, kind: str, detail: str) -> None:
    write_flow(flows, f'messages:\n  x: "{text}"\n')
    maintenance.extract(flows, locales)
    (problem,) = maintenance.check(flows, locales).problems
    assert (problem.kind, problem.language, problem.context, problem.place) == (kind, "en", "x", "a.yaml:2")
    assert detail in problem.detail


def test_curly_typography_is_no_problem_and_a_spoken_text_may_hold_any_letter(flows: Path, locales: Path) -> None:
    write_flow(flows, 'messages:\n  x: {text: "Don\u2019t go in.", spoken: "Don\u2019t go in, Zoe\u0308."}\n')
    maintenance.extract(flows, locales)
    assert kinds(flows, locales) == []


def test_singular_and_plural_name_the_same_places(flows: Path, locales: Path) -> None:
    write_flow(flows, 'messages:\n  x: {text: "One day at %(place)s.", plural: "%(count)s days at %(wall)s."}\n')
    maintenance.extract(flows, locales)
    assert kinds(flows, locales) == [("placeholders", "x")]


def test_a_translation_with_other_places_is_found_and_not_said(flows: Path, locales: Path) -> None:
    translated(flows, locales, {"Hello, %(name)s.": "Hola, %(nombre)s."})
    maintenance.extract(flows, locales)
    report = maintenance.check(flows, locales, ["es"])
    assert [(p.kind, p.detail) for p in report.problems] == [
        ("placeholders", "names nombre where the English names name")
    ]
    assert report.lacking["es"] == {"placeholders": 1, "untranslated": 4}


@pytest.mark.parametrize(
    ("language", "translation", "kind"),
    [
        ("ht", "Ká bax hadda.", "character"),
        ("es", "Salga {ya}.", "form"),
        ("es", "Salga \u200fya.", "character"),
        ("es", "Responda YES para salir.", "carrier keyword"),
        ("es", "Á" * 202, "budget"),
        ("ht", "a" * 161, "budget"),
    ],
)
def test_each_kind_of_problem_of_a_translation(
    flows: Path, locales: Path, language: str, translation: str, kind: str
) -> None:
    translated(flows, locales, {"Get out now.": translation}, language)
    maintenance.extract(flows, locales)
    assert kinds(flows, locales, language) == [(kind, "gas")]


def test_accented_letters_are_at_home_in_spanish(flows: Path, locales: Path) -> None:
    translated(flows, locales, {"Get out now.": "Salga de ahí ya. " + "á" * 110})
    maintenance.extract(flows, locales)
    assert kinds(flows, locales, "es") == []
    assert [allowed_segments(budget, "es") for budget in (1, 2, 3)] == [2, 4, 6]


def test_damaged_files_wrong_plural_headers_and_changed_english_are_found(flows: Path, locales: Path) -> None:
    maintenance.extract(flows, locales)
    damaged, uk, english = maintenance.update(flows, locales, ["es", "uk", "en"])
    damaged.write_text(damaged.read_text(encoding="utf-8") + "\nnonsense\n", encoding="utf-8")
    uk.write_text(uk.read_text(encoding="utf-8").replace("n%10==1 &&", "n%10==2 &&"), encoding="utf-8")
    text = english.read_text(encoding="utf-8")
    english.write_text(text.replace('msgstr "Get out now."', 'msgstr "Leave."'), encoding="utf-8")
    assert kinds(flows, locales, "es", "uk", "en") == [
        ("damaged", "guide.po"),
        ("plural forms", "guide.po"),
        ("english", "gas"),
    ]


def test_keywords_that_people_must_know_may_be_told() -> None:
    assert offered_keywords("Text STOP to end, START to come back. Text HELLO for the menu.") == frozenset()
    assert offered_keywords("Reply 1 for yes. Send us the number. Text your readings.") == frozenset()
    assert offered_keywords('Reply "Yes" or text back quit') == {"YES", "QUIT"}


def test_a_keyword_is_no_answer() -> None:
    assert offered_keywords("Yes") == {"YES"}
    assert offered_keywords("Stop.") == {"STOP"}
    assert offered_keywords("Yes, it is") == frozenset()


def test_a_problem_reads_as_one_line() -> None:
    problem = Problem("budget", "es", "gas", "a.yaml:5", "4 segments")
    assert str(problem) == "a.yaml:5: es gas: budget: 4 segments"

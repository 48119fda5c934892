"""Signatures under texts: what they hold on to, and what they let go."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from guide_service.wording import maintenance, signing
from guide_service.wording.catalogue import Catalogues, catalogue_path
from guide_service.wording.messages import load_messages
from guide_service.wording.reviews import Reviews, Signed, WrongReviews, read_reviews, write_reviews

DAY = dt.date(2027, 3, 15)
FLOW = """\
messages:
  gas: {text: "Get out now.", critical: "true"}
  days: {text: "%(count)s day left.", plural: "%(count)s days left."}
  hello: "Hello, %(name)s."
"""
SAID = {"Get out now.": "Salga ya.", "Hello, %(name)s.": "Hola, %(name)s."}


@pytest.fixture
def folders(tmp_path: Path) -> tuple[Path, Path]:
    flows, locales = tmp_path / "flows", tmp_path / "locales"
    flows.mkdir()
    write(flows, FLOW)
    maintenance.update(flows, locales, ["es"])
    for english, spanish in SAID.items():
        put(locales, english, spanish)
    return flows, locales


def write(flows: Path, text: str) -> None:
    (flows / "sample.yaml").write_text(text, encoding="utf-8")


def put(locales: Path, english: str, spanish: str) -> None:
    path = catalogue_path(locales, "es")
    lines = path.read_text(encoding="utf-8").splitlines()
    at = lines.index(f'msgid "{english}"')
    lines[at + 1] = f'msgstr "{spanish}"'
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def said(folders: tuple[Path, Path], message: str) -> str:
    flows, locales = folders
    return Catalogues.load(locales, load_messages(flows), ["es"]).text("es", message)


def test_a_new_text_needs_a_speakers_review_until_it_is_signed(folders) -> None:
    assert signing.unsigned_safety(*folders, "es") == ("gas",)
    assert signing.sign(*folders, "es", ["gas"], "community translator", DAY) == ("gas",)
    assert signing.unsigned_safety(*folders, "es") == ()
    text = catalogue_path(folders[1], "es").read_text(encoding="utf-8")
    assert "# reviewed by community translator, 2027-03-15\n" in text
    assert "# needs a speaker's review\n" in text


def test_a_signature_holds_under_another_id_and_in_another_file(folders) -> None:
    flows, locales = folders
    signing.sign(flows, locales, "es", ["gas"], "community translator", DAY)
    reviews = read_reviews(locales, "es")
    assert reviews.of(("Get out now.",), ("Salga ya.",)) is not None
    (flows / "other.yaml").write_text('messages:\n  gas: {text: "Get out now.", critical: "true"}\n', encoding="utf-8")
    write(flows, FLOW.replace('  gas: {text: "Get out now.", critical: "true"}\n', ""))
    maintenance.update(flows, locales, ["es"])
    assert signing.unsigned_safety(flows, locales, "es") == ()


def test_a_text_that_moves_to_another_id_takes_translation_and_signature_with_it(folders) -> None:
    flows, locales = folders
    signing.sign(flows, locales, "es", ["gas"], "community translator", DAY)
    write(flows, FLOW.replace("  gas: {", "  danger.leak: {"))
    maintenance.update(flows, locales, ["es"])
    assert said(folders, "danger.leak") == "Salga ya."
    assert signing.unsigned_safety(flows, locales, "es") == ()
    text = catalogue_path(locales, "es").read_text(encoding="utf-8")
    assert 'msgctxt "gas"' not in text


def test_a_guess_over_a_signed_text_leaves_the_signed_one_in_use_and_alone_is_reported(folders, caplog) -> None:
    flows, locales = folders
    signing.sign(flows, locales, "es", ["gas"], "community translator", DAY)
    path = catalogue_path(locales, "es")
    guessed = path.read_text(encoding="utf-8").replace("Salga ya.", "Salga.").replace("Hola,", "Buenas,")
    for context in ("gas", "hello"):
        guessed = guessed.replace(f'msgctxt "{context}"', f'#, fuzzy\nmsgctxt "{context}"')
    path.write_text(guessed, encoding="utf-8")
    assert said(folders, "gas") == "Salga ya."
    caplog.clear()
    found = Catalogues.load(locales, load_messages(flows), ["es"])
    assert {(lack.context, lack.why) for lack in found.missing} == {("hello", "fuzzy"), ("days", "untranslated")}
    assert "1 fuzzy" in caplog.text
    assert maintenance.check(flows, locales, ["es"]).lacking["es"]["fuzzy"] >= 1


def test_a_changed_translation_is_said_only_when_it_is_signed(folders) -> None:
    signing.sign(*folders, "es", ["gas"], "community translator", DAY)
    put(folders[1], "Get out now.", "Quédese.")
    assert said(folders, "gas") == "Salga ya."
    assert signing.unsigned_safety(*folders, "es") == ("gas",)
    signing.sign(*folders, "es", ["gas"], "interpreter", DAY)
    assert said(folders, "gas") == "Quédese."


@pytest.mark.parametrize(("older", "expected"), [("", "Salga ya."), (', older: "unsafe"', "Get out and call.")])
def test_a_changed_english_text_keeps_the_signed_translation_but_for_a_change_of_safety(
    folders, older: str, expected: str
) -> None:
    signing.sign(*folders, "es", ["gas"], "community translator", DAY)
    write(folders[0], FLOW.replace('"Get out now."', f'"Get out and call."{older}'))
    maintenance.update(*folders, ["es"])
    assert said(folders, "gas") == expected
    assert signing.unsigned_safety(*folders, "es") == ("gas",)
    with pytest.raises(signing.NotSigned, match="gas: changed"):
        signing.sign(*folders, "es", ["gas"], "interpreter", DAY)


def test_a_signed_translation_that_lacks_a_new_place_is_not_said(folders) -> None:
    signing.sign(*folders, "es", ["hello"], "community translator", DAY)
    write(folders[0], FLOW.replace("Hello, %(name)s.", "Hello, %(name)s of %(county)s."))
    maintenance.update(*folders, ["es"])
    assert said(folders, "hello") == "Hello, %(name)s of %(county)s."


@pytest.mark.parametrize(("ids", "role"), [(["nothing"], "interpreter"), (["days"], "interpreter"), (["gas"], " ")])
def test_what_is_not_there_or_not_translated_cannot_be_signed(folders, ids: list[str], role: str) -> None:
    with pytest.raises(signing.NotSigned):
        signing.sign(*folders, "es", ids, role, DAY)


def test_signatures_come_back_as_they_were_written(tmp_path: Path) -> None:
    (tmp_path / "es").mkdir()
    one = Signed("a", ('say "x"\n\\',), ("diga «x»\t",), "interpreter", DAY)
    write_reviews(tmp_path, "es", Reviews((one,)))
    assert read_reviews(tmp_path, "es").signed == (one,)


def test_a_damaged_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "es").mkdir()
    (tmp_path / "es" / "reviews.toml").write_text('[[signed]]\nid = "a"\n', encoding="utf-8")
    with pytest.raises(WrongReviews, match=r"reviews\.toml"):
        read_reviews(tmp_path, "es")

"""Dates, numbers, lists and plural forms of every language found, and that none of them is silently another one's."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from babel import Locale

from guide_service.wording import formats, own_formats
from guide_service.wording.catalogue import as_forms, catalogue_path, read_catalogue
from guide_service.wording.gsm import BIDI_CONTROLS, GSM_SET, gsm_safe
from guide_service.wording.plurals import plural_categories, plural_index
from tests.wording.every_language import LANGUAGES, TRANSLATED

FALLBACKS = ("en", "fr", "fi", "es")
"""Languages that CLDR and what is built on it were seen to answer in for others."""
YEAR = [dt.date(2026, 1, 1) + dt.timedelta(days=n) for n in range(365)]


def days_of(language: str) -> set[str]:
    names = Locale.parse(language).days["format"]
    return {str(day) for width in ("wide", "abbreviated") for day in names[width].values()}


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_date_is_not_written_in_another_language(language: str) -> None:
    said = {word.strip(",.،") for day in YEAR for word in formats.spoken_date(day, language).split()}
    for other in FALLBACKS:
        if other != language:
            assert not said & {day for day in days_of(other) if len(day) > 3}, f"{language} says the days of {other}"


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_day_of_a_year_reads_differently_and_holds_no_control(language: str) -> None:
    said = [formats.short_date(day, language, True) for day in YEAR]
    assert len(set(said)) == len(YEAR)
    times = [formats.clock_time(dt.time(hour), language, True) for hour in range(24)]
    assert len(set(times)) == 24
    assert not set("".join(said + times)) & BIDI_CONTROLS


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_number_keeps_its_digits_and_one_sign(language: str) -> None:
    written = formats.number(14.5, language, True)
    assert written in ("14.5", "14,5")
    assert formats.number(15.0, language, True) == "15"


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_list_is_joined_in_its_own_words(language: str) -> None:
    joined = formats.joined(["K1", "K2", "K3"], language)
    assert [place for place in ("K1", "K2", "K3") if place not in joined] == []
    for other in FALLBACKS:
        theirs = formats.joined(["K1", "K2", "K3"], other)
        assert language == other or joined != theirs or language in SHARED_AND


SHARED_AND: frozenset[str] = frozenset()
"""Languages whose "and" is the same word as one of ``FALLBACKS``."""


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_count_has_a_form_and_every_form_a_count(language: str) -> None:
    used = {plural_index(language, count) for count in (*range(13), 21, 100, *range(1000))}
    assert used == set(range(len(plural_categories(language))))


@pytest.mark.parametrize("language", TRANSLATED)
def test_a_language_of_the_small_alphabet_says_so_in_its_formats_toml(language: str) -> None:
    """Else its texts would be allowed twice the room, and a letter that halves it would be found by nobody."""
    catalogue = read_catalogue(catalogue_path(own_formats.LOCALES, language))
    said = "".join(form for entry in catalogue if entry.context for form in as_forms(entry.string))
    assert (set(gsm_safe(said)) <= GSM_SET) == own_formats.small_alphabet(language)


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_language_is_named_in_itself(language: str) -> None:
    name = formats.own_name(language)
    assert language == "en" or name != Locale("en").languages.get(language)


def test_somali_is_written_as_it_is_read_in_the_county() -> None:
    """CLDR has Somali, but days without vowels (Arbc) and halves of the day that nobody says (GD)."""
    day = dt.date(2026, 9, 30)
    assert formats.short_date(day, "so", True) == "Arbaco 30 Seb"
    assert formats.spoken_date(day, "so") == "Arbaco, 30 Sebtembar"
    assert [formats.clock_time(dt.time(hour, 30), "so", True) for hour in (0, 8, 12, 17)] == [
        "12:30 AM", "8:30 AM", "12:30 PM", "5:30 PM",
    ]  # fmt: skip
    assert formats.number(14.5, "so", True) == "14.5"
    assert formats.joined(["K1", "K2", "K3"], "so") == "K1, K2 iyo K3"
    assert [plural_index("so", count) for count in (0, 1, 2, 21)] == [1, 0, 1, 1]


def test_french_days_for_haitian_creole_would_be_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(own_formats, "LOCALES", Path("nowhere"))
    own_formats.own_formats.cache_clear()
    formats.spoken_date.cache_clear()
    try:
        with pytest.raises(AssertionError, match="ht says the days of fr"):
            test_a_date_is_not_written_in_another_language("ht")
    finally:
        own_formats.own_formats.cache_clear()
        formats.spoken_date.cache_clear()


@pytest.mark.parametrize(
    "wrong", ['weekdays = ["a"]', 'alphabet = "latin"', 'direction = "up"', 'datum = "x"', "name = 3", 'months = "x"']
)
def test_a_wrong_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, wrong: str) -> None:
    (tmp_path / "xx").mkdir()
    (tmp_path / "xx" / "formats.toml").write_text(wrong, encoding="utf-8")
    monkeypatch.setattr(own_formats, "LOCALES", tmp_path)
    own_formats.own_formats.cache_clear()
    with pytest.raises(own_formats.WrongFormats):
        own_formats.own_formats("xx")
    own_formats.own_formats.cache_clear()

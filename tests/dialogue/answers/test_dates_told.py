"""Next, last and this, in front of the day or behind it, and days that are counted from Wednesday 20 May 2026."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import pytest

from guide_service.dialogue.answers import Lexicon, load_lexicons, understand
from guide_service.dialogue.events import Asked, EventName, Expect, Listening
from guide_service.settings import LOCALES_DIR

TODAY = dt.date(2026, 5, 20)
SATURDAY = dt.date(2026, 5, 23)
DATES: dict[str, dict[str, dt.date | None]] = {
    "en": {
        "saturday": SATURDAY, "this saturday": SATURDAY, "saturday next week": None, "next saturday": None,
        "next week": None, "in 3 days": SATURDAY, "3 days from now": SATURDAY,
    },
    "es": {
        "sábado": SATURDAY, "este sábado": SATURDAY, "el sábado que viene": None, "la semana que viene": None,
        "la próxima semana": None, "el próximo sábado": None, "en 3 días": SATURDAY,
    },
    "fr": {
        "samedi": SATURDAY, "ce samedi": SATURDAY, "samedi prochain": None, "la semaine prochaine": None,
        "dans 3 jours": SATURDAY,
    },
    "ht": {
        "samdi": SATURDAY, "samdi k ap vini": None, "semèn pwochen": None, "nan 3 jou": SATURDAY,
    },
    "vi": {
        "thứ bảy": SATURDAY, "thứ bảy này": SATURDAY, "thứ bảy tới": None, "tuần sau": None, "tuần tới": None,
        "3 ngày nữa": SATURDAY, "3 ngày sau": SATURDAY, "3 ngay nua": SATURDAY,
    },
    "ar": {
        "السبت": SATURDAY, "السبت القادم": None, "الأسبوع القادم": None, "بعد 3 أيام": SATURDAY,
    },
    "zh": {
        "星期六": SATURDAY, "这个星期六": SATURDAY, "下星期六": None,
        "下周": None, "3天后": SATURDAY, "三天后": SATURDAY,
    },
    "so": {
        "sabti": SATURDAY, "sabtida": SATURDAY, "sabtidan": SATURDAY, "sabtida soo socota": None,
        "toddobaadka soo socda": None, "toddobaadka xiga": None, "3 maalmood kadib": SATURDAY,
        "saddex maalmood gudahood": SATURDAY,
    },
}  # fmt: skip


@pytest.fixture(scope="module")
def lexicons() -> Mapping[str, Lexicon]:
    return load_lexicons(LOCALES_DIR, sorted(path.parent.name for path in LOCALES_DIR.glob("*/words.toml")))


def heard(text: str, language: str, lexicons: Mapping[str, Lexicon]) -> list[tuple[EventName, object]]:
    events = understand(text, Listening(language, Asked(Expect.DATE), (), TODAY), lexicons)
    return [(event.name, getattr(event.value, "why", event.value)) for event in events]


@pytest.mark.parametrize(
    ("language", "text", "day"), [(code, text, day) for code, days in DATES.items() for text, day in days.items()]
)
def test_a_day_is_read_and_what_may_be_two_days_is_asked(
    language: str, text: str, day: dt.date | None, lexicons: Mapping[str, Lexicon]
) -> None:
    (name, value), *more = heard(text, language, lexicons)
    assert more == []
    if day is None:
        assert (name, str(value)) == (EventName.UNCLEAR, "which_date")
    else:
        assert (name, value) == (EventName.DATE, day)


@pytest.mark.parametrize(
    ("language", "text"),
    [("en", "3 days after the flood"), ("vi", "3 ngày sau lũ"), ("en", "saturday. next is the hall")],
)
def test_what_is_counted_from_another_day_is_not_counted_from_today(
    language: str, text: str, lexicons: Mapping[str, Lexicon]
) -> None:
    found = [value for name, value in heard(text, language, lexicons) if name is EventName.DATE]
    assert found in ([], [SATURDAY] if "saturday" in text else [])


def test_every_language_says_next_in_its_place(lexicons: Mapping[str, Lexicon]) -> None:
    assert lexicons.keys() <= DATES.keys()

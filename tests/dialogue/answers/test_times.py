"""A time of day as people text it, in every language that the service knows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import pytest

from guide_service.dialogue.answers import Lexicon, load_lexicons, understand
from guide_service.dialogue.answers.times import read_time
from guide_service.dialogue.events import Asked, EventName, Listening
from guide_service.settings import LOCALES_DIR

TIMES = {
    "en": {
        "6pm": (18, 0), "6 p.m.": (18, 0), "6": (18, 0), "9": (9, 0), "18:30": (18, 30), "7.30 pm": (19, 30),
        "12 am": (0, 0), "12pm": (12, 0), "noon": (12, 0), "6 in the morning": (6, 0), "8 at night": (20, 0),
        "six thirty in the evening": (18, 30), "nine": (9, 0), "8 o'clock": (8, 0),
    },
    "es": {
        "las 6 de la tarde": (18, 0), "las 10 de la mañana": (10, 0), "mediodía": (12, 0), "18h30": (18, 30),
        "las siete de la noche": (19, 0), "8 y media de la mañana": (8, 30), "las 8 y 30 p. m.": (20, 30),
    },
    "fr": {
        "18h30": (18, 30), "18 h": (18, 0), "7 heures du soir": (19, 0), "sept heures et demie du matin": (7, 30),
        "midi": (12, 0), "9h": (9, 0), "3 h de l'après-midi": (15, 0),
    },
    "ht": {
        "6 è nan aswè": (18, 0), "7è nan maten": (7, 0), "midi": (12, 0), "8 è edmi nan maten": (8, 30), "6pm": (18, 0),
        "3 zè nan apremidi": (15, 0),
    },
    "vi": {
        "6 giờ tối": (18, 0), "7 giờ sáng": (7, 0), "6 giờ rưỡi chiều": (18, 30), "8h30 sáng": (8, 30),
        "7 gio toi": (19, 0), "7 gio sang": (7, 0), "sáu giờ chiều": (18, 0), "18:30": (18, 30),
        "9 giờ 15 phút sáng": (9, 15),
    },
    "ar": {
        "6 مساءً": (18, 0), "٧ صباحا": (7, 0), "الساعة ٦:٣٠ مساء": (18, 30), "7 ونصف مساء": (19, 30),
        "9 الصبح": (9, 0), "الظهر": (12, 0), "٣ بعد الظهر": (15, 0),
    },
    "zh": {
        "晚上7点": (19, 0), "下午六点半": (18, 30), "早上8点": (8, 0), "上午九点三十分": (9, 30), "中午": (12, 0),
        "18:30": (18, 30), "晚上七点": (19, 0), "7点30分": (7, 30),
    },
    "so": {
        "6 fiidnimo": (18, 0), "7da subaxnimo": (7, 0), "saacadda 7 iyo badh fiidnimo": (19, 30), "9": (9, 0),
        "siddeed subaxnimo": (8, 0), "duhurkii": (12, 0), "3 galabnimo": (15, 0), "6:30 PM": (18, 30), "6pm": (18, 0),
    },
}  # fmt: skip
NO_TIMES = {
    "en": ("", "soon", "25", "9:75", "6 or 7", "2026", "6 in the morning or in the evening", "14.5"),
    "es": ("las 6 o las 7", "25 horas"),
    "fr": ("6h ou 7h", "25 h"),
    "ht": ("6 è oswa 7 è",),
    "vi": ("6 giờ hay 7 giờ", "25 giờ"),
    "ar": ("6 او 7",),
    "zh": ("6点或7点", "25点"),
    "so": ("6 ama 7", "saacadda 25"),
}
ASKED = {
    "en": "remind me at 7 in the evening", "es": "recuérdeme a las 7 de la noche", "fr": "rappels à 7 heures du soir",
    "ht": "raple m a 7 è nan aswè", "vi": "nhắc tôi lúc 7 giờ tối", "ar": "ذكروني الساعة ٧ مساءً",
    "zh": "提醒我改到晚上7点",
    "so": "i xusuusi saacadda 7 fiidnimo",
}  # fmt: skip


@pytest.fixture(scope="module")
def lexicons() -> Mapping[str, Lexicon]:
    return load_lexicons(LOCALES_DIR, sorted(path.parent.name for path in LOCALES_DIR.glob("*/words.toml")))


@pytest.mark.parametrize(
    ("language", "text", "time"), [(code, text, time) for code, texts in TIMES.items() for text, time in texts.items()]
)
def test_a_time_is_read(language: str, text: str, time: tuple[int, int], lexicons: Mapping[str, Lexicon]) -> None:
    assert read_time(text, lexicons[language]) == dt.time(*time)


@pytest.mark.parametrize(("language", "text"), [(code, text) for code, texts in NO_TIMES.items() for text in texts])
def test_no_time_is_guessed(language: str, text: str, lexicons: Mapping[str, Lexicon]) -> None:
    assert read_time(text, lexicons[language]) is None


@pytest.mark.parametrize("language", ASKED)
def test_an_evening_hour_is_asked_for_in_every_language(language: str, lexicons: Mapping[str, Lexicon]) -> None:
    listening = Listening(language, Asked(), (), dt.date(2026, 5, 20))
    events = understand(ASKED[language], listening, lexicons)
    assert [(event.name, event.value) for event in events] == [(EventName.REMIND_AT, dt.time(19))]


def test_every_language_is_asked(lexicons: Mapping[str, Lexicon]) -> None:
    """A language without words of its own for the half of the day would take every evening for the morning."""
    assert {code for code, lexicon in lexicons.items() if not lexicon.times} == set()
    assert lexicons.keys() <= TIMES.keys() & NO_TIMES.keys() & ASKED.keys()

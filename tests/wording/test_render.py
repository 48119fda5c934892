import datetime as dt
import unicodedata
from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from guide_service.dialogue.saying import Say
from guide_service.wording import formats
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.gsm import GSM_SET
from guide_service.wording.messages import Message
from guide_service.wording.render import MissingArgument, render
from guide_service.wording.segments import segments
from guide_service.wording.template import filled, malformed, pieces, placeholders

DAY = dt.date(2026, 12, 1)


@pytest.fixture
def catalogues(spanish: Path, messages: Mapping[str, Message]) -> Catalogues:
    return Catalogues.load(spanish, messages, ("en", "es"))


def test_dates_and_times_are_short_plain_and_of_the_language(catalogues: Catalogues) -> None:
    say = Say("next", {"place": "K2", "date": DAY, "time": dt.time(17, 30)})
    assert render(say, "en", catalogues) == "Read K2 on Tue Dec 1 at 5:30 PM."
    assert render(say, "es", catalogues) == "Mida K2 el mar 1 dic a las 17:30."


@pytest.mark.parametrize(
    ("value", "english", "in_spanish"),
    [(14.0, "14", "14"), (14.5, "14.5", "14,5"), (14.46, "14.5", "14,5"), (15, "15", "15"), (0.04, "0", "0")],
)
def test_a_moisture_number_has_at_most_one_decimal(
    catalogues: Catalogues, value: float, english: str, in_spanish: str
) -> None:
    say = Say("value", {"place": "K2", "value": value})
    assert render(say, "en", catalogues) == f"K2: {english} %."
    assert render(say, "es", catalogues) == f"K2: {in_spanish} %."


def test_lists_of_says_are_joined_as_the_language_does(catalogues: Catalogues) -> None:
    items = tuple(Say("item", {"place": f"K{n}", "value": 20 + n}) for n in (1, 2, 3))
    assert render(Say("list", {"list": items}), "en", catalogues) == "WET: K1 21, K2 22, and K3 23."
    assert render(Say("list", {"list": items[:2]}), "es", catalogues) == "WET: K1 21 y K2 22."
    assert render(Say("list", {"list": items[:1]}), "en", catalogues) == "WET: K1 21."


def test_a_say_may_be_an_argument(catalogues: Catalogues) -> None:
    inner = Say("item", {"place": "K1", "value": 22.5})
    assert render(Say("hello", {"name": inner}), "en", catalogues) == "Hello, K1 22.5."


def test_the_count_is_an_argument_too(catalogues: Catalogues) -> None:
    assert render(Say("days", count=1), "en", catalogues) == "1 day left."
    assert render(Say("days", count=1200), "en", catalogues) == "1,200 days left."
    assert render(Say("days", count=1), "es", catalogues) == "Queda un día."


def test_our_own_typography_is_plain_and_a_persons_words_are_theirs(catalogues: Catalogues) -> None:
    assert render(Say("fancy"), "en", catalogues) == "Don't - wait..."
    words = "Zoë\u2019s \u201cden\u201d \U0001f4a7\n\x07 غرفة"
    assert render(Say("hello", {"name": words}), "en", catalogues) == (
        "Hello, Zoë\u2019s \u201cden\u201d \U0001f4a7  غرفة."
    )


def test_spoken_uses_its_own_variant_full_dates_and_no_alphabet(catalogues: Catalogues) -> None:
    assert render(Say("voiced"), "en", catalogues, spoken=True) == "Press 1 for a person."
    assert render(Say("voiced_date", {"date": DAY}), "en", catalogues, spoken=True) == (
        "Until Tuesday, December 1 \u2013 \u201cor so\u201d."
    )
    assert render(Say("next", {"place": "K2", "date": DAY, "time": dt.time(8)}), "es", catalogues, spoken=True) == (
        "Mida K2 el martes, 1 de diciembre a las 8:00."
    )


def test_a_missing_argument_names_the_message_and_the_place(catalogues: Catalogues) -> None:
    with pytest.raises(MissingArgument, match="hello: name"):
        render(Say("hello"), "en", catalogues)


def test_an_argument_with_a_clock_time_and_a_date_is_refused(catalogues: Catalogues) -> None:
    moment = dt.datetime(2026, 12, 1, 9, tzinfo=dt.UTC)
    with pytest.raises(TypeError, match="datetime"):
        render(Say("hello", {"name": moment}), "en", catalogues)
    with pytest.raises(ValueError, match="nan"):
        render(Say("hello", {"name": float("nan")}), "en", catalogues)


@pytest.mark.parametrize("month", range(1, 13))
@pytest.mark.parametrize("language", ["en", "so", "fil"])
def test_every_date_and_time_of_a_plain_language_fits_the_alphabet(language: str, month: int) -> None:
    for day in range(1, 8):
        written = formats.short_date(dt.date(2026, month, day), language, True)
        assert set(written) <= GSM_SET, written
    assert set(formats.clock_time(dt.time(month, 30), language, True)) <= GSM_SET
    assert set(formats.number(1234.5, language, True)) <= GSM_SET


@pytest.mark.parametrize("language", ["es", "fr", "vi", "ar", "zh", "pt", "uk", "ht"])
def test_no_break_spaces_never_reach_a_text(language: str) -> None:
    written = (
        formats.number(12345.6, language, True)
        + formats.clock_time(dt.time(17, 30), language, True)
        + formats.short_date(DAY, language, True)
    )
    assert not {"\u00a0", "\u202f"} & set(written)


def test_a_template_comes_apart_and_a_per_cent_sign_is_doubled() -> None:
    assert pieces("a %(x)s 5%% %(y)s", True) == (("a ", "x"), (" 5% ", "y"), ("", None))
    assert placeholders("%(x)s %(x)s %%(z)s %(y)s") == {"x", "y"}
    assert filled("%(x)s: 5%%", {"x": "K2"}) == "K2: 5%"
    assert malformed("5% of {x} %(Bad)s %s %(ok)s 5%%") == ("% of {x} %(B", "%(Bad)s %s  ", "%s  5", "{x}")


@given(st.text(), st.text())
def test_any_words_of_a_person_come_through_without_controls(name: str, other: str) -> None:
    message = Message("m", "%(a)s and %(b)s 5% {c}", None, None, None, 2, False, "message", "f", 1)
    catalogues = Catalogues.load(Path("nowhere"), {"m": message}, ("en",))
    body = render(Say("m", {"a": name, "b": other}), "en", catalogues)
    assert body.endswith(" 5% {c}")
    assert not {c for c in body if unicodedata.category(c) in ("Cc", "Cs")}
    assert segments(body).count >= 1

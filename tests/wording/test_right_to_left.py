"""Arabic on a plain phone, which lays a line out by the Unicode bidirectional algorithm and nothing else (UAX 9).

No control character is sent, so what must not be torn apart has to stand right by itself: a telephone number behind an
Arabic word would be shown with its groups in reverse (rules W2 and W4: a hyphen joins no Arabic-context digits), on a
line of its own or at the beginning of one it is not.
"""

from __future__ import annotations

import re

import pytest
from fpdf.bidi import BidiParagraph, auto_detect_base_direction

from guide_service.dialogue.saying import Say
from guide_service.wording.formats import direction
from guide_service.wording.gsm import BIDI_CONTROLS
from guide_service.wording.render import render
from tests.wording.every_language import MESSAGES, TRANSLATED, catalogues
from tests.wording.test_every_language import arguments

RIGHT_TO_LEFT = [language for language in TRANSLATED if direction(language) == "rtl"]
NUMBER = re.compile(r"\d[\d.,:/-]*\d|\d")


def shown(line: str) -> str:
    """The signs of a line from left to right, as a phone shows them."""
    return str(BidiParagraph(text=line, base_direction=auto_detect_base_direction(line)).get_reordered_string())


def torn(body: str) -> list[str]:
    """Numbers of a text that are not shown as they are read."""
    lines = [(line, shown(line)) for line in body.split("\n") if line.strip()]
    return [number for line, seen in lines for number in NUMBER.findall(line) if number not in seen]


@pytest.mark.parametrize("extreme", [True, False], ids=["longest", "typical"])
@pytest.mark.parametrize("language", RIGHT_TO_LEFT)
def test_every_number_is_shown_as_it_is_read(language: str, extreme: bool) -> None:
    found = {}
    for message in MESSAGES.values():
        say = Say(message.id, arguments(message.id, extreme), 3 if message.plural else None)
        if numbers := torn(render(say, language, catalogues())):
            found[message.id] = numbers
    assert found == {}


def test_a_telephone_number_behind_an_arabic_word_would_be_found() -> None:
    assert torn("اتصلوا بالرقم 202-555-0110 الآن") == ["202-555-0110"]
    assert torn("اتصلوا بالرقم\n202-555-0110") == []


NAMES = ["kitchen", "bedroom 2", "المطبخ", "cuisine n° 3", "厨房", "K (old)", "\u202ereversed", "Đặng's room"]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("language", [*RIGHT_TO_LEFT, "en", "es", "zh"])
def test_a_name_in_any_script_comes_out_whole_and_nothing_unseen_with_it(language: str, name: str) -> None:
    kept = name.replace("\u202e", "")
    for message in MESSAGES.values():
        args = arguments(message.id, extreme=False)
        if "name" not in args and "wall" not in args:
            continue
        args |= {each: name for each in ("name", "wall") if each in args}
        body = render(Say(message.id, args, 3 if message.plural else None), language, catalogues())
        assert kept in body, message.id
        assert not set(body) & BIDI_CONTROLS, message.id
        seen = "".join(map(shown, body.split("\n")))
        for run in re.findall(r"[A-Za-z]+(?: \d)?", kept):
            assert run in seen, (message.id, run)


def test_readings_stay_with_their_place_in_an_arabic_text() -> None:
    """A place begins a run from the left, so its numbers follow it as a person types them."""
    seen = shown("وصلتنا K1 22 19 17 شكرا")
    assert "K1 22 19 17" in seen

"""What is told of a step: done, done in part, still to come. The words shown for points. Of two days the denied one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from guide_service.dialogue.answers import understand
from guide_service.dialogue.events import Asked, Expect, Offer
from guide_service.dialogue.saying import Say
from guide_service.wording.render import render
from tests.dialogue.answers.situations import LANGUAGES, lexicons, situations, written
from tests.dialogue.world import larkwater

STEP = (Offer("1", "did"), Offer("2", "more"), Offer("3", "go_on"))


def told(text: str, language: str, question: str = "order.mud") -> str:
    listening = situations(language)["idle"]
    done = Offer("1", "did", (render(Say("label.did"), language, larkwater().catalogues),))
    asked = Asked(Expect.CHOICE, (done, *STEP[1:]), question=question)
    return written(understand(text, replace(listening, asked=asked), lexicons()))


IN_PART = {
    "en": ["almost done", "done with the kitchen not the bedrooms yet", "still 2 ft of water", "all done but the hall"],
    "es": ["ya casi", "ya mero terminamos", "nos falta un cuarto", "todavía hay lodo"],
    "fr": ["presque fini", "fini la cuisine, pas encore les chambres", "il reste de la boue"],
    "ht": ["prèske fini", "kizin nan fini men chanm yo poko", "gen toujou labou"],
    "vi": ["gần xong rồi", "xong bếp rồi, còn phòng ngủ chưa", "vẫn còn bùn"],
    "ar": ["تقريبا خلصنا", "خلصنا المطبخ بس لسه الغرف", "باقي غرفة"],
    "zh": ["差不多了", "厨房弄完了卧室还没", "还剩一间"],
    "so": ["ku dhowaad waa dhammaatay", "jikada waa dhammaatay qolalkii weli maya"],
}
TO_COME = {
    "en": ["landlord wont let me cut the walls", "do i still cut it", "we are going to cut it", "when we cut it"],
    "es": ["no cortamos", "cuándo cortamos la pared"],
}
DONE = {
    "en": ["done", "we cut it all out", "no problem we cut it all"],
    "es": ["listo", "no hay problema ya cortamos", "ya cortamos"],
    "fr": ["c'est fait", "pas de problème c'est fait"],
    "ht": ["fini", "pa gen pwoblèm fini"],
    "vi": ["xong rồi", "không sao xong rồi"],
    "ar": ["تم", "لا مشكلة تم"],
    "zh": ["完成了", "没问题完成了"],
    "so": ["waa la dhammeeyay", "dhib ma leh waa la dhammeeyay"],
}


def rows(texts: dict[str, list[str]]) -> list[tuple[str, str]]:
    return [(language, text) for language, each in texts.items() for text in each]


@pytest.mark.parametrize(("language", "text"), rows(IN_PART))
def test_a_step_in_part_is_not_done(language: str, text: str) -> None:
    assert told(text, language) == "choice part"


@pytest.mark.parametrize(("language", "text"), rows(TO_COME))
def test_a_step_that_is_asked_forbidden_or_planned_is_not_done(language: str, text: str) -> None:
    assert "did" not in told(text, language, "order.cut")
    assert "done" not in told(text, language, "order.cut").split(" + ")


@pytest.mark.parametrize(("language", "text"), rows(DONE))
def test_a_step_that_is_done_is_done(language: str, text: str) -> None:
    assert told(text, language, "order.cut") in ("choice did", "done")


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_words_that_we_show_for_points_are_understood(language: str) -> None:
    points = ("plate", "low_stud", "mid_stud")
    plate, low, mid = (render(Say(f"point.{point}"), language, larkwater().catalogues) for point in points)
    all_three = understand(f"K1 {plate} 22 {low} 19 {mid} 17", situations(language)["idle"], lexicons())
    assert written(all_three) == "readings K1 plate=22 low_stud=19 mid_stud=17"
    turned = understand(f"{mid} 16 {plate} 24", situations(language)["check_K1"], lexicons())
    assert written(turned) == "readings K1 mid_stud=16 plate=24"


@pytest.mark.parametrize(
    "text",
    [
        "cant do friday can we do monday",
        "friday doesnt work how about monday",
        "monday not friday",
        "monday instead of friday",
    ],
)
def test_of_two_days_the_denied_one_does_not_count(text: str) -> None:
    listening = replace(situations("en")["idle"], asked=Asked(Expect.DATE))
    assert written(understand(text, listening, lexicons())) == "date 2026-05-25"


def test_two_days_of_which_none_is_denied_are_asked() -> None:
    listening = replace(situations("en")["idle"], asked=Asked(Expect.DATE))
    assert written(understand("friday or monday", listening, lexicons())) == "unclear which_date"

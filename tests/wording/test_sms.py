from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from guide_service.dialogue.saying import Say
from guide_service.wording.catalogue import Catalogues
from guide_service.wording.messages import Message
from guide_service.wording.sms import LONGEST_TEXT, MOST_SEGMENTS, MOST_WIDE_SEGMENTS, SmsText, compose, segments


def message(message_id: str, text: str) -> Message:
    return Message(message_id, text, None, None, None, 2, False, "message", "f.yaml", 1)


MESSAGES = {
    m.id: m
    for m in (
        message("w", "%(x)s"),
        message("a", "One."),
        message("b", "Two."),
        message("c", "Three."),
        message("offer", "%(x)s"),
    )
}
CATALOGUES = Catalogues.load(Path("nowhere"), MESSAGES, ("en",))


def composed(*says: Say) -> tuple[SmsText, ...]:
    return compose(says, "en", CATALOGUES)


def words(text: str, *, own_text: bool = False) -> Say:
    return Say("w", {"x": text}, own_text=own_text)


def test_neighbours_share_a_text_by_lines() -> None:
    assert composed(Say("a"), Say("b"), Say("c")) == (SmsText("One.\nTwo.\nThree.", "GSM-7", 1, ("a", "b", "c")),)


def test_a_say_with_a_text_of_its_own_starts_one_and_may_be_joined() -> None:
    texts = composed(Say("a"), Say("b", own_text=True), Say("c"))
    assert [(text.body, text.message_ids) for text in texts] == [("One.", ("a",)), ("Two.\nThree.", ("b", "c"))]


def test_a_text_grows_to_three_segments_and_no_further() -> None:
    full = composed(words("x" * 229), words("y" * 229))
    assert [text.segments for text in full] == [3]
    over = composed(words("x" * 229), words("y" * 230))
    assert [(text.segments, len(text.body)) for text in over] == [(2, 229), (2, 230)]


def answers(*texts: str) -> list[Say]:
    return [Say("offer", {"x": text}) for text in texts]


def test_a_question_goes_on_to_the_next_text_with_its_answers() -> None:
    texts = composed(words("x" * 440), Say("a"), *answers("1 It is", "2 It is not so"))
    assert [text.body for text in texts] == ["x" * 440, "One.\n1 It is\n2 It is not so"]
    assert [text.message_ids for text in texts] == [("w",), ("a", "offer", "offer")]


def test_what_has_no_room_in_one_text_is_still_said() -> None:
    texts = composed(words("x" * 200), *answers("1 " + "y" * 250, "2 No, that one is not"))
    assert [len(text.message_ids) for text in texts] == [2, 1]
    assert "\n".join(text.body for text in texts) == "\n".join(["x" * 200, "1 " + "y" * 250, "2 No, that one is not"])


def test_one_character_outside_the_alphabet_leaves_less_room() -> None:
    assert len(composed(words("x" * 100), words("y" * 101))) == 1
    assert len(composed(words("ă" * 300), words("y" * 100))) == 1
    texts = composed(words("ă" * 300), words("y" * 102))
    assert [(text.encoding, text.segments) for text in texts] == [("UCS-2", 5), ("GSM-7", 1)]


def test_a_long_say_is_not_cut_while_it_is_one_text() -> None:
    (text,) = composed(words("word " * 200))
    assert (text.segments, text.message_ids) == (7, ("w",))


def test_a_say_that_alone_is_over_is_cut_at_a_sentence_or_word() -> None:
    texts = composed(words("A sentence of words. " * 100))
    assert [text.message_ids for text in texts] == [("w",), ("w",)]
    assert all(text.body.endswith("words.") for text in texts)
    assert " ".join(text.body for text in texts) == ("A sentence of words. " * 100).strip()


def test_nothing_blank_is_sent() -> None:
    assert composed(words("  "), Say("a")) == (SmsText("One.", "GSM-7", 1, ("a",)),)
    assert composed() == ()


@given(st.lists(st.tuples(st.text(max_size=2500), st.booleans()), max_size=6))
def test_every_text_is_within_limits_and_nothing_is_lost(drafts: list[tuple[str, bool]]) -> None:
    texts = composed(*(words(text, own_text=own) for text, own in drafts))
    for text in texts:
        assert len(text.body.encode("utf-16-le")) // 2 <= LONGEST_TEXT
        assert text.segments == segments(text.body).count
        most = MOST_SEGMENTS if text.encoding == "GSM-7" else MOST_WIDE_SEGMENTS
        assert text.segments <= most or len(text.message_ids) == 1
        assert text.body == text.body.strip() != ""
    said = "".join("".join(text.body.split()) for text in texts)
    meant = "".join(text.body for draft in drafts for text in composed(words(draft[0])))
    assert said == "".join(meant.split())


@pytest.mark.parametrize("emoji_at", [LONGEST_TEXT - 2, LONGEST_TEXT - 1])
def test_an_emoji_at_the_limit_is_not_cut_in_two(emoji_at: int) -> None:
    texts = composed(words("x" * emoji_at + "\U0001f4a7" + "y" * 10))
    assert "".join(text.body for text in texts) == "x" * emoji_at + "\U0001f4a7" + "y" * 10
    assert all(len(text.body.encode("utf-16-le")) // 2 <= LONGEST_TEXT for text in texts)

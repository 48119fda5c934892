"""Segment counts against vectors that two independent programs agree on (named in segment_vectors.json)."""

import json
from pathlib import Path

import pytest

from guide_service.wording.segments import segments

VECTORS = json.loads(Path(__file__).with_name("segment_vectors.json").read_text(encoding="utf-8"))["rows"]


def spelled_out(recipe: str) -> str:
    """``a*159+{`` is 159 times "a" and one "{"; ``U+0103*70`` is 70 times that character."""
    return "".join(_repeated(part) for part in recipe.replace("U+", "U=").split("+"))


def _repeated(part: str) -> str:
    character, _, times = part.partition("*")
    if character.startswith("U="):
        character = chr(int(character[2:], 16))
    return character * int(times or 1)


@pytest.mark.parametrize(("recipe", "length", "encoding", "count"), VECTORS, ids=[row[0] for row in VECTORS])
def test_segments_agree_with_the_published_vectors(recipe: str, length: int, encoding: str, count: int) -> None:
    text = spelled_out(recipe)
    assert len(text) == length
    counted = segments(text)
    assert (counted.encoding, counted.count) == (encoding, count)


def test_there_are_fourteen_vectors() -> None:
    assert len(VECTORS) == 14


def test_an_escape_pair_is_not_cut_at_the_end_of_a_segment() -> None:
    # 152 + "{" would end in the middle of the pair at 153: it moves whole; one more needs a third segment.
    assert segments("a" * 152 + "{" + "a" * 151).units == 305
    assert segments("a" * 152 + "{" + "a" * 151).count == 2
    assert segments("a" * 152 + "{" + "a" * 152).units == 306
    assert segments("a" * 152 + "{" + "a" * 152).count == 3


def test_a_surrogate_pair_is_not_cut_at_the_end_of_a_segment() -> None:
    assert segments("ă" * 66 + "\U0001f44d" + "ă" * 65).count == 2
    assert segments("ă" * 66 + "\U0001f44d" + "ă" * 66).count == 3


def test_units_count_escapes_twice_and_emoji_twice() -> None:
    assert segments("50 €").units == 5
    assert segments("ok \U0001f44d").units == 5


def test_the_escape_character_itself_is_not_text() -> None:
    assert segments("a\x1bb").encoding == "UCS-2"

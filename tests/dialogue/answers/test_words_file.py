"""A words.toml that cannot be used is refused, naming file and key; the notation of phrases; complete languages."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from guide_service.dialogue.answers import TOPICS, WrongWords, load_lexicons
from guide_service.dialogue.answers.phrases import (
    Meaning,
    WrongPhrase,
    find_phrases,
    longest,
    merged,
    phrase_graph,
    without_single,
    words_of,
)
from guide_service.dialogue.answers.slips import mended, slips_of, within_one_slip
from guide_service.dialogue.answers.spelling import fold, read_tokens, tidy
from tests.dialogue.answers.situations import LANGUAGES, ROOT, lexicons

Edit = Callable[[str], str]


def load_edited(folder: Path, edit: Edit) -> None:
    (folder / "en").mkdir()
    text = (ROOT / "locales" / "en" / "words.toml").read_text(encoding="utf-8")
    edited = edit(text)
    assert edited != text
    (folder / "en" / "words.toml").write_text(edited, encoding="utf-8")
    load_lexicons(folder, ["en"])


@pytest.mark.parametrize(
    ("key", "edit"),
    [
        ("stop", lambda t: t.replace("[stop]", "[stopp]")),
        ("stopp", lambda t: t + "\n[stopp]\nwhole = []\n"),
        ("danger.gas", lambda t: t.replace("[danger.gas]", "[danger.gaz]")),
        ("danger.gaz", lambda t: t + '\n[danger.gaz]\nwhole = ["a"]\n'),
        ("topics.power_on", lambda t: t.replace("[topics.power_on]", "[topics.power]")),
        ("events.jump", lambda t: t + "\n[events.jump]\nwhole = []\n"),
        ("events.help.wholes", lambda t: t.replace('[events.help]\nwhole', "[events.help]\nwholes")),
        ("language.names", lambda t: t.replace("[language]\nnames", "[language]\nname")),
        ("numbers.decimal_comma", lambda t: t.replace("decimal_comma = false", 'decimal_comma = "no"')),
        ("numbers.words", lambda t: t.replace('"zero" = 0', '"zero" = "0"')),
        ("readings.points.ceiling", lambda t: t.replace("[readings.points]", '[readings.points]\nceiling = ["roof"]')),
        ("readings.words.abov", lambda t: t.replace('\nabove = ["above"', '\nabov = ["x"]\nabove = ["above"')),
        ("groups.wall", lambda t: t.replace('\nwall = ["wall"', '\nwall = [3, "wall"')),
        ("stop.phrases", lambda t: t.replace('"stop|quit sending me"', '"stop [sending me"')),
        ("stop.phrases", lambda t: t.replace('"stop|quit sending me"', '"[stop]"')),
        ("stop.phrases", lambda t: t.replace('"stop|quit sending me"', '"~ sending"')),
        ("stop.phrases", lambda t: t.replace('"stop|quit sending me"', '"stop <nobody_here>"')),
        ("stop.phrases", lambda t: t.replace('"stop|quit sending me"', '"stop !"')),
        ("the file", lambda t: t.replace("[language]", "[language", 1)),
    ],
)  # fmt: skip
def test_a_wrong_words_file_is_refused_naming_file_and_key(tmp_path: Path, key: str, edit: Edit) -> None:
    with pytest.raises(WrongWords, match=re.escape(f"words.toml: {key}:")) as refused:
        load_edited(tmp_path, edit)
    assert refused.value.path == tmp_path / "en" / "words.toml"


def test_a_missing_words_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WrongWords, match=r"en.words\.toml"):
        load_lexicons(tmp_path, ["en"])


def test_a_further_language_takes_no_code(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "locales" / "es", tmp_path / "es")
    shutil.copytree(ROOT / "locales" / "en", tmp_path / "en")
    shutil.copytree(ROOT / "locales" / "es", tmp_path / "gl")
    assert set(load_lexicons(tmp_path, ["en", "es", "gl"])) == {"en", "es", "gl"}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_knows_every_topic_and_the_numbers_to_sixty(language: str) -> None:
    lexicon = lexicons()[language]
    assert set(lexicon.topics) == set(TOPICS)
    values = {term.value for term in _terms(lexicon.terms) if term.kind == "number"}
    assert values >= {float(number) for number in range(61)}


def _terms(graph: dict) -> list:
    found, waiting = [], [graph]
    while waiting:
        node = waiting.pop()
        found.extend(node.get("", ()))
        waiting.extend(after for word, after in node.items() if word)
    return found


STOP = Meaning("stop")


def matches(phrase: str, text: str, groups: dict[str, list[str]] | None = None) -> bool:
    words = [token.text for token in read_tokens(fold(text))]
    return bool(find_phrases(phrase_graph(phrase, groups or {}, STOP), words))


@pytest.mark.parametrize(
    ("phrase", "text", "found"),
    [
        ("stop|quit texting", "please QUIT texting me", True),
        ("stop|quit texting", "quit", False),
        ("[please|pls] stop", "stop", True),
        ("turn ~ power", "turn the whole house power", True),
        ("turn ~ power", "turn it. the power", False),
        ("turn ~ power", "turn on each and every single power", False),
        ("<who> hurt", "my son hurt", True),
        ("<who> hurt", "my dog hurt", False),
        ("dont_ever|never text", "don't ever text", True),
    ],
)
def test_the_notation_of_phrases(phrase: str, text: str, found: bool) -> None:
    assert matches(phrase, text, {"who": ["my son|daughter", "he"]}) is found


@pytest.mark.parametrize("phrase", ["", "[a] [b]", "a [b", "a b]", "a ~", "~ a", "<nobody>", "?"])
def test_a_wrong_phrase_is_refused(phrase: str) -> None:
    with pytest.raises(WrongPhrase):
        phrase_graph(phrase, {}, STOP)


def test_merging_changes_neither_graph_and_keeps_both_meanings() -> None:
    one, other = phrase_graph("a b", {}, 1), phrase_graph("a [b]", {}, 2)
    both = merged([one, other])
    assert longest(both, ["a", "b"], 0) == (2, 1)
    assert {match.meaning for match in find_phrases(both, ["a", "b"])} == {1, 2}
    assert longest(one, ["a"], 0) is None
    assert words_of(both) == {"a", "b"}
    assert merged([]) == {}


def test_single_words_can_be_left_out() -> None:
    graph = merged([phrase_graph("once", {}, 1), phrase_graph("fin|fin_ya", {}, 2)])
    left = without_single(graph, {"once", "fin"})
    assert longest(left, ["once"], 0) is None
    assert longest(left, ["fin"], 0) is None
    assert longest(left, ["fin", "ya"], 0) == (2, 2)


@pytest.mark.parametrize(
    ("typed", "meant", "slip"),
    [
        ("kichen", "kitchen", True),
        ("kitchenn", "kitchen", True),
        ("kitchem", "kitchen", True),
        ("ktichen", "kitchen", True),
        ("kitchen", "kitchen", True),
        ("ktihcen", "kitchen", False),
        ("kit", "kitchen", False),
        ("kithcne", "kitchen", False),
    ],
)
def test_one_slip_is_mended_and_two_are_not(typed: str, meant: str, slip: bool) -> None:
    assert within_one_slip(typed, meant) is slip
    assert (mended(typed, slips_of([meant])) == meant) is slip


def test_a_slip_between_two_words_is_not_guessed_and_short_words_are_never_mended() -> None:
    assert mended("plats", slips_of(["plate", "slats"])) is None
    assert mended("sop", slips_of(["stop"])) is None


@pytest.mark.parametrize(
    ("typed", "folded"),
    [
        ("Veintidós", "veintidos"),
        ("MƯỜI", "muoi"),
        ("٢٢٫٥", "22.5"),
        ("２２", "22"),
        ("14½", "14 1/2"),
        ("don’t", "don't"),
        ("a\nb", "a;b"),
        ("Đ", "d"),
        ("أربعة", "اربعه"),
        ("a\x00b", "a b"),
    ],
)
def test_shapes_of_letters_and_digits_do_not_matter(typed: str, folded: str) -> None:
    assert fold(typed) == folded


def test_own_words_are_cut_at_a_word_and_lose_control_characters() -> None:
    assert tidy("  my\x00 room\n north ", 30) == "my room north"
    assert tidy("north wall of the living room upstairs", 30) == "north wall of the living room"
    assert tidy("x" * 40, 30) == "x" * 30


def test_a_language_is_named_in_few_words_where_a_failing_test_writes_it_out() -> None:
    english = lexicons()["en"]
    assert len(repr(english)) < 100
    assert all(len(repr(ear)) < 100_000 for ear in english.ears)

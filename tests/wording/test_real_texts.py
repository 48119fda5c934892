"""The texts that people really get: everything in ``conversation_flows/`` and ``locales/``."""

from pathlib import Path

import pytest

from guide_service.dialogue.answers.questions import LONGEST_NAME
from guide_service.wording.catalogue import Catalogues, sourced
from guide_service.wording.checking import english_problems
from guide_service.wording.longest import LONGEST_OWN_WORDS, at_its_longest, longest
from guide_service.wording.maintenance import check
from guide_service.wording.messages import load_messages

ROOT = Path(__file__).parents[2]
FLOWS, LOCALES = ROOT / "conversation_flows", ROOT / "locales"
LANGUAGES = sorted(path.parents[1].name for path in LOCALES.glob("*/LC_MESSAGES/guide.po"))


def test_every_english_text_is_within_grade_budget_and_alphabet() -> None:
    assert [str(problem) for problem in english_problems(sourced(load_messages(FLOWS).values()))] == []


def test_the_template_is_current_and_no_catalogue_has_a_problem() -> None:
    report = check(FLOWS, LOCALES, LANGUAGES)
    assert [str(problem) for problem in report.problems if problem.kind != "reading grade"] == []
    assert not report.lacking.get("en")


def test_every_catalogue_that_is_shipped_can_be_loaded() -> None:
    catalogues = Catalogues.load(LOCALES, load_messages(FLOWS), LANGUAGES)
    assert [lack for lack in catalogues.missing if lack.language == "en"] == []


@pytest.mark.parametrize(
    ("prefix", "name", "said_by"),
    [
        ("reason.", "reason", "ready.not_yet"),
        ("alarm.reason.", "reason", "alarm.one"),
        ("label.", "label", "offer"),
        ("point.", "point", "verdict.wet"),
    ],
)
def test_the_longest_values_are_as_long_as_the_texts_that_stand_there(prefix: str, name: str, said_by: str) -> None:
    texts = {m.id: at_its_longest(m.text, m.id) for m in load_messages(FLOWS).values() if m.id.startswith(prefix)}
    room = longest(name, said_by) or ""
    assert [message_id for message_id, text in texts.items() if len(text) > len(room)] == []


def test_a_persons_own_words_are_cut_no_shorter_than_the_longest_value() -> None:
    assert LONGEST_NAME <= LONGEST_OWN_WORDS

"""The texts that people really get: everything in ``conversation_flows/`` and ``locales/``."""

from pathlib import Path

from guide_service.wording.catalogue import Catalogues, sourced
from guide_service.wording.checking import english_problems
from guide_service.wording.maintenance import check
from guide_service.wording.messages import load_messages

ROOT = Path(__file__).parents[2]
FLOWS, LOCALES = ROOT / "conversation_flows", ROOT / "locales"
LANGUAGES = sorted(path.parents[1].name for path in LOCALES.glob("*/LC_MESSAGES/guide.po"))


def test_ids_are_unique_over_all_flow_files() -> None:
    messages = load_messages(FLOWS)
    assert all(message.id == key for key, message in messages.items())


def test_every_english_text_is_within_grade_budget_and_alphabet() -> None:
    assert [str(problem) for problem in english_problems(sourced(load_messages(FLOWS).values()))] == []


def test_the_template_is_current_and_no_catalogue_has_a_problem() -> None:
    problems = check(FLOWS, LOCALES, LANGUAGES).problems
    assert [str(problem) for problem in problems if problem.kind != "reading grade"] == []


def test_every_catalogue_that_is_shipped_can_be_loaded() -> None:
    catalogues = Catalogues.load(LOCALES, load_messages(FLOWS), LANGUAGES)
    assert [lack for lack in catalogues.missing if lack.language == "en"] == []

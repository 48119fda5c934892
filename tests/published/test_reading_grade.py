"""The reading grade: its formula, the syllables it counts, and every text that is said to people."""

from pathlib import Path

import pytest

from guide_service.wording.messages import load_messages
from guide_service.wording.reading_grade import HARDEST, HARDEST_CRITICAL, grade, too_hard, word_count
from guide_service.wording.syllables import syllables

ROOT = Path(__file__).parents[2]
PUBLISHED = Path(__file__).with_name("pronounced_words.txt").read_text(encoding="utf-8")

# Words of the flows' own subject, divided as dictionaries divide them (from memory).
SUBJECT = {
    1: "wall wood stud plate dry wet gone done where there would mold mould washed leaves times read filled sealed "
    "don't can't aren't through cracked dried tried house fans clothes breathe moved hurt smoke bleach once",
    2: "water moisture meter basement household safety safely careful useful drywall plaster concrete boxes places "
    "changes reading drier drying saying building being people handled needed isn't didn't doesn't wasn't something "
    "sometimes player measure picture kitchen ceiling worried carried driveway baseboard fireplace outlet county "
    "number renter owner landlord helper again before question hundred every reply caution language quiet business",
    3: "electric area period radio animal volunteer homeowner everything everyone contractor furniture agency idea "
    "remember replacement usual cavity easier insulate area's",
    4: "insulation material emergency electrical evaluate situation january immediate bacteria",
    5: "electricity refrigerator opportunity dehumidify",
}


def published() -> dict[str, int]:
    lines = [line.split() for line in PUBLISHED.splitlines() if not line.startswith("#")]
    return {word: int(count) for count, *words in lines for word in words}


def test_syllables_agree_with_the_published_pronunciations() -> None:
    words = published()
    assert len(words) > 200
    assert {word: syllables(word) for word in words} == words


def test_syllables_of_the_words_of_the_subject() -> None:
    words = {word: count for count, row in SUBJECT.items() for word in row.split()}
    assert {word: syllables(word) for word in words} == words


@pytest.mark.parametrize(
    ("text", "words", "sentences", "spoken"),
    [
        ("The cat sat on the mat.", 6, 1, 6),
        ("Stay out. Do not go in.", 6, 2, 6),
        ("Reply 1 for wet; 2 for dry.", 7, 2, 8),
        ("K2 reads 14.5 today.", 4, 1, 5),
        ("We don't know - ask again", 5, 2, 6),
        ("It read 77 at 1,200 feet", 6, 1, 6),
    ],
)
def test_grade_is_the_formula_of_kincaid_1975(text: str, words: int, sentences: int, spoken: int) -> None:
    assert grade(text) == pytest.approx(0.39 * words / sentences + 11.8 * spoken / words - 15.59)


def test_placeholders_are_read_with_a_typical_value() -> None:
    assert grade("Read %(place)s now.") == grade("Read K2 now.")


def test_telephone_numbers_are_not_reading() -> None:
    assert word_count("Call 202-555-0123 now") == 2
    assert grade("202-555-0123") == 0.0


def test_a_hard_text_is_found_and_a_plain_one_is_not(tmp_path: Path) -> None:
    flow = """\
messages:
  hard: "Remediation necessitates comprehensive documentation of hygrothermal characteristics."
  plain: "Leave the wall open. Keep the fans on. Read it again soon."
  safety: {text: "Immediately leave the building and call the emergency number.", critical: "true"}
  word: "Administration"
"""
    (tmp_path / "a.yaml").write_text(flow, encoding="utf-8")
    found = {hard.where: hard for hard in too_hard(load_messages(tmp_path).values())}
    assert set(found) == {"hard", "safety", "short texts together"}
    assert (found["hard"].limit, found["safety"].limit) == (HARDEST, HARDEST_CRITICAL)
    assert found["hard"].place == "a.yaml:2"


def test_every_text_of_the_flows_reads_within_its_grade() -> None:
    found = too_hard(load_messages(ROOT / "conversation_flows").values())
    assert [f"{hard.place} {hard.where}: {hard.grade:.1f} > {hard.limit:.0f}" for hard in found] == []

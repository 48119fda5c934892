"""Each way of spelling that a words.toml may ask for, proved with a small file made for it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from guide_service.dialogue.answers import Lexicon, load_lexicons, understand
from guide_service.dialogue.answers.spelling import fold
from guide_service.dialogue.events import Danger, EventName
from tests.dialogue.answers.situations import ROOT, places, situations, written

SPELLINGS = {
    "vi": {
        "spelling": "marks = true",
        "numbers.words": {"không": 0, "ba": 3, "sáu": 6, "năm": 5, "mười": 10, "mười bốn": 14, "hai mươi hai": 22},
        "numbers": {"half": ["rưỡi"], "point": ["phẩy"]},
        "readings.words": {"no": ["không"], "not": ["không"], "after": ["sau"]},
        "choices.no": {"whole": ["không"]},
        "choices.yes": {"whole": ["có", "vâng"]},
        "danger.life": {"whole": ["cháy"], "phrases": ["cháy nhà", "nhà bị cháy"], "not": ["nước chảy"]},
        "negation": {"words": ["không", "chưa"], "fillers": ["thấy", "có"]},
        "padding": {"words": ["dạ", "ạ"]},
    },
    "ar": {
        "spelling": "articles = ['وال', 'بال', 'ال']\nparticles = ['و', 'ب']",
        "numbers.words": {"اثنان وعشرون": 22, "أربعة عشر": 14, "خمسة": 5, "عشرون": 20},
        "numbers": {"half": ["ونصف"], "point": ["فاصل", "فاصلة"]},
        "danger.life": {"whole": ["حريق"], "phrases": ["حريق في البيت", "البيت يحترق"]},
        "choices.yes": {"whole": ["نعم"]},
        "choices.no": {"whole": ["لا"]},
        "padding": {"words": ["شكرا"]},
    },
    "zh": {
        "numbers.words": {"零": 0, "〇": 0, "一": 1, "二": 2, "四": 4, "五": 5, "十": 10, "十五": 15,
                          "二十二": 22, "一百": 100},
        "numbers": {"half": ["半"], "point": ["点"]},
        "readings.words": {"link": ["是", "在", "读数", "百分之"], "and": ["和"]},
        "choices.yes": {"whole": ["是", "是的", "好"]},
        "choices.no": {"whole": ["不是", "没有"]},
        "danger.gas": {"phrases": ["闻到|有 煤气", "煤气漏"], "not": ["没有煤气"]},
        "negation": {"words": ["没有", "没", "不"], "fillers": ["闻到", "看到"]},
        "padding": {"words": ["你好", "谢谢", "请"]},
        "dates": {"months": [["1月"], ["2月"], ["3月"], ["4月"], ["5月", "五月"], ["6月"], ["7月"], ["8月"],
                             ["9月"], ["10月"], ["11月"], ["12月"]]},
        "dates.words": {"ordinal": ["日", "号"]},
    },
    "fr": {
        "spelling": '''articles = ["l'", "d'", "j'", "n'", "qu'"]''',
        "numbers.words": {"vingt": 20, "vingt et un": 21, "vingt-deux": 22, "quatorze": 14, "soixante": 60, "dix": 10,
                          "soixante-dix": 70, "quatre-vingts": 80, "quatre-vingt": 80, "cinq": 5},
        "numbers": {"half": ["et demi"], "point": ["virgule"]},
        "danger.gas": {"phrases": ["j'ai une odeur de gaz", "ça sent le gaz"]},
        "danger.life": {"phrases": ["eau monte"]},
    },
    "so": {
        "spelling": 'alike = ["dh d", "x h", "q k", "c "]',
        "numbers.words": {"labaatan": 20, "toddoba": 7, "lix": 6},
        'events."mould.seen"': {"phrases": ["caaryo"]},
        "danger.gas": {"phrases": ["gaaska ayaa daadanaya"]},
        "negation": {"after": ["ma jirto"]},
        "choices.yes": {"whole": ["haa", "mahay"]},
        "choices.no": {"whole": ["maya", "maxay"]},
        "dates.words": {"later": ["kadib"], "ago": ["ka hor"], "day": ["maalmood"]},
    },
}  # fmt: skip


def toml(value: object) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def made(folder: Path, language: str) -> Mapping[str, Lexicon]:
    """English, and a file that is the English one but for the tables of ``SPELLINGS``."""
    text = (ROOT / "locales" / "en" / "words.toml").read_text(encoding="utf-8")
    text = re.sub(r"(?s)\n\[spelling\]\n.*?(?=\n\[)", "", text)
    for section, entries in SPELLINGS[language].items():
        if section == "spelling":
            text += f"\n[spelling]\n{entries}\n"
        elif section == "numbers.words":
            lines = "".join(f'"{word}" = {value}\n' for word, value in entries.items())
            text = re.sub(r"(?s)(\[numbers\.words\]\n).*?(?=\n\[)", lambda m, x=lines: m[1] + x, text, count=1)
        else:
            body = re.search(rf"(?s)\[{re.escape(section)}\]\n.*?(?=\n\[(?!\")|\Z)", text)
            assert body, section
            changed = body[0]
            for key, value in entries.items():
                line = f"{key} = {toml(value)}"
                found = re.subn(rf"(?ms)^{key} = (?:\[\n.*?^\]|[^\n]*)$", lambda _, x=line: x, changed)
                changed = found[0] if found[1] else changed + f"\n{line}\n"
            text = text.replace(body[0], changed)
    for code, words in (("en", (ROOT / "locales" / "en" / "words.toml").read_text(encoding="utf-8")), (language, text)):
        (folder / code).mkdir()
        (folder / code / "words.toml").write_text(words, encoding="utf-8")
    return load_lexicons(folder, ["en", language])


@pytest.fixture(scope="module")
def lexicons(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Mapping[str, Lexicon]]:
    return {code: made(tmp_path_factory.mktemp(code), code) for code in SPELLINGS}


@pytest.mark.parametrize(
    ("language", "situation", "text", "wanted"),
    [
        # tones tell apart; a word without any is every word that it may be
        ("vi", "idle", "cháy", "danger life"),
        ("vi", "idle", "chay", "danger life"),
        ("vi", "idle", "nước chảy vào nhà", "not_understood"),
        ("vi", "idle", "nuoc chay vao nha", "not_understood"),
        ("vi", "idle", "nhà bi cháy", "danger life"),
        ("vi", "yesno", "không", "choice no"),
        ("vi", "yesno", "Dạ không ạ", "choice no"),
        ("vi", "yesno", "khong", "choice no"),
        ("vi", "count", "không", "count 0"),
        ("vi", "check_K1", "không", "not_understood"),
        ("vi", "idle", "K1 mười bốn rưỡi", "readings K1 14.5"),
        ("vi", "idle", "K1 muoi bon phay nam", "readings K1 14.5"),
        ("vi", "idle", "K1 hai mươi hai", "readings K1 22"),
        ("vi", "check_one", "sáu", "readings K1 mid_stud=6"),
        ("vi", "check_one", "sau", "unclear not_a_reading"),
        ("vi", "idle", "K1 sâu", "not_understood"),
        # Arabic letters, marks, digits, the article, particles, controls
        ("ar", "idle", "K1 ٢٢٫٥", "readings K1 22.5"),
        ("ar", "idle", "K1 ۲۲٫۵", "readings K1 22.5"),
        ("ar", "idle", "\u200fK1\u200f ٢٢، ١٩، ١٧\u202c", "readings K1 22 19 17"),
        ("ar", "idle", "K1 ٢٢٪", "readings K1 22"),
        ("ar", "idle", "K1 إثنان وعشرون", "readings K1 22"),
        ("ar", "idle", "K1 أَرْبَعَةَ عَشَر", "readings K1 14"),
        ("ar", "idle", "K1 اربعه عشر ونصف", "readings K1 14.5"),
        ("ar", "idle", "K1 اربعة عشر فاصلة خمسة", "readings K1 14.5"),
        ("ar", "idle", "K1 بعشرون", "not_understood"),
        ("ar", "idle", "الحـــريق", "danger life"),
        ("ar", "idle", "بيت يحترق", "danger life"),
        ("ar", "idle", "وحريق", "danger life"),
        ("ar", "yesno", "نعم شكرًا", "choice yes"),
        # no blanks, full width
        ("zh", "idle", "K1是２２，１９，１７", "readings K1 22 19 17"),
        ("zh", "idle", "K1十五点五", "readings K1 15.5"),
        ("zh", "idle", "K1二十二", "readings K1 22"),
        ("zh", "idle", "K1十五点半", "unclear many_numbers|readings K1 15|unclear not_a_reading|not_understood"),
        ("zh", "idle", "K1一四", "unclear many_numbers"),
        ("zh", "idle", "K1百分之十五", "readings K1 15"),
        ("zh", "idle", "K1：22。5", "readings K1 22.5"),
        ("zh", "idle", "Ｋ１　２２％", "readings K1 22"),
        ("zh", "idle", "5月19日K1 22 19 17", "readings K1 22 19 17 on 2026-05-19"),
        ("zh", "idle", "读22", "not_understood|unclear not_a_reading"),
        ("zh", "idle", "你好我家里闻到煤气", "danger gas"),
        ("zh", "idle", "没有煤气味", "not_understood"),
        ("zh", "yesno", "是的谢谢", "choice yes"),
        ("zh", "yesno", "不是", "choice no"),
        ("zh", "count", "〇", "count 0"),
        # elision, compound numbers
        ("fr", "idle", "K1 soixante-dix", "unclear too_far_up"),
        ("fr", "idle", "K1 soixante dix", "unclear too_far_up"),
        ("fr", "idle", "K1 vingt-et-un", "readings K1 21"),
        ("fr", "idle", "K1 vingt-et un", "readings K1 21"),
        ("fr", "idle", "K1 quatorze et demi", "readings K1 14.5"),
        ("fr", "idle", "K1 quatorze virgule cinq", "readings K1 14.5"),
        ("fr", "idle", "L’eau monte", "danger life"),
        ("fr", "idle", "leau monte", "danger life"),
        ("fr", "idle", "jai une odeur de gaz", "danger gas"),
        ("fr", "idle", "j'ai une odeur de gaz", "danger gas"),
        # spelled by ear: doubled letters, c left out, h for x; a short word and a word that is known stay what they are
        ("so", "idle", "aaryo", "mould seen"),
        ("so", "idle", "caryoo", "mould seen"),
        ("so", "idle", "gaska ayaa dadanaya", "danger gas"),
        ("so", "idle", "caaryo ma jirto", "not_understood"),
        ("so", "idle", "K1 labatan", "readings K1 20"),
        ("so", "idle", "K1 todobba", "readings K1 7"),
        ("so", "idle", "K1 lih", "not_understood"),
        ("so", "yesno", "haa", "choice yes"),
        ("so", "yesno", "ha", "not_understood"),
        ("so", "yesno", "mahay", "choice yes"),
        ("so", "yesno", "maxay", "choice no"),
        # the word that says which way the days go stands behind
        ("so", "date", "3 maalmood kadib", "date 2026-05-23"),
        ("so", "date_past", "3 maalmood ka hor", "date 2026-05-17"),
    ],
)  # fmt: skip
def test_what_is_typed_is_understood_in_its_spelling(
    lexicons, language: str, situation: str, text: str, wanted: str
) -> None:
    listening = replace(situations("en")[situation], language=language, places=places("en"))
    assert written(understand(text, listening, lexicons[language])) in wanted.split("|")


def test_no_number_word_sounds_like_another_word_of_its_language() -> None:
    """What is spelled by ear must never become another number, or a number of what is none."""
    for language, lexicon in load_lexicons(ROOT / "locales", ["en", "es", "so"]).items():
        numbers = tomllib.loads((ROOT / "locales" / language / "words.toml").read_text(encoding="utf-8"))["numbers"]
        spelled = {fold(word): value for word, value in numbers["words"].items()}
        spelled |= {re.sub(r"[ -]", "", word): value for word, value in spelled.items()}
        values: dict[str, set[object]] = {}
        for word in lexicon.speller.known:
            value = spelled.get(word)
            values.setdefault(lexicon.speller.by_ear(word), set()).add(value)
        assert {heard for heard, found in values.items() if len(found) > 1 and found - {None}} == set(), language


@pytest.mark.parametrize(
    ("language", "text"), [("vi", "cháy nhà"), ("ar", "الحريق"), ("zh", "闻到煤气"), ("fr", "l'eau monte")]
)
def test_danger_is_heard_in_its_spelling_by_who_is_written_to_in_english(lexicons, language: str, text: str) -> None:
    events = understand(text, situations("en")["first"], lexicons[language])
    assert events[0].name is EventName.DANGER


def test_a_tone_that_makes_another_word_is_no_danger_for_who_is_written_to_in_english(lexicons) -> None:
    events = understand("nước chảy vào nhà", situations("en")["first"], lexicons["vi"])
    assert EventName.DANGER not in [event.name for event in events]


@pytest.mark.parametrize(
    ("text", "language", "kind"),
    [
        ("the water gave me a tingle", "en", Danger.ELECTRIC),
        ("my grandma fell down and now she just does not answer", "en", Danger.LIFE),
        ("en el agua me dio como un hormigueo", "es", Danger.ELECTRIC),
    ],
)
def test_two_gaps_in_a_row_reach_twice_as_far(text: str, language: str, kind: Danger) -> None:
    lexicons = load_lexicons(ROOT / "locales", ["en", "es"])
    (event, *_) = understand(text, situations(language)["idle"], lexicons)
    assert (event.name, event.value) == (EventName.DANGER, kind)

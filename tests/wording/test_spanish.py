"""The Spanish catalogue as it is shipped: whole, polite, in the lexicon's own commands, with the English figures.

What only a reader of Spanish can judge stays open: every entry says so until somebody has signed it.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from guide_service.dialogue.answers import load_lexicons, understand
from guide_service.dialogue.events import Asked, Event, EventName, Listening
from guide_service.wording import formats
from guide_service.wording.catalogue import Catalogues, as_forms, catalogue_path, read_catalogue, sourced
from guide_service.wording.checking import CARRIER_KEYWORDS, TOLD_TO_PEOPLE
from guide_service.wording.gsm import gsm_safe
from guide_service.wording.longest import longest
from guide_service.wording.messages import load_messages
from guide_service.wording.segments import segments
from guide_service.wording.template import filled, placeholders

ROOT = Path(__file__).parents[2]
FLOWS, LOCALES = ROOT / "conversation_flows", ROOT / "locales"
LEXICONS = load_lexicons(LOCALES, ["en", "es"])
MESSAGES = load_messages(FLOWS)
CATALOGUE = read_catalogue(catalogue_path(LOCALES, "es"))
ENTRIES = {entry.context: entry for entry in sourced(MESSAGES.values())}
SPANISH = {str(entry.context): as_forms(entry.string) for entry in CATALOGUE if entry.context in ENTRIES}

COMMANDS = {
    "BACK": "ATRÁS",
    "CALLS": "LLAMADAS",
    "CODE": "CÓDIGO",
    "CONFIRM": "CONFIRMAR",
    "DONE": "LISTO",
    "HELLO": "HOLA",
    "JOIN": "UNIRME",
    "KEEP": "CONSERVAR",
    "LANGUAGE": "IDIOMA",
    "LATER": "LUEGO",
    "METER": "MEDIDOR",
    "MOLD": "MOHO",
    "NEXT": "SIGUIENTE",
    "PLACES": "LUGARES",
    "REPEAT": "REPITA",
    "READINGS": "LECTURAS",
    "SKIP": "SALTAR",
    "START": "START",
    "STATUS": "RESUMEN",
    "STOP": "STOP",
    "UNDO": "DESHACER",
    "WHY": "POR QUÉ",
}
SHOWN = {"CAUTION": "CUIDADO", "DANGER": "PELIGRO", "DRY": "SECO", "NEW": "NUEVO", "WET": "MOJADO", "WOOD": "WOOD"}
"""Words in capitals that nobody has to send alone: bands, an alarm, the print on a meter, NEW CODE."""
MORE_IN_SPANISH = {"ALTO", "MOJADO", "CUIDADO", "SECO", "SIN", "WOOD"}
"""ALTO beside the carrier's STOP; SIN LLAMADAS for NO CALLS; bands and the print on a meter where the English has them
in small letters."""
_CAPITALS = re.compile(r"\b[A-ZÁÉÍÓÚÜÑ]{3,}(?: QUÉ)?\b")

SEGMENTS = {1: 2, 2: 4, 3: 6}
"""Of a text with accents, by its budget in English: 70 characters fit where 160 do without them."""

_FAMILIAR = re.compile(
    r"\b(?:tú|tus?|te|ti|contigo|tuy[oa]s?|vos|os|vosotros|vuestr[oa]"
    r"|eres|estás|tienes|puedes|quieres|debes|necesitas|sabes|vas|ves|haces|dices|usas|mides|lavas|dejas|pones|sacas"
    r"|abres|cierras|lees|mandas|escribes|entras|vives|rentas|tenés|podés|querés|sos"
    r"|haz|pon|ten|vete|espérate|lávate|fíjate|quédate|llámanos|escríbenos|mándanos|dinos|avísanos"
    r"|llámal[oa]|ciérral[oa]|ábrel[oa]|sácal[oa]|ponl[oa]|déjal[oa]|límpial[oa]|escríbel[oa]|mándal[oa]|mídel[oa]"
    r"|hiciste|pusiste|tuviste|fuiste|viste|leíste|mediste|lavaste|mandaste|cerraste|abriste)\b"
    r"|\bno (?:l[aeo]s? )?[a-zñ]+(?:es|as)\b",
    re.IGNORECASE,
)
"""Words of the familiar form; "no uses", "no toques" and their like are found by their ending after "no"."""
_NO_VERB = {"no más", "no es", "no las"}

_ENGLISH = re.compile(
    r"\b(?:the|and|you|your|with|of|is|are|it|if|not|do|what|which|when|text|call|house|walls?|mold|meter|readings?|water"
    r"|wood|wet|dry|open|close|done|next|back|skip|hello|help|person|office|days?)\b"
)
SAME_IN_BOTH = {
    "paper.send_example", "call.choice_next", "call.value", "call.number_items", "call.heard_readings",
    "offer", "house.named", "heard.place", "heard.three", "heard.at", "verdict.name", "verdict.item", "why.place",
}  # fmt: skip
"""Texts with no word of their own."""

GLOSSARY = {
    r"\bmold\b": r"\bmoho\b",
    r"\bstuds?\b": r"\bmontantes?\b",
    r"\bbays?\b": r"\bhuecos?\b",
    r"\bbottom board\b": r"\btabla de abajo\b",
    r"\binsulation\b": r"\baislante\b",
    r"\bdrywall\b|\bwall board\b": r"\bpanel de yeso\b",
    r"\bbleach\b": r"\bcloro\b",
    r"\bcrawl space\b": r"\bbajo el piso\b",
    r"\bbasement\b": r"\bsótano\b",
    r"\bsewage\b": r"\baguas negras\b",
    r"\basbestos\b": r"\basbesto\b",
    r"\bgenerator\b": r"\bgenerador\b",
    r"\bpins\b": r"\bpuntas\b",
    r"\bpower company\b": r"\bcompañía de luz\b",
    r"\blandlord\b": r"\bdueño\b",
    r"\binsurers?\b": r"\baseguradoras?\b",
    r"\bpermits?\b": r"\bpermisos?\b",
    r"\belectrician\b": r"\belectricista\b",
    r"county's limit": r"límite del condado",
}


def plain(text: str) -> str:
    """A text without its placeholders."""
    return re.sub(r"%\(\w+\)s", " ", text)


def capitals(text: str) -> set[str]:
    return set(_CAPITALS.findall(plain(text)))


def heard(text: str, language: str = "es", asked: Asked | None = None, opted_out: bool = False) -> tuple[Event, ...]:
    listening = Listening(language, asked or Asked(), (), dt.date(2026, 5, 20), opted_out=opted_out)
    return understand(text, listening, LEXICONS)


def what(events: tuple[Event, ...]) -> list[tuple[EventName, object]]:
    return [(event.name, event.value) for event in events]


def both(context: str) -> tuple[str, str]:
    """English and Spanish, all forms of each."""
    return " ".join(ENTRIES[context].forms), " ".join(SPANISH[context])


def test_every_text_is_said_in_spanish() -> None:
    missing = Catalogues.load(LOCALES, MESSAGES, ["es"]).missing
    assert sorted(f"{lack.context}: {lack.why}" for lack in missing if lack.language == "es") == []


def test_no_english_is_left_over() -> None:
    same = {c for c, e in ENTRIES.items() if SPANISH[c] == e.forms} - SAME_IN_BOTH
    assert same == set()
    words = {c: _ENGLISH.findall(plain(both(c)[1])) for c in ENTRIES}
    assert {context: found for context, found in words.items() if found} == {}


def test_a_text_without_words_of_its_own_has_none() -> None:
    assert [c for c in SAME_IN_BOTH if re.search(r"[a-z]", plain(both(c)[0]))] == []


def test_the_polite_form_is_kept_throughout() -> None:
    found = {c: [m for m in _FAMILIAR.findall(both(c)[1]) if m.casefold() not in _NO_VERB] for c in ENTRIES}
    assert {context: words for context, words in found.items() if words} == {}


@pytest.mark.parametrize(
    "text",
    ["Llama a tu seguro.", "No toques el agua.", "¿Tienes un medidor?", "Escríbenos.", "no lo uses", "Haz fotos."],
)
def test_the_familiar_form_would_be_found(text: str) -> None:
    assert _FAMILIAR.search(text)


@pytest.mark.parametrize(("english", "spanish"), COMMANDS.items())
def test_a_command_means_in_spanish_what_it_means_in_english(english: str, spanish: str) -> None:
    assert what(heard(spanish)) == what(heard(english, "en"))
    assert EventName.NOT_UNDERSTOOD not in [event.name for event in heard(spanish)]


def test_stop_and_its_spanish_word_end_and_start_begins_again() -> None:
    assert [event.name for event in heard("ALTO")] == [event.name for event in heard("STOP")] == [EventName.STOP]
    assert [event.name for event in heard("START", opted_out=True)] == [EventName.START]


def test_every_text_names_the_commands_of_its_english_text_and_no_others() -> None:
    meant = {**COMMANDS, **SHOWN}
    wrong = {}
    for context in ENTRIES:
        english, spanish = (capitals(text) for text in both(context))
        expected = {meant[word] for word in english & meant.keys()}
        if expected - spanish or spanish - expected - MORE_IN_SPANISH:
            wrong[context] = (sorted(english), sorted(spanish))
    assert wrong == {}


def test_every_figure_is_the_english_one() -> None:
    wrong = {c: both(c) for c in ENTRIES if numbers(both(c)[0]) != numbers(both(c)[1])}
    assert wrong == {}


def numbers(text: str) -> list[str]:
    return sorted(re.findall(r"\d+", plain(text)))


def test_a_term_of_the_trade_is_one_word_everywhere() -> None:
    lacking = [
        f"{context}: {term}"
        for context in ENTRIES
        for term, word in GLOSSARY.items()
        if re.search(term, both(context)[0], re.IGNORECASE) and not re.search(word, both(context)[1], re.IGNORECASE)
    ]
    assert lacking == []


def test_nothing_is_called_safe() -> None:
    """ "Seguro" is said of insurance only; "safe" of a house, never."""
    said = {c: both(c) for c in ENTRIES if re.search(r"\bsegur[oa]s?\b|\ba salvo\b", both(c)[1], re.IGNORECASE)}
    assert [c for c, (english, _) in said.items() if "insur" not in english.casefold()] == []


def labels() -> Iterator[tuple[str, str]]:
    for context in ENTRIES:
        if context.startswith(("label.", "point.")):
            yield context, filled(SPANISH[context][0], {"limit": "15.5"})


def test_no_answer_is_a_carrier_keyword_or_a_word_that_ends_or_alarms() -> None:
    for context, label in labels():
        assert label.upper().strip("¿?.") not in CARRIER_KEYWORDS, context
        names = {event.name for event in heard(label)}
        assert not names & {EventName.STOP, EventName.START, EventName.DANGER}, context


def test_no_text_tells_people_to_send_a_word_that_ends() -> None:
    allowed = TOLD_TO_PEOPLE | {"ALTO"}
    told = re.compile(r"\b(?:escriba|mande|envíe|conteste|responda)(?: con)? [\"']?(\w+)", re.IGNORECASE)
    for context in ENTRIES:
        for word in told.findall(both(context)[1]):
            ends = EventName.STOP in {event.name for event in heard(word)} or word.upper() in CARRIER_KEYWORDS
            assert not ends or word in allowed, f"{context}: {word}"


def own_words(prefix: str) -> str:
    """The longest of our Spanish texts that stand in a place."""
    texts = [at_its_longest(SPANISH[c][0], c) for c in ENTRIES if c.startswith(prefix)]
    return max(texts, key=len)


def longest_date() -> str:
    days = (dt.date(2026, 1, 1) + dt.timedelta(days=n) for n in range(365))
    return max((formats.short_date(day, "es", True) for day in days), key=len)


def in_spanish(name: str, context: str) -> str | None:
    """The longest value of a place where a text of ours or a date stands in it."""
    points = [SPANISH[f"point.{point}"][0] for point in ("plate", "low_stud", "mid_stud")]
    if name in ("point", "points"):
        return own_words("point.") if name == "point" else formats.joined(points, "es")
    if name == "reason":
        return own_words("alarm.reason." if context.startswith("alarm.") else "reason.")
    if name == "reasons":
        return formats.joined([own_words("reason.")] * 2, "es")
    if name in ("date", "day", "earliest", "latest", "first_check", "next_check", "opens_day"):
        return longest_date()
    return {"label": lambda: own_words("label."), "urgency": lambda: SPANISH["alarm.routine"][0]}.get(
        name, lambda: None
    )()


def at_its_longest(text: str, context: str) -> str:
    values = {name: in_spanish(name, context) or longest(name, context) or "" for name in placeholders(text)}
    return gsm_safe(filled(text, values))


@pytest.mark.parametrize("budget", SEGMENTS)
def test_every_text_keeps_its_budget_with_the_longest_values(budget: int) -> None:
    over = []
    for context, entry in ENTRIES.items():
        if entry.message.budget == budget and not entry.spoken:
            counts = [segments(at_its_longest(form, context)).count for form in SPANISH[context]]
            over += [f"{context}: {count}" for count in counts if count > SEGMENTS[budget]]
    assert over == []


def test_every_entry_says_whether_a_speaker_has_signed_it() -> None:
    mark = re.compile(r"needs a speaker's review|reviewed by .+, \d{4}-\d{2}-\d{2}")
    unmarked = [e.context for e in CATALOGUE if e.context and not any(map(mark.fullmatch, e.user_comments))]
    assert unmarked == []
    signed = not any("needs a speaker's review" in entry.user_comments for entry in CATALOGUE)
    assert ("needs a speaker's review" in str(CATALOGUE.last_translator)) is not signed


def syllables(word: str) -> int:
    """Vowel groups; two strong vowels, or a weak one with an accent beside another, are two."""
    apart = re.sub(r"([aeoáéó])(?=[aeoáéóíú])|([íú])(?=[aeoáéó])", r"\1\2-", word.casefold().replace("qu", "k"))
    return max(1, len(re.findall(r"[aeiouáéíóúü]+", re.sub(r"gu(?=[eiéí])", "g", apart))))


def school_grade(text: str) -> float:
    """Grade of a Spanish text by Crawford (1989, Lectura y Vida 10(4)), from memory: made for primary school texts."""
    spoken = re.findall(r"[a-záéíóúüñ]+|\d+", filled(text, dict.fromkeys(placeholders(text), "casa")).casefold())
    sentences = max(1, len(re.findall(r"[.?!:;](?:\s|$)", text)))
    per_hundred = 100 / len(spoken)
    return -0.205 * sentences * per_hundred + 0.049 * sum(map(syllables, spoken)) * per_hundred - 3.407


def test_syllables_are_counted_as_spanish_counts_them() -> None:
    words = {
        "agua": 2,
        "río": 2,
        "pared": 2,
        "oído": 3,
        "quien": 1,
        "guía": 2,
        "humedad": 3,
        "vea": 2,
        "día": 2,
        "aislante": 3,
    }
    assert {word: syllables(word) for word in words} == words


def test_no_text_is_harder_than_the_sixth_grade() -> None:
    long = [c for c in ENTRIES if len(plain(SPANISH[c][-1]).split()) >= 15]
    hard = {c: round(school_grade(SPANISH[c][-1]), 1) for c in long if school_grade(SPANISH[c][-1]) > 6}
    assert hard == {}

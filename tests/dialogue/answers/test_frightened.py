"""First texts of frightened people, misspelt and mixed: what keeps them safe is heard, whatever stands beside it."""

from __future__ import annotations

import pytest

from guide_service.dialogue.answers import understand, with_language
from guide_service.dialogue.events import Asked, Danger, Event, EventName, Listening
from tests.dialogue.answers.situations import LANGUAGES, lexicons
from tests.dialogue.world import TODAY

GO_IN, FLOODED, SEWAGE = "topic enter_house", "told flooded.now", "told water.sewage"
AT_RISK = "told risk.yes"
OF_THE_FLOOD = {FLOODED, "new_water", "topic just_flooded"}


def heard(text: str, language: str = "en", **listening: bool) -> list[str]:
    """The events of ``text`` in words: ``topic enter_house``."""
    first = listening.get("first_contact", False)
    against = Listening(language, Asked(), (), TODAY, introducing=first, **listening)
    events = understand(text, against, lexicons())
    if against.first_contact:
        events = with_language(text, events, language, lexicons())
    return [_told(event) for event in events]


def _told(event: Event) -> str:
    return str(event.name) if event.value is None else f"{event.name} {event.value}"


FIRST = [
    ("en", "hi our hose flooded wih sewege last nite. i hav a baby. can we go bak in tonite", {SEWAGE, AT_RISK}),
    ("es", "mi casa se inundo con aguas negras y tengo un bebe podemos volver esta noche", {SEWAGE, AT_RISK}),
    ("es", "mi casa se inundo con sewage y tengo un bebe podemos volver esta noche", {SEWAGE, AT_RISK}),
    ("fr", "notre maison est inondée par les égouts, j'ai un bébé, on peut rentrer ce soir ?", {SEWAGE, AT_RISK}),
    ("ht", "kay mwen inonde ak dlo egou, mwen gen yon ti bebe, eske nou ka tounen aswe a", {SEWAGE, AT_RISK}),
    ("vi", "nha toi bi ngap nuoc cong, co em be, toi nay ve nha duoc khong", {SEWAGE, AT_RISK}),
    ("ar", "المنزل غرق بمياه المجاري وعندي رضيع، هل يمكن أن نرجع الليلة؟", {SEWAGE, AT_RISK}),
    ("zh", "我们家被淹了，有污水，家里有婴儿，今晚能回去吗", {SEWAGE, AT_RISK}),
    ("so", "gurigayaga biyo bulaacad ayaa galay, ilmo yar ayaan haynaa, caawa ma ku noqon karnaa guriga",
     {SEWAGE, AT_RISK}),
]  # fmt: skip


@pytest.mark.parametrize(("language", "text", "told"), FIRST)
def test_a_first_text_is_heard_whole_and_going_in_is_answered_first(language: str, text: str, told: set[str]) -> None:
    """Nobody knows the language of a first text: it is heard against English, the county's first language."""
    events = [event for event in heard(text, first_contact=True) if not event.startswith("language")]
    assert events[0] == GO_IN
    assert told <= set(events)
    assert OF_THE_FLOOD & set(events)
    assert not any(event.startswith("danger") for event in events)
    assert f"language {language}" in heard(text, first_contact=True)


GOING_IN = {
    "en": "can i go bak in tonite", "es": "puedo regresar esta noche", "fr": "on peut rentrer ce soir",
    "ht": "eske m ka tounen lakay aswe a", "vi": "tối nay tôi về nhà được không", "ar": "هل نقدر نرجع الليلة",
    "zh": "今晚能回去吗", "so": "caawa ma noqon karaa guriga",
}  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_going_in_alone(language: str) -> None:
    assert GO_IN in heard(GOING_IN[language], language, first_contact=True)


FLOODED_FIRST = {
    "en": ["my hose just floded an hour ago wih sewege", "the house is drowned", "everything is flooded"],
    "es": ["mi casa flooded con aguas negras ayer", "la casa está ahogada", "se inundó la casa"],
    "fr": ["ma maison est noyée", "tout est inondé"],
    "ht": ["kay mwen noye", "dlo antre nan kay la"],
    "vi": ["nhà tôi ngập rồi", "nha bi lut"],
    "ar": ["غرق بيتنا", "دخلت المياه إلى البيت", "البيت غرق كله"],
    "zh": ["房子淹了", "家里进水了"],
    "so": ["guriga daad ayaa galay", "gurigu wuu qaraqmay"],
}


@pytest.mark.parametrize(
    ("language", "text"), [(code, text) for code, texts in FLOODED_FIRST.items() for text in texts]
)
def test_a_flooded_house_is_heard_and_is_nobody_drowning(language: str, text: str) -> None:
    events = heard(text, language, first_contact=True)
    assert OF_THE_FLOOD & set(events), events
    assert not any(event.startswith("danger") for event in events), events


DROWNING = {
    "en": ["my son is drowning", "house is drowned and my son is drowning"],
    "es": ["mi hijo se ahoga", "la casa está ahogada y mi hijo se está ahogando"],
    "fr": ["mon fils se noie", "la maison est noyée et mon fils se noie"],
    "ht": ["pitit mwen ap noye", "kay la noye, pitit mwen ap noye"],
    "vi": ["con tôi bị đuối nước", "nhà ngập rồi, con tôi đuối nước"],
    "ar": ["ابني يغرق", "غرق ابني", "غرق", "بيتنا غرق وابني يغرق", "غرق بيتنا وابني عم يغرق"],
    "zh": ["我儿子快淹死了", "房子淹了，孩子掉进水里"],
    "so": ["wiilkaygii wuu qaraqmayaa", "gurigu wuu qaraqmay, wiilkaygu wuu qaraqmayaa"],
}


@pytest.mark.parametrize(("language", "text"), [(code, text) for code, texts in DROWNING.items() for text in texts])
def test_a_drowning_person_is_danger_beside_a_drowned_house_too(language: str, text: str) -> None:
    assert f"danger {Danger.LIFE}" in heard(text, language, first_contact=True)


UNWELL = {
    "en": "ok thanks and i have a headache", "es": "gracias, me duele la cabeza", "fr": "merci, et j'ai mal à la tête",
    "ht": "mesi, tet mwen fe mal", "vi": "cảm ơn, tôi nhức đầu quá", "ar": "شكرا عندي صداع", "zh": "谢谢，我头很晕",
    "so": "mahadsanid, madaxa ayaa i xanuunaya",
}  # fmt: skip
WELL = {
    "en": "i dont have a headache", "es": "no me duele la cabeza", "fr": "je n'ai pas mal à la tête",
    "ht": "tet mwen pa fe mal", "vi": "tôi không nhức đầu", "ar": "ما عندي صداع", "zh": "我没有头晕",
}  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_headache_after_gas_is_danger_in_whatever_language_the_chat_is(language: str) -> None:
    for chat in {language, "en"}:
        assert f"danger {Danger.CARBON_MONOXIDE}" in heard(UNWELL[language], chat, fumes=True)
    assert not any(event.startswith("danger") for event in heard(UNWELL[language], language))


@pytest.mark.parametrize("language", WELL)
def test_no_headache_is_none(language: str) -> None:
    assert not any(event.startswith("danger") for event in heard(WELL[language], language, fumes=True))


SEWAGE_SMELL = {
    "en": "it smells bad of sewage", "es": "huele feo a aguas negras", "fr": "ça sent mauvais, les égouts",
    "ht": "dlo egou a santi move", "vi": "nuoc cong hoi lam", "ar": "رائحة المجاري كريهة", "zh": "下水道很臭",
    "so": "bulaacadda ur xun ayaa ka imanaysa",
}  # fmt: skip
BAD_SMELL = {
    "en": "it stinks", "es": "huele feo", "fr": "ça pue", "ht": "li santi move", "vi": "hôi quá", "ar": "رائحة كريهة",
    "zh": "很臭", "so": "ur xun",
}  # fmt: skip
MUSTY = {
    "en": "it smells musty", "es": "huele a humedad", "fr": "ça sent le moisi", "ht": "li santi mwazi",
    "vi": "có mùi mốc", "ar": "ريحة عفن", "zh": "有霉味", "so": "ur caaryo",
}  # fmt: skip
NO_MOULD = {
    "en": "no mold only sewage smell", "es": "no hay moho, solo huele a aguas negras",
    "fr": "pas de moisissure, seulement les égouts", "ht": "pa gen mwazi, se sant egou",
    "vi": "khong co moc chi hoi nuoc cong",
    "ar": "لا يوجد عفن فقط رائحة المجاري", "zh": "没有霉，只有污水味", "so": "caaryo ma jirto, waa ur bulaacad",
}  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_smell_is_mould_only_where_it_is_said(language: str) -> None:
    assert not any(event.startswith("mould") for event in heard(SEWAGE_SMELL[language], language))
    assert "mould smell" in heard(BAD_SMELL[language], language)
    assert "mould smelt" in heard(MUSTY[language], language)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_denial_is_heard_where_mould_is_asked_about_and_makes_no_report(language: str) -> None:
    events = heard(NO_MOULD[language], language, about_mould=True)
    assert "mould none" in events
    assert not {"mould seen", "mould smelt", "mould smell"} & set(events)
    assert not any(event.startswith("mould") for event in heard(NO_MOULD[language], language))


WHERE_TO_SLEEP = {
    "en": "where do we sleep", "es": "dónde vamos a dormir", "fr": "où est-ce qu'on dort", "ht": "ki kote n ap dòmi",
    "vi": "chúng tôi ngủ ở đâu", "ar": "أين ننام", "zh": "我们今晚睡哪里", "so": "xaggee seexanaynaa",
}  # fmt: skip
WHOM_TO_CALL = {
    "en": "who do i call", "es": "a quién llamo", "fr": "qui appeler", "ht": "ki moun pou m rele", "vi": "gọi cho ai",
    "ar": "بمن أتصل", "zh": "该打给谁", "so": "yaan wacaa",
}  # fmt: skip
SHAKING = {
    "en": "im shaking", "es": "estoy temblando", "fr": "je tremble", "ht": "m ap tranble", "vi": "tôi run quá",
    "ar": "عم برجف", "zh": "我一直在发抖", "so": "waan gariirayaa",
}  # fmt: skip
POWER_OFF = {
    "en": "how do i turn of the power", "es": "cómo apago la luz", "fr": "comment couper le courant",
    "ht": "kijan pou m fèmen kouran an", "vi": "làm sao tắt điện", "ar": "كيف أقطع الكهرباء", "zh": "怎么关电",
    "so": "sidee korontada u damiyaa",
}  # fmt: skip
LOST = {
    "en": "i cant find k3", "es": "no encuentro k3", "fr": "je ne trouve pas k3", "ht": "m pa jwenn k3",
    "vi": "tôi không tìm thấy k3", "ar": "لا أجد k3", "zh": "找不到 k3", "so": "k3 ma heli karo",
}  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_frightened_people_ask(language: str) -> None:
    assert "topic help_lines" in heard(WHERE_TO_SLEEP[language], language)
    assert "topic help_lines" in heard(WHOM_TO_CALL[language], language)
    assert "upset" in heard(SHAKING[language], language)
    assert "topic power_off" in heard(POWER_OFF[language], language)
    assert "unsure" in heard(LOST[language], language)


def test_an_address_alone_can_be_deleted() -> None:
    assert heard("delete my adress") == ["deletion"]


def test_a_question_in_another_language_is_answered_and_never_lost() -> None:
    assert heard("how do i turn of the power", "es") == ["language en", "topic power_off"]
    assert heard("there was a thing in the what is it", "es")[-1] == str(EventName.NOT_UNDERSTOOD)


def test_a_text_that_has_no_language_is_asked_for_one() -> None:
    for text in ("hello", "ok", "3", "Millrace"):
        assert not any(event.startswith("language") for event in heard(text, first_contact=True)), text

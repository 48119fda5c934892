"""What a notice says in each language: own words, else the ready-made text, in the frame that every notice has.

The frame names the office and says how to end the texts: the carriers' principles (CTIA, 2023, 5.1.3) want the way out
in the message itself. Nothing is sent in a language of which there are no words: nobody gets a text that was meant for
others.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from guide_service.dialogue.saying import Say
from guide_service.wiring import Service
from guide_service.wording.catalogue import SOURCE_LANGUAGE
from guide_service.wording.gsm import gsm_safe
from guide_service.wording.render import render
from guide_service.wording.segments import segments
from guide_service.wording.sms import MOST_SEGMENTS, MOST_WIDE_SEGMENTS, SmsText

FRAME = "many.frame"
READY_MADE = "many.say."
"""Beginning of the ids of texts that can be chosen; what they may name stands in ``_arguments``."""


@dataclass(frozen=True, slots=True)
class Version:
    """The words of one language, as they are sent."""

    language: str
    text: SmsText
    own: bool

    @property
    def too_long(self) -> bool:
        return self.text.segments > (MOST_SEGMENTS if self.text.encoding == "GSM-7" else MOST_WIDE_SEGMENTS)


def ready_made(service: Service, reader: str = SOURCE_LANGUAGE) -> dict[str, str]:
    """The texts that exist in every language of the county: id and words in the reader's language."""
    ids = [each for each in service.catalogues.messages if each.startswith(READY_MADE)]
    everywhere = [each for each in ids if all(_said_in(service, each, to) for to in service.county.languages)]
    return {each: render(Say(each, _arguments(service)), reader, service.catalogues) for each in everywhere}


def versions(service: Service, phrase: str | None, own: Mapping[str, str]) -> dict[str, Version]:
    """By language, in the order of the county's list."""
    found = ((language, _version(service, language, phrase, own)) for language in service.county.languages)
    return {language: version for language, version in found if version is not None}


def spoken(service: Service, phrase: str | None, own: Mapping[str, str], language: str) -> Say:
    """The same by call: whose words they are, and the words."""
    words = own.get(language, "").strip()
    said: str | Say = words or Say(phrase or FRAME, _arguments(service))
    return Say("call.agent_says", {"office": service.county.office_name, "words": said})


def _version(service: Service, language: str, phrase: str | None, own: Mapping[str, str]) -> Version | None:
    written = own.get(language, "").strip()
    if not _said_in(service, FRAME, language):
        return None
    if written:
        return Version(language, _framed(service, language, gsm_safe(written), (FRAME,)), own=True)
    if phrase and _said_in(service, phrase, language):
        said = Say(phrase, _arguments(service))
        return Version(language, _framed(service, language, said, (FRAME, phrase)), own=False)
    return None


def _framed(service: Service, language: str, words: str | Say, ids: tuple[str, ...]) -> SmsText:
    frame = Say(FRAME, {"office": service.county.office_name, "words": words})
    body = render(frame, language, service.catalogues)
    counted = segments(body)
    return SmsText(body, counted.encoding, counted.count, ids)


def _said_in(service: Service, message_id: str, language: str) -> bool:
    catalogues = service.catalogues
    if message_id not in catalogues.messages:
        return False
    lacking = any((each.language, each.context) == (language, message_id) for each in catalogues.missing)
    return language == "en" or (language in catalogues.languages and not lacking)


def _arguments(service: Service) -> dict[str, str]:
    return {"callback": service.county.call_back, "emergency": service.county.emergency_number}

"""Ready-made sentences: an agent picks one in the language of the pages, the person reads it in his or her own.

Only sentences that exist in every language of the county are offered, so that none arrives in English by surprise.
"""

from __future__ import annotations

from guide_service.console.catalogue import SOURCE_LANGUAGE, language
from guide_service.county import County
from guide_service.dialogue.saying import Say
from guide_service.wiring import Service
from guide_service.wording.render import render
from guide_service.wording.segments import segments
from guide_service.wording.sms import SmsText

PREFIX = "agent.phrase."


def phrases(service: Service) -> dict[str, str]:
    """Id and words of each in the agent's language, in the order of the flow file."""
    lacking = {each.context for each in service.catalogues.missing if each.language in service.county.languages}
    ids = [each for each in service.catalogues.messages if each.startswith(PREFIX) and each not in lacking]
    return {each: render(_say(service, each), reader(service), service.catalogues) for each in ids}


def reader(service: Service) -> str:
    """The language in which the agent reads the households' texts: that of the pages, where those texts have it."""
    return language() if language() in service.county.languages else SOURCE_LANGUAGE


def in_language(service: Service, phrase: str, language: str) -> str:
    return render(_say(service, phrase), language, service.catalogues)


def phrase_text(service: Service, phrase: str, language: str, signature: str) -> SmsText:
    """As it is sent, in the person's language, with the agent's name as the county wants it."""
    body = signed(in_language(service, phrase, language), signature)
    counted = segments(body)
    return SmsText(body, counted.encoding, counted.count, (phrase,))


def signature_of(county: County, agent_name: str) -> str:
    return county.agent_signature.replace("%(name)s", agent_name)


def signed(body: str, signature: str) -> str:
    return f"{body}\n{signature}" if signature and body else body


def _say(service: Service, phrase: str) -> Say:
    county = service.county
    args = {"office": county.office_name, "callback": county.call_back, "emergency": county.emergency_number}
    return Say(phrase, args)

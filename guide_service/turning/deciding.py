"""What a turn comes to, without touching the database: a plan of what is said, stored and changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from guide_service.carrier.form import InboundText
from guide_service.carrier.phone_numbers import Origin
from guide_service.dialogue.answers import Lexicon, understand, with_language
from guide_service.dialogue.by_call import as_heard
from guide_service.dialogue.effects import (
    CancelChecks,
    Effect,
    Escalate,
    EscalationReason,
    OptIn,
    OptOut,
    SetContact,
    Urgency,
)
from guide_service.dialogue.effects_house import SpeakOf
from guide_service.dialogue.events import Asked, Event, EventName, Listening
from guide_service.dialogue.facts import Facts
from guide_service.dialogue.machine import Standing, advance
from guide_service.dialogue.saying import Say
from guide_service.records.loading import Known
from guide_service.turning.houses import Meant, asked_of_house
from guide_service.turning.knowing import facts_of, listening_of, standing_of
from guide_service.turning.naming import has_something_to_hide
from guide_service.turning.understood import as_stored
from guide_service.wiring import Service
from guide_service.wording.render import render
from guide_service.wording.sms import SmsText, compose
from guide_service.wording.voice import said_on_call

MOST_MISSES = 6
"""So many texts in a row that nobody could understand, after the answer that a person was told: a loop of machines."""
WITH_AN_AGENT = frozenset({EventName.DANGER, EventName.STOP})
"""All that the machine answers while an agent has taken over."""


ASK_NOTHING = frozenset({EventName.SILENCE_DUE, EventName.SILENT})
"""After these an open question is as old as it was: who answers weeks later begins something new."""
EVEN_STOPPED = frozenset({EventName.DANGER, EventName.PERSON})
"""What a caller is answered who asked us to stop: they are on the phone and listen."""


class Silence(StrEnum):
    OPTED_OUT = "opted_out"
    TAKEN_OVER = "taken_over"
    AUTOMATIC = "automatic"
    CARRIER_ANSWERED = "carrier_answered"
    NO_RETURN_ADDRESS = "no_return_address"
    NOTHING_TO_SAY = "nothing_to_say"


@dataclass(frozen=True, slots=True)
class Plan:
    standing: Standing | None
    """None: the conversation stays as it is."""
    texts: tuple[SmsText, ...] = ()
    effects: tuple[Effect, ...] = ()
    silence: Silence | None = None
    language: str = "en"
    understood: list[dict[str, object]] = field(default_factory=list)
    failed: bool = False
    says: tuple[Say, ...] = ()
    """What the texts are made of: a call says it in pieces."""


def plan_text(service: Service, inbound: InboundText, origin: Origin, meant: Meant) -> Plan:
    known = meant.known
    facts = facts_of(service, known, service.clock.now(), heard=meant.code, houses=meant.houses)
    facts = on_call(service, facts, inbound, known) if inbound.call else facts
    standing = standing_of(known, service.flows.initial, service.clock.now())
    if not origin.kind.answerable:
        return Plan(None, silence=Silence.NO_RETURN_ADDRESS, language=facts.language)
    events, let_go = _events(service, inbound, meant, facts, standing)
    understood = as_stored(events)
    if inbound.opt_out_type and not _ordinary(inbound.opt_out_type, facts):
        return _carrier_answered(inbound, facts, events, understood)
    if facts.opted_out and events[0].name != EventName.START:
        urgent = tuple(event for event in events if event.name in EVEN_STOPPED)
        if inbound.call is None or not urgent:
            return _kept_quiet(facts, events, understood)
        events = urgent
    if known is not None and known.who.taken_over_by is not None:
        events = tuple(event for event in events if event.name in WITH_AN_AGENT)
        if not events:
            return Plan(None, silence=Silence.TAKEN_OVER, language=facts.language, understood=understood)
    if _looping(standing, events) and inbound.call is None:
        return Plan(None, silence=Silence.AUTOMATIC, language=facts.language, understood=understood)
    plan = _advanced(service, standing, events, facts, inbound.call is not None)
    if let_go:
        plan = replace(plan, says=(Say("call.moved"), *plan.says))
    return replace(plan, understood=understood, effects=(*plan.effects, *meant.switch()))


def plan_started(service: Service, known: Known, event: Event) -> Plan:
    """For something that fell due: nothing is said to somebody who opted out or whom an agent talks to."""
    facts = facts_of(service, known, service.clock.now())
    plan = _advanced(service, standing_of(known, service.flows.initial, service.clock.now()), (event,), facts)
    if facts.opted_out or known.who.taken_over_by is not None or not facts.consented:
        return replace(plan, standing=None, texts=())
    if event.name in ASK_NOTHING and plan.standing is not None and plan.standing.state == known.who.state:
        return replace(plan, standing=None)
    return plan


def plan_apology(service: Service, known: Known | None) -> Plan:
    """A fault of ours: the text is kept, the person is told in plain words, an agent sees it."""
    language = known.who.language if known else service.county.languages[0]
    facts = service.county_facts
    args = {"emergency": facts.emergency_number, "callback": facts.call_back, "office": facts.office_name}
    says = (Say("failure.sorry", args),)
    texts = compose(says, language, service.catalogues)
    effects = (Escalate(EscalationReason.FAILURE, Urgency.URGENT),)
    if known is not None and known.who.opted_out_at is not None:
        return Plan(None, effects=effects, silence=Silence.OPTED_OUT, language=language, failed=True)
    return Plan(None, texts, effects, language=language, failed=True, says=says)


def on_call(service: Service, facts: Facts, inbound: InboundText, known: Known | None) -> Facts:
    """Facts of somebody at the phone: whose number is not vouched for, or serves several houses, shows first whose
    house it is."""
    call = inbound.call
    assert call is not None
    a_house = known is not None and known.who.household_id is not None and not known.joining
    hides = known is not None and a_house and has_something_to_hide(service, known)
    shared = known is not None and (known.who.houses or 0) > 1
    proof = facts.house.must_prove or ((call.doubted or shared) and hides)
    house = replace(facts.house, one_call=call.one_call, must_prove=proof)
    if call.household is not None:
        house = replace(house, several=False, must_prove=False)
    return replace(facts, house=house, language=call.language or facts.language)


def _events(
    service: Service, inbound: InboundText, meant: Meant, facts: Facts, standing: Standing
) -> tuple[tuple[Event, ...], bool]:
    """The events, and whether some of them answered a question that is not the open one any more."""
    call = inbound.call
    if call is None:
        return _of_text(service, inbound, meant, facts, standing), False
    events = (call.said,) if call.said is not None else _of_text(service, inbound, meant, facts, standing)
    kept, let_go = as_heard(events, call, standing.state, standing.asked)
    return kept or (Event(EventName.GREETING),), let_go


def _of_text(
    service: Service, inbound: InboundText, meant: Meant, facts: Facts, standing: Standing
) -> tuple[Event, ...]:
    """What the text says; a picture is an event of its own, which words may come with."""
    if inbound.media and not inbound.body.strip():
        return (Event(EventName.PICTURE),)
    listening, events = heard(meant.body, facts, standing, service.lexicons)
    if facts.house.several and not facts.house.must_prove:
        asked = asked_of_house(meant, events, listening, service.lexicons, service.clock.now())
        events = events if asked is None else (asked,)
    return (*events, Event(EventName.PICTURE)) if inbound.media else events


def heard(
    body: str, facts: Facts, standing: Standing, lexicons: Mapping[str, Lexicon]
) -> tuple[Listening, tuple[Event, ...]]:
    """What the words mean to somebody who stands there, and what they were understood against."""
    listening = listening_of(facts, standing)
    events = understand(body, listening, lexicons)
    if listening.first_contact:
        settled = len(facts.county.languages) < 2 or standing.slots.get("language_known") is True
        events = with_language(body, events, listening.language, lexicons, settled=settled)
    return listening, events


def _ordinary(opt_out_type: str, facts: Facts) -> bool:
    """START, or a plain "yes", from somebody who is opted in is an ordinary answer."""
    return opt_out_type == "START" and not facts.opted_out


def _carrier_answered(
    inbound: InboundText, facts: Facts, events: Sequence[Event], understood: list[dict[str, object]]
) -> Plan:
    """The carrier has answered already: its decision is ours, and nothing more is said."""
    effects: list[Effect] = list(_dangers(events))
    if inbound.opt_out_type == "STOP" and not facts.opted_out:
        effects += [OptOut(inbound.body), CancelChecks()]
    if inbound.opt_out_type == "START" and facts.opted_out:
        effects.append(OptIn(inbound.body))
    standing = Standing("stopped") if inbound.opt_out_type == "STOP" else None
    if inbound.opt_out_type == "START":
        standing = Standing("home.rest")
    return Plan(standing, (), tuple(effects), Silence.CARRIER_ANSWERED, facts.language, understood)


def _kept_quiet(facts: Facts, events: Sequence[Event], understood: list[dict[str, object]]) -> Plan:
    """Stopped: nothing is sent, but words of danger still reach an agent."""
    return Plan(None, (), tuple(_dangers(events)), Silence.OPTED_OUT, facts.language, understood)


def _dangers(events: Sequence[Event]) -> list[Effect]:
    return [
        Escalate(EscalationReason.DANGER, Urgency.DANGER, {"kind": str(event.value)})
        for event in events
        if event.name == EventName.DANGER
    ]


def _looping(standing: Standing, events: Sequence[Event]) -> bool:
    misses = standing.slots.get("misses")
    nothing_understood = all(event.name == EventName.NOT_UNDERSTOOD for event in events)
    return nothing_understood and isinstance(misses, int) and misses >= MOST_MISSES


def _advanced(
    service: Service, standing: Standing, events: Sequence[Event], facts: Facts, spoken: bool = False
) -> Plan:
    decision = advance(service.flows, standing, events, facts)
    language = _language(decision.effects, facts.language)
    says = _named(decision.says, facts, decision.effects)
    texts = (said_on_call if spoken else compose)(says, language, service.catalogues)
    asked = as_sent(decision.standing.asked, decision.says, service, language)
    silence = None if texts else _silence_after(events)
    standing = replace(decision.standing, asked=asked)
    return Plan(standing, texts, decision.effects, silence, language, says=tuple(says))


def _named(says: Sequence[Say], facts: Facts, effects: Sequence[Effect]) -> Sequence[Say]:
    """What is said to a phone of several houses names the house first; danger and stop are of no house."""
    switches = any(isinstance(effect, SpeakOf | OptOut) for effect in effects)
    urgent = bool(says) and says[0].id.startswith("danger.")
    if not facts.house.several or facts.house.must_prove or not says or switches or urgent:
        return says
    return (Say("house.named", {"house": facts.house.name}), *says)


def _silence_after(events: Sequence[Event]) -> Silence:
    automatic = any(event.name == EventName.AUTOMATIC for event in events)
    return Silence.AUTOMATIC if automatic else Silence.NOTHING_TO_SAY


def _language(effects: Sequence[Effect], language: str) -> str:
    chosen = [effect.language for effect in effects if isinstance(effect, SetContact) and effect.language]
    return chosen[-1] if chosen else language


def as_sent(asked: Asked, says: Sequence[Say], service: Service, language: str) -> Asked:
    """The offered answers with the words that the person sees, kept as they were sent."""
    labels = {str(say.args["number"]): say.args["label"] for say in says if say.id == "offer"}
    shown = {number: _words(label, service, language) for number, label in labels.items()}
    return replace(
        asked, offers=tuple(replace(o, words=(shown[o.number],)) if o.number in shown else o for o in asked.offers)
    )


def _words(label: object, service: Service, language: str) -> str:
    return render(label, language, service.catalogues) if isinstance(label, Say) else str(label)

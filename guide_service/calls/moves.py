"""What becomes of a caller's move: the call's own business (again, more, silence, read back, a person ...) or a turn of
the conversation."""

from __future__ import annotations

from dataclasses import replace

from guide_service.calls import line as rows
from guide_service.calls import script as scripts
from guide_service.calls.call import Call
from guide_service.calls.hearing import READ_BACK, Do, Move, choose
from guide_service.calls.placing import BY_CALL, brought
from guide_service.calls.prompt import HOLD, Prompt, Utterance, utterance
from guide_service.calls.ringing import office_number
from guide_service.calls.script import Script
from guide_service.calls.whose import house_of, read_code
from guide_service.carrier.phone_numbers import SenderKind
from guide_service.database import writing
from guide_service.dialogue.answers import understand
from guide_service.dialogue.deeds_reaching import NO_CALLS
from guide_service.dialogue.events import Event, EventName
from guide_service.dialogue.saying import Say
from guide_service.outbox import start_text
from guide_service.records import Contact
from guide_service.turning.knowing import facts_of
from guide_service.wording.recorded import has_voice
from guide_service.wording.sms import compose
from guide_service.wording.voice import Piece

LAST_SILENCE = 3
"""Silences in a row that are borne; the next one ends the call with a kind word."""


def first_prompt(call: Call) -> Prompt | None:
    """A prompt of the call's own, before the conversation is heard; None: the conversation goes on at once."""
    if call.kind is SenderKind.CALL:
        return call.script.hidden()
    if call.known is None:
        return None
    if call.known.who.opted_out_at is not None:
        return call.script.stopped()
    if (call.known.who.houses or 0) > 1:
        return call.script.whose(scripts.WHICH_HOUSE, told=(call.script.say("call.hello"),))
    return None


def greet(call: Call) -> Utterance:
    """Where the conversation stands, from its beginning for somebody new."""
    call.line = replace(call.line, told=True)
    said = brought(call.service, call.line.message, call.script)
    if said:
        return call.turn("", Event(EventName.GREETING), then=lambda _, prompt: _after_words(said, prompt))
    known = call.known is not None and not call.line.ours
    return call.turn("", Event(EventName.GREETING), then=_hello if known else None)


def carry_out(call: Call, move: Move) -> Utterance:
    line, prompt = call.line, call.line.prompt
    assert prompt is not None
    match move.do:
        case Do.SILENCE:
            return _silence(call)
        case Do.REPEAT:
            return call.say_again(replace(line, page=0, silences=0))
        case Do.MORE:
            return call.say_again(replace(line, page=(line.page + 1) % prompt.pages, silences=0))
        case Do.WRONG:
            return _wrong(call, prompt)
        case Do.WAIT:
            return call.step(replace(line, silences=0), _waiting(call, prompt))
        case Do.PERSON:
            return person(call)
        case Do.ENDING:
            return call.put(call.script.ending(_reached(call)))
        case Do.CHOSEN:
            return _chosen(call, move.value)
        case Do.READ_BACK:
            return _read_back(call, move, prompt)
        case Do.TURN:
            return call.turn(move.value, move.events[0] if move.events else None)


def _silence(call: Call) -> Utterance:
    line, prompt = call.line, call.line.prompt
    assert prompt is not None
    silences = line.silences + 1
    line = replace(line, silences=silences, page=0)
    if silences > LAST_SILENCE:
        return call.put(call.script.good_bye("call.bye_silent"))
    if silences == LAST_SILENCE:
        still = replace(utterance(prompt, 0, silences), pieces=(call.script.say("call.still"),))
        return call.step(line, still)
    before = (call.script.say("call.take_time"),) if silences == 1 else ()
    return call.step(line, utterance(prompt, 0, silences, before))


def _waiting(call: Call, prompt: Prompt) -> Utterance:
    return replace(utterance(prompt), pieces=(call.script.say("call.waiting"),), wait=HOLD)


def _wrong(call: Call, prompt: Prompt) -> Utterance:
    """Asked again with how to answer it, without counting as a misunderstanding."""
    how = call.script.how(prompt)
    lessons = (how, *(("call.key_readings_more",) if how == "call.key_readings" else ())) if how else ()
    taught = replace(prompt.again(), how=tuple(call.script.say(each) for each in lessons))
    line = replace(call.line, page=0, silences=0)
    return call.step(line, utterance(taught, before=(call.script.say("call.wrong_key"),)))


def _read_back(call: Call, move: Move, prompt: Prompt) -> Utterance:
    """What holds a number is said back; what the conversation will ask about anyway goes straight to it."""
    if prompt.state in (scripts.CODE, scripts.WHICH_HOUSE):
        return _shown(call, move.value)
    events = move.events
    if not events:
        asked = prompt.asked
        listening = call.listening()
        against = replace(listening, asked=asked) if asked is not None else listening
        events = understand(move.value, against, call.service.lexicons)
        if not any(event.name in READ_BACK for event in events):
            return call.turn(move.value, None)
    chosen = next((str(event.value) for event in events if event.name is EventName.CHOICE), "")
    line = call.line.putting(call.script.confirm(move.value, events, prompt.asked, call.line.taught))
    line = replace(line, pending={"words": move.value, "choice": chosen})
    return call.step(line, utterance(line.prompt or prompt, fresh=True))


def _chosen(call: Call, key: str) -> Utterance:
    script, under = call.script, call.line.of_conversation
    match key:
        case scripts.RIGHT:
            return _confirmed(call)
        case scripts.WRONG | scripts.GO_ON:
            return call.put(under.again()) if under is not None else call.turn("", Event(EventName.GREETING))
        case scripts.END:
            return call.put(script.good_bye())
        case scripts.STOP:
            return call.turn("", Event(EventName.STOP))
        case scripts.NO_CALLS:
            return call.turn("", Event(EventName.CALLS, NO_CALLS))
        case scripts.HAS_CODE:
            return call.put(script.whose(scripts.CODE))
        case scripts.NO_CODE | scripts.HEAR:
            return greet(call)
        case scripts.BY_TEXT:
            return by_text(call)
        case scripts.PERSON:
            return person(call)
        case scripts.LEAVE_WORD:
            return call.put(Prompt(call.language, (script.say("call.word"),), end="record"))
        case scripts.TEXT_ME:
            call.reached_by = "sms"
            return call.turn("", Event(EventName.CHOICE, "yes"))
        case scripts.IN_ENGLISH:
            return in_english(call)
    return call.put(script.good_bye())


def _confirmed(call: Call) -> Utterance:
    pending, under = call.line.pending, call.line.under
    if pending.get("choice") and under is not None:
        choice = next((c for c in under.choices if c.key == pending["choice"]), None)
        if choice is not None:
            move = choose(choice)
            return call.turn(move.value, move.events[0] if move.events else None)
    return call.turn(pending.get("words", ""), None)


def _reached(call: Call) -> str:
    """By what this phone is reached; nothing while that is not for it to say."""
    if call.kind is not SenderKind.PHONE or call.known is None or call.known.who.opted_out_at is not None:
        return ""
    agreed = call.known.who.channel == BY_CALL and call.known.who.consented_at is not None
    return BY_CALL if agreed else "sms" if has_voice(call.service.locales, call.own_language) else ""


def in_english(call: Call) -> Utterance:
    """The caller goes on in English in this call; the language of the phone's texts stays."""
    call.line = replace(call.line, told=True)
    call.go_on_in_english()
    heard = call.line.of_conversation
    if heard is not None and heard.state in (scripts.CODE, scripts.WHICH_HOUSE):
        return call.put(call.script.whose(heard.state))
    first = first_prompt(call) if heard is None and not call.line.ours else None
    return call.put(first) if first is not None else call.turn("", Event(EventName.GREETING))


def _shown(call: Call, words: str) -> Utterance:
    """A house code or a house number, asked before the conversation is heard."""
    line, prompt = call.line, call.line.prompt
    assert prompt is not None
    if call.kind is SenderKind.CALL:
        code = read_code(words)
        if code is not None:
            return call.turn(code, Event(EventName.JOIN, code, code))
    else:
        with call.service.engine.connect() as connection:
            house = house_of(connection, call.service, call.known, words)
        if house is not None:
            call.line = replace(line, household=house, proved=True)
            return call.turn("", Event(EventName.GREETING))
    tries = line.tries + 1
    if tries >= rows.MOST_TRIES:
        call.line = replace(line, tries=tries)
        return person(call)
    told = (call.script.say("call.not_found"),)
    again = replace(line.putting(call.script.whose(str(prompt.state), told)), tries=tries)
    return call.say_again(again)


def person(call: Call) -> Utterance:
    """Rung at once where somebody is in the office; else written down for whoever opens it."""
    if call.line.prompt is not None and not has_voice(call.service.locales, call.own_language):
        call.go_on_in_english()  # else nobody could say what becomes of it
    facts = facts_of(call.service, call.known, call.service.clock.now())
    number = office_number(call.service, facts.area) if facts.office_open else None
    if number is None:
        return call.turn("", Event(EventName.PERSON), then=_after_person)
    prompt = Prompt(call.language, (call.script.say("call.ringing"),), end="dial")
    line = replace(call.line.putting(prompt), silences=0)
    return call.step(line, replace(utterance(prompt), number=number))


def nobody_came(call: Call) -> Utterance:
    """The agent's phone was not taken."""
    return call.turn("", Event(EventName.PERSON), then=_nobody)


def by_text(call: Call) -> Utterance:
    """The caller's language has no voice yet: a text in it goes to the same phone."""
    line = replace(call.line, told=True).putting(Script(call.service, "en").good_bye("call.by_text"))
    with writing(call.service.engine) as session:
        known = call.known.who.contact_id if call.known is not None else None
        contact_id = call.line.contact or known
        contact = session.get(Contact, contact_id) if contact_id else None
        if contact is not None:
            office = call.service.county_facts.office_name
            texts = compose([Say("call.text_instead", {"office": office})], contact.language, call.service.catalogues)
            start_text(
                session, call.service, contact=contact, household_id=call.line.household, texts=texts,
                origin="reply", send_at=None, key=f"by_text:{contact.id}", by="sms",
            )  # fmt: skip
    return call.say_again(line)


def word_left(call: Call, address: str) -> Utterance:
    if not address:
        return call.put(call.script.after_person(()))
    return call.turn("", Event(EventName.PERSON), then=_word_kept, media=((address, "audio/mpeg"),))


# --- what a turn's answer becomes on a call ------------------------------------------------------------------------


def _hello(script: Script, prompt: Prompt) -> Prompt:
    return replace(prompt, told=(script.say("call.hello"), *prompt.told))


def _after_words(said: tuple[Piece, ...], prompt: Prompt) -> Prompt:
    return replace(prompt, told=(*said, *prompt.told))


def _nobody(script: Script, _prompt: Prompt) -> Prompt:
    return script.after_person((script.say("call.nobody"),))


def _after_person(script: Script, prompt: Prompt) -> Prompt:
    return script.after_person(prompt.told or prompt.ask)


def _word_kept(script: Script, _prompt: Prompt) -> Prompt:
    return script.anything((script.say("call.word_kept"),))

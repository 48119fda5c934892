"""A call from its first ring to its last answer: each webhook is one step, taken once, and says what is heard next.

    begin     the phone rings: what is said first
    answer    keys or words: understood against the prompt that was put (``hearing``), then either the call's own
              business (again, more, silence, read back ...) or a turn of the conversation
    ended     the call is over

A step of the conversation and the call's row are stored in one transaction; the call's own steps move its row alone,
and only if it still stands where it was. So a webhook that comes twice hears the same answer and changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from guide_service.calls import line as rows
from guide_service.calls import script as scripts
from guide_service.calls.hearing import READ_BACK, Do, Given, Move, choose, hear
from guide_service.calls.line import Line
from guide_service.calls.placing import BY_CALL, brought
from guide_service.calls.prompt import HOLD, Prompt, Utterance, utterance
from guide_service.calls.ringing import office_number
from guide_service.calls.script import Script, no_voice, unspeakable
from guide_service.calls.whose import house_of, read_code
from guide_service.carrier.form import InboundText
from guide_service.carrier.phone_numbers import SenderKind, origin_of_call
from guide_service.database import writing, writing_on
from guide_service.dialogue.answers import understand
from guide_service.dialogue.by_call import OnCall
from guide_service.dialogue.deeds_reaching import NO_CALLS
from guide_service.dialogue.effects import SetContact
from guide_service.dialogue.effects_house import JoinHousehold, Proved
from guide_service.dialogue.events import Event, EventName, Listening
from guide_service.dialogue.saying import Say
from guide_service.outbox import start_text
from guide_service.records import Contact
from guide_service.records.loading import Known, load_by_phone
from guide_service.turn import TurnNotTaken, take_turn
from guide_service.turning.deciding import Plan
from guide_service.turning.keeping import Ids, Moved
from guide_service.turning.knowing import facts_of, listening_of, standing_of
from guide_service.wiring import Service
from guide_service.wording.recorded import has_voice, recorded_parts
from guide_service.wording.sms import compose
from guide_service.wording.voice import Piece

_KEYS = "call.keys"
"""Told once in a call."""
LAST_SILENCE = 3
"""Silences in a row that are borne; the next one ends the call with a kind word."""


@dataclass(frozen=True, slots=True)
class Ring:
    """What the carrier says of a call with every webhook."""

    sid: str
    number: str
    """Of the person: who calls, or whom we call."""
    trusted: bool = False
    ours: int | None = None
    """Row of a call that we make."""


# --- the three webhooks ---------------------------------------------------------------------------------------------


def begin(service: Service, ring: Ring) -> Utterance:
    with service.engine.connect() as connection:
        line = _line_of(connection, ring)
        if line is not None:
            return _said(service, line)
        known = _known(connection, service, ring)
    line = Line(ring.sid, ring.number, trusted=ring.trusted)
    call = Call(service, line, known)
    first = call.first_prompt()
    return call.put(first) if first is not None else call.greet()


def answer(service: Service, ring: Ring, step: int, given: Given) -> Utterance:
    call = step_of(service, ring, step)
    return call if isinstance(call, Utterance) else call.answered(given)


def dialled(service: Service, ring: Ring, step: int, taken: bool) -> Utterance:
    """The agent's phone was rung: the two have spoken, or nobody took the call."""
    call = step_of(service, ring, step)
    if isinstance(call, Utterance):
        return call
    return call.put(call.script.good_bye()) if taken else call.turn("", Event(EventName.PERSON), then=_nobody)


def step_of(service: Service, ring: Ring, step: int) -> Call | Utterance:
    """The call at the step that is waited for; what was said last for any other step, which was taken before."""
    with service.engine.connect() as connection:
        line = _line_of(connection, ring)
        known = _known(connection, service, ring)
    if line is None:
        return begin(service, ring)
    if line.step != step or line.prompt is None:
        return _said(service, line)
    return Call(service, line, known)


def _line_of(connection: Connection, ring: Ring) -> Line | None:
    if ring.ours is not None:
        return rows.look_up_ours(connection, ring.ours, ring.sid, ring.number)
    return rows.look_up(connection, ring.sid, ring.number)


def _known(connection: Connection, service: Service, ring: Ring) -> Known | None:
    address = origin_of_call(ring.number, ring.sid).address
    found = (load_by_phone(connection, key) for key in service.sealer.phone_keys(address))
    return next((known for known in found if known is not None), None)


def _said(service: Service, line: Line) -> Utterance:
    """What was answered last: a retry of the carrier hears it again."""
    if line.said is not None:
        return line.said
    script = Script(service, service.county.languages[0])
    return replace(utterance(script.good_bye()), step=line.step)


# --- one step -------------------------------------------------------------------------------------------------------


class Call:
    def __init__(self, service: Service, line: Line, known: Known | None) -> None:
        self.service, self.line, self.known = service, line, known
        who = known.who if known is not None else None
        self.kind = origin_of_call(line.number, line.sid).kind
        own = who.language if who is not None and who.language else service.county.languages[0]
        # where the language of the phone has no voice, the open prompt is in English, and so is what belongs to it
        self.language = line.language or (line.prompt.language if line.prompt is not None else own)
        self.script = Script(service, self.language)
        self.reached_by = "call"

    # what is said first
    def first_prompt(self) -> Prompt | None:
        """A prompt of the call's own, before the conversation is heard; None: the conversation goes on at once."""
        if self.kind is SenderKind.CALL:
            return self.script.hidden()
        if self.known is None:
            return None
        if self.known.who.opted_out_at is not None:
            return self.script.stopped()
        if (self.known.who.houses or 0) > 1:
            return self.script.whose(scripts.WHICH_HOUSE, told=(self.script.say("call.hello"),))
        return None

    # what the caller answered
    def answered(self, given: Given) -> Utterance:
        prompt = self.line.prompt
        assert prompt is not None
        move = hear(given, prompt, self.line.page, self._listening(), self.service.lexicons)
        return self.carry_out(move)

    def carry_out(self, move: Move) -> Utterance:
        line, prompt = self.line, self.line.prompt
        assert prompt is not None
        match move.do:
            case Do.SILENCE:
                return self._silence()
            case Do.REPEAT:
                return self.say_again(replace(line, page=0, silences=0))
            case Do.MORE:
                return self.say_again(replace(line, page=(line.page + 1) % prompt.pages, silences=0))
            case Do.WRONG:
                return self._wrong(prompt)
            case Do.WAIT:
                return self._step(replace(line, silences=0), self._waiting(prompt))
            case Do.PERSON:
                return self.person()
            case Do.ENDING:
                return self.put(self.script.ending(self._reached()))
            case Do.CHOSEN:
                return self._chosen(move.value)
            case Do.READ_BACK:
                return self._read_back(move, prompt)
            case Do.TURN:
                return self.turn(move.value, move.events[0] if move.events else None)

    def _silence(self) -> Utterance:
        line, prompt = self.line, self.line.prompt
        assert prompt is not None
        silences = line.silences + 1
        line = replace(line, silences=silences, page=0)
        if silences > LAST_SILENCE:
            return self.put(self.script.good_bye("call.bye_silent"))
        if silences == LAST_SILENCE:
            still = replace(utterance(prompt, 0, silences), pieces=(self.script.say("call.still"),))
            return self._step(line, still)
        before = (self.script.say("call.take_time"),) if silences == 1 else ()
        return self._step(line, utterance(prompt, 0, silences, before))

    def _waiting(self, prompt: Prompt) -> Utterance:
        return replace(utterance(prompt), pieces=(self.script.say("call.waiting"),), wait=HOLD)

    def _wrong(self, prompt: Prompt) -> Utterance:
        """Asked again with how to answer it, without counting as a misunderstanding."""
        how = self.script.how(prompt)
        lessons = (how, *(("call.key_readings_more",) if how == "call.key_readings" else ())) if how else ()
        taught = replace(prompt.again(), how=tuple(self.script.say(each) for each in lessons))
        line = replace(self.line, page=0, silences=0)
        return self._step(line, utterance(taught, before=(self.script.say("call.wrong_key"),)))

    def _read_back(self, move: Move, prompt: Prompt) -> Utterance:
        """What holds a number is said back; what the conversation will ask about anyway goes straight to it."""
        if prompt.state in (scripts.CODE, scripts.WHICH_HOUSE):
            return self._shown(move.value)
        events = move.events
        if not events:
            asked = prompt.asked
            listening = self._listening()
            against = replace(listening, asked=asked) if asked is not None else listening
            events = understand(move.value, against, self.service.lexicons)
            if not any(event.name in READ_BACK for event in events):
                return self.turn(move.value, None)
        chosen = next((str(event.value) for event in events if event.name is EventName.CHOICE), "")
        line = self.line.putting(self.script.confirm(move.value, events, prompt.asked, self.line.taught))
        line = replace(line, pending={"words": move.value, "choice": chosen})
        return self._step(line, utterance(line.prompt or prompt, fresh=True))

    def _chosen(self, key: str) -> Utterance:
        script, under = self.script, self.line.of_conversation
        match key:
            case scripts.RIGHT:
                return self._confirmed()
            case scripts.WRONG | scripts.GO_ON:
                return self.put(under.again()) if under is not None else self.turn("", Event(EventName.GREETING))
            case scripts.END:
                return self.put(script.good_bye())
            case scripts.STOP:
                return self.turn("", Event(EventName.STOP))
            case scripts.NO_CALLS:
                return self.turn("", Event(EventName.CALLS, NO_CALLS))
            case scripts.HAS_CODE:
                return self.put(script.whose(scripts.CODE))
            case scripts.NO_CODE | scripts.HEAR:
                return self.greet()
            case scripts.BY_TEXT:
                return self.by_text()
            case scripts.PERSON:
                return self.person()
            case scripts.LEAVE_WORD:
                return self.put(Prompt(self.language, (script.say("call.word"),), end="record"))
            case scripts.TEXT_ME:
                self.reached_by = "sms"
                return self.turn("", Event(EventName.CHOICE, "yes"))
            case scripts.IN_ENGLISH:
                return self.in_english()
        return self.put(script.good_bye())

    def _reached(self) -> str:
        """By what this phone is reached; nothing while that is not for it to say."""
        if self.kind is not SenderKind.PHONE or self.known is None or self.known.who.opted_out_at is not None:
            return ""
        agreed = self.known.who.channel == BY_CALL and self.known.who.consented_at is not None
        return BY_CALL if agreed else "sms" if has_voice(self.service.locales, self._own()) else ""

    def _own(self) -> str:
        """The language of the phone, spoken or not."""
        who = self.known.who if self.known is not None else None
        return (who.language if who is not None else None) or self.language

    def _confirmed(self) -> Utterance:
        pending, under = self.line.pending, self.line.under
        if pending.get("choice") and under is not None:
            choice = next((c for c in under.choices if c.key == pending["choice"]), None)
            if choice is not None:
                move = choose(choice)
                return self.turn(move.value, move.events[0] if move.events else None)
        return self.turn(pending.get("words", ""), None)

    def in_english(self) -> Utterance:
        """The caller goes on in English in this call; the language of the phone's texts stays."""
        self.line = replace(self.line, told=True)
        self._go_on_in_english()
        heard = self.line.of_conversation
        if heard is not None and heard.state in (scripts.CODE, scripts.WHICH_HOUSE):
            return self.put(self.script.whose(heard.state))
        first = self.first_prompt() if heard is None and not self.line.ours else None
        return self.put(first) if first is not None else self.turn("", Event(EventName.GREETING))

    def _go_on_in_english(self) -> None:
        self.line = replace(self.line, language="en")
        self.language, self.script = "en", Script(self.service, "en")

    # whose house it is
    def _shown(self, words: str) -> Utterance:
        """A house code or a house number, asked before the conversation is heard."""
        line, prompt = self.line, self.line.prompt
        assert prompt is not None
        if self.kind is SenderKind.CALL:
            code = read_code(words)
            if code is not None:
                return self.turn(code, Event(EventName.JOIN, code, code))
        else:
            with self.service.engine.connect() as connection:
                house = house_of(connection, self.service, self.known, words)
            if house is not None:
                self.line = replace(line, household=house, proved=True)
                return self.turn("", Event(EventName.GREETING))
        tries = line.tries + 1
        if tries >= rows.MOST_TRIES:
            self.line = replace(line, tries=tries)
            return self.person()
        told = (self.script.say("call.not_found"),)
        again = replace(line.putting(self.script.whose(str(prompt.state), told)), tries=tries)
        return self.say_again(again)

    # a person
    def person(self) -> Utterance:
        """Rung at once where somebody is in the office; else written down for whoever opens it."""
        if self.line.prompt is not None and not has_voice(self.service.locales, self._own()):
            self._go_on_in_english()  # else nobody could say what becomes of it
        facts = facts_of(self.service, self.known, self.service.clock.now())
        number = office_number(self.service, facts.area) if facts.office_open else None
        if number is None:
            return self.turn("", Event(EventName.PERSON), then=_after_person)
        prompt = Prompt(self.language, (self.script.say("call.ringing"),), end="dial")
        line = replace(self.line.putting(prompt), silences=0)
        return self._step(line, replace(utterance(prompt), number=number))

    # steps
    def put(self, prompt: Prompt) -> Utterance:
        return self.say_again(self.line.putting(prompt))

    def say_again(self, line: Line) -> Utterance:
        assert line.prompt is not None
        return self._step(line, utterance(line.prompt, line.page, line.silences))

    def _step(self, line: Line, said: Utterance) -> Utterance:
        """A step of the call's own: its row alone."""
        if self._lacking(said.pieces, self.language) is not None and line.prompt is not None:
            line = line.putting(self._or_no_voice(line.prompt, self.language))
            said = utterance(line.prompt or no_voice(self.service, self.language, by_text=False))
        moved = self._moved(line, said)
        try:
            with self.service.engine.connect() as connection, writing_on(connection):
                rows.keep(connection, moved, self.service.clock.now())
        except (Moved, IntegrityError):
            return self._as_stored()
        assert moved.said is not None
        return moved.said

    def greet(self) -> Utterance:
        """Where the conversation stands, from its beginning for somebody new."""
        self.line = replace(self.line, told=True)
        said = brought(self.service, self.line.message, self.script)
        if said:
            return self.turn("", Event(EventName.GREETING), then=lambda _, prompt: _after_words(said, prompt))
        known = self.known is not None and not self.line.ours
        return self.turn("", Event(EventName.GREETING), then=_hello if known else None)

    def by_text(self) -> Utterance:
        """The caller's language has no voice yet: a text in it goes to the same phone."""
        line = replace(self.line, told=True).putting(Script(self.service, "en").good_bye("call.by_text"))
        with writing(self.service.engine) as session:
            known = self.known.who.contact_id if self.known is not None else None
            contact_id = self.line.contact or known
            contact = session.get(Contact, contact_id) if contact_id else None
            if contact is not None:
                office = self.service.county_facts.office_name
                texts = compose(
                    [Say("call.text_instead", {"office": office})], contact.language, self.service.catalogues
                )
                start_text(
                    session, self.service, contact=contact, household_id=self.line.household, texts=texts,
                    origin="reply", send_at=None, key=f"by_text:{contact.id}", by="sms",
                )  # fmt: skip
        return self.say_again(line)

    def word_left(self, address: str) -> Utterance:
        if not address:
            return self.put(self.script.after_person(()))
        return self.turn("", Event(EventName.PERSON), then=_word_kept, media=((address, "audio/mpeg"),))

    def turn(
        self,
        words: str,
        event: Event | None,
        *,
        then: Then | None = None,
        media: tuple[tuple[str, str], ...] = (),
    ) -> Utterance:
        """A turn of the conversation, and the call's step in the same transaction. ``then`` changes what is said."""
        made: list[Utterance] = []

        def also(connection: Connection, ids: Ids, plan: Plan) -> None:
            made[:] = [self._after(connection, ids, plan, then)]

        inbound = InboundText(
            sid=f"{self.line.sid}-{self.line.step + 1}",
            account_sid=self.service.settings.account_sid,
            sender=self.line.number,
            recipient=self.service.settings.number,
            body=words,
            media=media,
            segments=0,
            call=self._on_call(event),
        )
        try:
            answer = take_turn(self.service, inbound, also)
        except TurnNotTaken:
            return self._as_stored()
        return self._as_stored() if answer.repeated or not made else made[0]

    def _on_call(self, event: Event | None) -> OnCall:
        heard = self.line.of_conversation
        return OnCall(
            said=event,
            state=heard.state if heard is not None else None,
            asked=heard.asked if heard is not None else None,
            household=self.line.household,
            doubted=not (self.line.trusted or self.line.proved),
            one_call=self.kind is SenderKind.CALL,
            reached_by=self.reached_by,
            language=self.line.language,
        )

    def _after(self, connection: Connection, ids: Ids, plan: Plan, then: Then | None) -> Utterance:
        chosen = any(isinstance(effect, SetContact) and effect.language for effect in plan.effects)
        language = plan.language if chosen or self.line.language is None else self.line.language
        script = Script(self.service, language)
        prompt = script.of_plan(plan, self.line.of_conversation, self.line.taught)
        prompt = then(script, prompt) if then is not None else prompt
        taught = self.line.taught
        if _KEYS not in taught and prompt.choices and not script.offers_languages(prompt):
            prompt, taught = replace(prompt, told=(*prompt.told, script.say(_KEYS))), (*taught, _KEYS)
        proved = self.line.proved or any(isinstance(effect, Proved | JoinHousehold) for effect in plan.effects)
        language_now = None if chosen else self.line.language
        line = replace(self.line, contact=ids.contact, proved=proved, language=language_now, taught=taught)
        line = line.putting(self._or_no_voice(prompt, language))
        moved = self._moved(line, utterance(line.prompt or prompt, fresh=True))
        rows.keep(connection, moved, self.service.clock.now())
        assert moved.said is not None
        return moved.said

    def _or_no_voice(self, prompt: Prompt, language: str) -> Prompt:
        """The prompt, or honest words in English where its language has no voice for it."""
        choices = tuple(choice.piece for choice in prompt.choices)
        lacking = self._lacking((*prompt.told, *prompt.ask, *prompt.how, *choices), language)
        if lacking is None:
            return prompt
        stopped = self.known is not None and self.known.who.opted_out_at is not None
        return no_voice(self.service, lacking, by_text=self.kind is SenderKind.PHONE and not stopped)

    def _lacking(self, said: tuple[Piece, ...], language: str) -> str | None:
        return unspeakable(self.service, said, recorded_parts(self.service.locales, language))

    def _moved(self, line: Line, said: Utterance) -> Line:
        step = self.line.step + 1
        return replace(line, step=step, said=replace(said, step=step))

    def _as_stored(self) -> Utterance:
        with self.service.engine.connect() as connection:
            line = rows.look_up(connection, self.line.sid, self.line.number)
        return _said(self.service, line or self.line)

    def _listening(self) -> Listening:
        now = self.service.clock.now()
        facts = facts_of(self.service, self.known, now)
        listening = listening_of(facts, standing_of(self.known, self.service.flows.initial, now))
        return replace(listening, language=self.language)


# --- what a turn's answer becomes on a call ------------------------------------------------------------------------

Then = Callable[[Script, Prompt], Prompt]


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

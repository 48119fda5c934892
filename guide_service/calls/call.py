"""One call at the step that is waited for: what is said next is put, and the call's row moved on by exactly one step.

The call's own steps move its row alone, and only if it still stands where it was; a turn of the conversation and the
row are stored in one transaction. So a webhook that comes twice hears the same answer and changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from guide_service.calls import line as rows
from guide_service.calls.line import Line
from guide_service.calls.prompt import Prompt, Utterance, utterance
from guide_service.calls.script import Script, no_voice, unspeakable
from guide_service.carrier.form import InboundText
from guide_service.carrier.phone_numbers import SenderKind, origin_of_call
from guide_service.database import writing_on
from guide_service.dialogue.by_call import OnCall
from guide_service.dialogue.effects import SetContact
from guide_service.dialogue.effects_house import JoinHousehold, Proved
from guide_service.dialogue.events import Event, Listening
from guide_service.records.loading import Known
from guide_service.turn import TurnNotTaken, take_turn
from guide_service.turning.deciding import Plan
from guide_service.turning.keeping import Ids, Moved
from guide_service.turning.knowing import facts_of, listening_of, standing_of
from guide_service.wiring import Service
from guide_service.wording.recorded import recorded_parts
from guide_service.wording.voice import Piece

_KEYS = "call.keys"
"""Told once in a call."""


@dataclass(frozen=True, slots=True)
class Ring:
    """What the carrier says of a call with every webhook."""

    sid: str
    number: str
    """Of the person: who calls, or whom we call."""
    trusted: bool = False
    ours: int | None = None
    """Row of a call that we make."""


Then = Callable[[Script, Prompt], Prompt]
"""What a turn's answer becomes on a call."""


def said_last(service: Service, line: Line) -> Utterance:
    """What was answered last: a retry of the carrier hears it again."""
    if line.said is not None:
        return line.said
    script = Script(service, service.county.languages[0])
    return replace(utterance(script.good_bye()), step=line.step)


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

    @property
    def own_language(self) -> str:
        """The language of the phone, spoken or not."""
        who = self.known.who if self.known is not None else None
        return (who.language if who is not None else None) or self.language

    def go_on_in_english(self) -> None:
        self.line = replace(self.line, language="en")
        self.language, self.script = "en", Script(self.service, "en")

    def listening(self) -> Listening:
        now = self.service.clock.now()
        facts = facts_of(self.service, self.known, now)
        listening = listening_of(facts, standing_of(self.known, self.service.flows.initial, now))
        return replace(listening, language=self.language)

    # --- steps
    def put(self, prompt: Prompt) -> Utterance:
        return self.say_again(self.line.putting(prompt))

    def say_again(self, line: Line) -> Utterance:
        assert line.prompt is not None
        return self.step(line, utterance(line.prompt, line.page, line.silences))

    def step(self, line: Line, said: Utterance) -> Utterance:
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
        return said_last(self.service, line or self.line)

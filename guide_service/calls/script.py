"""The prompts of a call: the conversation's questions as they are put to an ear, and the call's own around them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from guide_service.calls.prompt import EVENT, OURS, PAGE, WORDS, Choice, Prompt
from guide_service.calls.read_back import words_of
from guide_service.dialogue.events import Asked, Event, EventName, Expect
from guide_service.dialogue.machine import Standing
from guide_service.dialogue.saying import Argument, Say
from guide_service.drying.terms import BAY_POINTS
from guide_service.turning.deciding import Plan, Silence
from guide_service.wiring import Service
from guide_service.wording.formats import own_name
from guide_service.wording.render import render
from guide_service.wording.speech import speech_of
from guide_service.wording.voice import Piece, piece, pieces

RIGHT, WRONG = OURS + "right", OURS + "wrong"
END, STOP, GO_ON = OURS + "end", OURS + "stop", OURS + "go_on"
HAS_CODE, NO_CODE = OURS + "has_code", OURS + "no_code"
PERSON, LEAVE_WORD = OURS + "person", OURS + "leave_word"
IN_ENGLISH, BY_TEXT = OURS + "in_english", OURS + "by_text"
TEXT_ME = OURS + "text_me"
HEAR, NOT_NOW, NO_CALLS = OURS + "hear", OURS + "not_now", OURS + "no_calls"
CODE, WHICH_HOUSE = "call.code", "call.which_house"
"""States of a call that asks, by keys, whose house it is about."""
CALLS = EVENT + str(EventName.CALLS)
MENU, START_AGAIN = EVENT + str(EventName.GREETING), EVENT + str(EventName.START)
MEASURE_NOW, LATER = EVENT + str(EventName.DONE), EVENT + str(EventName.LATER)
ROOMS = ("kitchen", "living", "bedroom", "bath", "hall", "laundry", "basement", "garage")
MAY_WE_CALL = frozenset({"welcome.consent", "joining.consent"})
NAMES_A_ROOM = frozenset({"places.room", "places.rename_to"})
PROVES = frozenset({"file.prove", CODE, WHICH_HOUSE})
READ_BACK, TOLD_OFTEN_ENOUGH = "read_back.", 2
DANGER, STAYS_ON = "danger.", "danger.self_harm"
AT_THE_END = frozenset({"next_check", "forecast.range"})
"""Told once, when the check is done, and not after each place of it."""
_HOW = {
    Expect.READINGS: "call.key_readings",
    Expect.COUNT: "call.key_count",
    Expect.NUMBER: "call.key_number",
    Expect.BAYS: "call.key_bays",
    Expect.DATE: "call.say_date",
}


@dataclass(frozen=True, slots=True)
class Script:
    """Everything that a call says, in one language."""

    service: Service
    language: str

    def say(self, id_: str, **args: Argument) -> Piece:
        return piece(Say(id_, self.facts(id_) | args), self.language, self.service.catalogues)

    def facts(self, id_: str) -> dict[str, Argument]:
        facts = self.service.county_facts
        known: dict[str, Argument] = {"office": facts.office_name, "emergency": facts.emergency_number}
        return known if id_ in self.service.catalogues.messages else {}

    @property
    def heard(self) -> bool:
        """Whether words are understood in this language, not keys alone."""
        speech = speech_of(self.service.locales, self.language)
        return speech is not None and speech.heard

    def ours(self, ask: str, *choices: tuple[str, str], told: Sequence[Piece] = (), **args: Argument) -> Prompt:
        """A prompt of the call's own: (key, message of the label) of each choice."""
        labels: list[tuple[str, Argument, str]] = [(key, Say(label), self.language) for key, label in choices]
        return self._with(Prompt(self.language, tuple(told), (self.say(ask, **args),) if ask else ()), labels)

    # --- the call's own prompts
    def anything(self, told: Sequence[Piece] = ()) -> Prompt:
        return self.ours("call.anything", (MENU, "call.label.menu"), (END, "call.label.end"), told=told)

    def ending(self, reached: str) -> Prompt:
        """With the key that begins or ends calls with reminders. ``reached``: ``call``, ``sms``, or nothing where the
        phone can be neither rung nor written to."""
        calls = {"call": ((NO_CALLS, "call.label.no_calls"),), "sms": ((CALLS, "label.call_me"),)}.get(reached, ())
        choices = ((END, "call.label.end"), (STOP, "call.label.stop"), (GO_ON, "call.label.go_on"), *calls)
        return self.ours("call.ending", *choices)

    def opening(self) -> Prompt:
        """Of a call that we make."""
        choices = (
            (HEAR, "call.label.hear"),
            (NOT_NOW, "call.label.not_now"),
            (STOP, "call.label.stop"),
            (NO_CALLS, "call.label.no_calls"),
        )
        return self.ours("call.opening", *choices)

    def stopped(self) -> Prompt:
        return self.ours("call.stopped", (START_AGAIN, "call.label.start"), (END, "call.label.end"))

    def with_agent(self) -> Prompt:
        choices = ((PERSON, "call.label.person"), (LEAVE_WORD, "call.label.leave_word"), (END, "call.label.end"))
        return self.ours("call.with_agent", *choices)

    def after_person(self, told: Sequence[Piece]) -> Prompt:
        choices = ((LEAVE_WORD, "call.label.leave_word"), (GO_ON, "call.label.go_on"), (END, "call.label.end"))
        return self.ours("", *choices, told=told)

    def hidden(self) -> Prompt:
        told = (self.say("call.hello"),)
        return self.ours("call.hidden", (HAS_CODE, "call.label.has_code"), (NO_CODE, "call.label.no_code"), told=told)

    def whose(self, ask: str, told: Sequence[Piece] = ()) -> Prompt:
        asked = Asked(Expect.NAME)
        how = (self.say("call.key_code"),)
        return Prompt(self.language, tuple(told), (self.say(ask),), how, expect=Expect.NAME, state=ask, asked=asked)

    def confirm(self, words: str, events: Sequence[Event], asked: Asked | None, taught: Sequence[str]) -> Prompt:
        """Read back. After two times in a call the keys for right and wrong are known."""
        times = sum(lesson.startswith(READ_BACK) for lesson in taught)
        told = piece(words_of(words, events, asked or Asked()), self.language, self.service.catalogues)
        prompt = self.ours("", (RIGHT, "label.right"), (WRONG, "label.wrong"), told=(told,))
        return replace(prompt, known=times >= TOLD_OFTEN_ENOUGH, lesson=f"{READ_BACK}{times}")

    def good_bye(self, message: str = "call.bye", told: Sequence[Piece] = ()) -> Prompt:
        return Prompt(self.language, (*told, self.say(message)), end="hang_up")

    # --- the conversation's
    def of_plan(self, plan: Plan, before: Prompt | None, taught: Sequence[str]) -> Prompt:
        """What a turn answers, and the question that is open after it. ``before``: the one that was put last."""
        if plan.silence is Silence.OPTED_OUT:
            return self.stopped()
        if plan.silence is Silence.TAKEN_OVER:
            return self.with_agent()
        stands = plan.standing
        state = self.service.flows.states[stands.state] if stands is not None else None
        ask = next((say for say in reversed(plan.says) if state is not None and say.id == state.ask), None)
        mid_check = stands is not None and stands.asked.place is not None
        left_out = AT_THE_END if mid_check else frozenset[str]()
        says = [say for say in plan.says if say is not ask and say.id not in left_out]
        told = pieces(says, self.language, self.service.catalogues)
        if any(say.id.startswith(DANGER) for say in plan.says):
            return self.after_danger(plan, stands)
        if state is not None and state.final:
            return Prompt(self.language, told, end="hang_up")
        if ask is None or stands is None:
            if before is not None and (stands is None or before.puts(stands.state, stands.asked)):
                return replace(before, told=told, how=())
            rest = self.anything(told)
            return replace(rest, state=stands.state, asked=stands.asked) if stands is not None else rest
        asked = piece(ask, self.language, self.service.catalogues)
        bare = Prompt(self.language, told, (asked,), expect=stands.asked.expect, state=stands.state, asked=stands.asked)
        labels = {str(say.args["number"]): say.args["label"] for say in plan.says if say.id == "offer"}
        if _HOW[Expect.READINGS] in taught and stands.asked.points == BAY_POINTS:
            place = Say("verdict.name", {"place": str(stands.asked.place)})
            bare = replace(bare, brief=(piece(place, self.language, self.service.catalogues),))
        return self.taught(self._with(bare, self._answers(stands.state, stands.asked, labels)), taught)

    def after_danger(self, plan: Plan, stands: Standing | None) -> Prompt:
        """Nothing is asked of somebody who has to leave: told to go, to call from outside, and the call ends. Who wants
        to die is not left alone with that, whatever else is told: "hang up" is not said."""
        cries = [say for say in plan.says if say.id.startswith(DANGER)]
        told = pieces(cries, self.language, self.service.catalogues)
        if any(say.id == STAYS_ON for say in cries):
            stay = self.ours("", (PERSON, "call.label.person"), (END, "call.label.end"), told=told)
            return replace(stay, state=stands.state, asked=stands.asked) if stands is not None else stay
        return self.good_bye("call.leave", told)

    def taught(self, prompt: Prompt, taught: Sequence[str]) -> Prompt:
        """With how to key an answer in, where this call has not told it yet."""
        how = self.how(prompt)
        return prompt if how is None or how in taught else replace(prompt, how=(self.say(how),), lesson=how)

    def how(self, prompt: Prompt) -> str | None:
        if not prompt.many_keys:
            return None
        if prompt.expect is Expect.NAME:
            if prompt.state in PROVES:
                return "call.key_code"
            return "call.key_name" if self.heard else "call.key_name_only"
        return _HOW.get(prompt.expect)

    def _answers(self, state: str, asked: Asked, labels: Mapping[str, Argument]) -> list[tuple[str, Argument, str]]:
        """(key, label, language) of every answer that a key can choose."""
        if asked.offers and state in MAY_WE_CALL:
            offered = [(o.key, labels.get(o.number, o.key), self.language) for o in asked.offers]
            return [offered[0], (TEXT_ME, Say("call.label.text_me"), self.language), *offered[1:]]
        if asked.offers:
            languages = self.service.flows.states[state].offers == "languages"
            return [(o.key, labels.get(o.number, o.key), self._own(o.key, languages)) for o in asked.offers]
        if state in NAMES_A_ROOM:
            rooms = [Say(f"call.room.{room}") for room in ROOMS]
            return [
                (WORDS + render(room, self.language, self.service.catalogues), room, self.language) for room in rooms
            ]
        if asked.expect is Expect.READINGS and asked.place is None:
            return [
                (MEASURE_NOW, Say("call.label.measure"), self.language),
                (LATER, Say("label.meter_later"), self.language),
            ]
        return []

    def offers_languages(self, prompt: Prompt) -> bool:
        return prompt.state is not None and self.service.flows.states[prompt.state].offers == "languages"

    def _own(self, key: str, languages: bool) -> str:
        """Each language is offered in its own voice, where it has one; else in the voice of this call."""
        speech = speech_of(self.service.locales, key) if languages else None
        return key if speech is not None and speech.voice else self.language

    def _with(self, prompt: Prompt, answers: Sequence[tuple[str, Argument, str]]) -> Prompt:
        mixed = len({language for _key, _label, language in answers}) > 1
        choices = tuple(self._choice(at, *answer, whole=mixed or at % PAGE == 0) for at, answer in enumerate(answers))
        more = self.say("call.more") if len(choices) > PAGE else None
        return replace(prompt, choices=choices, more=more)

    def _choice(self, at: int, key: str, label: Argument, language: str, *, whole: bool) -> Choice:
        """The answer, then its key; after the first of a page, or where every one speaks another language, ``press``
        need not be said again."""
        catalogues = self.service.catalogues
        words = render(label, language, catalogues, spoken=True) if isinstance(label, Say) else str(label)
        offered = Say("call.choice" if whole else "call.choice_next", {"label": label, "number": at % PAGE + 1})
        return Choice(key, words, piece(offered, language, catalogues))


def unspeakable(service: Service, said: Sequence[Piece], recorded: frozenset[str]) -> str | None:
    """The language that a call cannot say these pieces in; None when it can say them all."""
    for one in said:
        speech = speech_of(service.locales, one.language)
        if speech is None or (speech.recorded and not recorded.issuperset(one.parts)):
            return one.language
    return None


def no_voice(service: Service, language: str, by_text: bool) -> Prompt:
    """Said in English, as the language that was chosen has no voice: nothing pretends."""
    script = Script(service, "en")
    text = ((BY_TEXT, "call.label.by_text"),) if by_text else ()
    choices = (*text, (IN_ENGLISH, "call.label.in_english"), (PERSON, "call.label.person"))
    return script.ours("call.no_voice", *choices, language=own_name(language))

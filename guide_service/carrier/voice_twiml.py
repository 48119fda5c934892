"""An utterance in the carrier's grammar, built with its package.

Traps that this keeps out: control characters (error 12100); ``input`` as a list, which the package writes literally; a
``<Gather>`` without an action, which asks the same document for ever; a model of recognition with an automatic end of
speech (warning 13335).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path
from urllib.parse import quote

from twilio.twiml.voice_response import Dial, Gather, Record, Say, VoiceResponse

from guide_service.calls.prompt import Utterance
from guide_service.wording.recorded import file_of
from guide_service.wording.speech import Speech, speech_of
from guide_service.wording.voice import Piece

SLOWER = "85%"
END_OF_SPEECH = "3"
"""[s] of quiet that end what is said: people read a number off a meter, breathe, and read the next. Our choice."""
RING_SECONDS = 25
LONGEST_WORD = 120
"""[s] of a message that is left for an agent."""
MOST_HINTS, LONGEST_HINT = 100, 100
"""The carrier takes 500 of 100 characters each."""
_REFUSED = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def voice_answer(said: Utterance, public_url: str, locales: Path, ours: int | None = None) -> bytes:
    """The answer to a voice webhook. ``ours``: the row of a call that we make."""
    base = f"{public_url.rstrip('/')}/carrier/voice"
    of_ours = f"&call={ours}" if ours is not None else ""
    response = VoiceResponse()
    _speak(response, said.pieces[: said.unbroken], said, locales, base)
    rest = said.pieces[said.unbroken :]
    action = f"{base}/answer?step={said.step}{of_ours}"
    match said.end:
        case "hang_up":
            _speak(response, rest, said, locales, base)
            response.hangup()
        case "dial":
            _speak(response, rest, said, locales, base)
            dial = Dial(action=f"{base}/dialled?step={said.step}{of_ours}", method="POST", timeout=RING_SECONDS)
            dial.number(said.number, url=f"{base}/accept", method="POST")
            response.append(dial)
        case "record":
            _speak(response, rest, said, locales, base)
            response.append(_record(f"{base}/word?step={said.step}{of_ours}"))
        case _:
            gather = Gather(**_how_to_answer(said, action, speech_of(locales, said.language)))
            _speak(gather, rest, said, locales, base)
            response.append(gather)
            response.redirect(action, method="POST")
    return _document(response)


def accept_prompt(words: Piece, action: str, locales: Path) -> bytes:
    """Said to the agent whose phone rings: without a key nothing is put through, so no machine takes a call."""
    response = VoiceResponse()
    gather = Gather(input="dtmf", num_digits=1, timeout=10, action=action, method="POST")
    gather.append(_say(words.words, speech_of(locales, words.language), slow=False))
    response.append(gather)
    response.hangup()
    return _document(response)


def accepted(yes: bool) -> bytes:
    """An empty document lets the two talk; hanging up sends the caller on."""
    response = VoiceResponse()
    if not yes:
        response.hangup()
    return _document(response)


def _how_to_answer(said: Utterance, action: str, speech: Speech | None) -> dict[str, object]:
    heard = speech is not None and speech.heard
    how: dict[str, object] = {
        "input": "dtmf speech" if heard else "dtmf",
        "action": action,
        "method": "POST",
        "timeout": said.wait,
        "action_on_empty_result": True,
    }
    if said.many_keys:
        how["finish_on_key"] = "#"
    else:
        how |= {"num_digits": 1, "finish_on_key": ""}
    if heard and speech is not None:
        how |= {"language": speech.hears_in, "speech_timeout": END_OF_SPEECH}
        if speech.model:
            how["speech_model"] = speech.model
        if hints := ",".join(_hints(said.hints)):
            how["hints"] = hints
    return how


def _hints(words: Sequence[str]) -> Iterator[str]:
    for each in words[:MOST_HINTS]:
        hint = _clean(each).replace(",", " ").strip()
        if hint:
            yield hint[:LONGEST_HINT]


def _record(action: str) -> Record:
    return Record(
        action=action, method="POST", max_length=LONGEST_WORD, timeout=8, finish_on_key="#", play_beep=True,
        trim="do-not-trim",
    )  # fmt: skip


def _speak(parent: VoiceResponse | Gather, pieces: Sequence[Piece], said: Utterance, locales: Path, base: str) -> None:
    """Neighbours of one language in one breath; recorded languages phrase by phrase."""
    for language, group in groupby(pieces, key=lambda piece: piece.language):
        speech, together = speech_of(locales, language), list(group)
        if speech is not None and speech.recorded:
            for part in (part for piece in together for part in piece.parts):
                parent.play(f"{base}/recordings/{quote(language)}/{quote(file_of(part))}")
        else:
            parent.append(_say(" ".join(piece.words for piece in together), speech, said.slow))


def _say(words: str, speech: Speech | None, slow: bool) -> Say:
    voice = {"voice": speech.voice, "language": speech.says_in} if speech is not None else {}
    if not slow:
        return Say(_clean(words), **voice)
    say = Say("", **voice)
    say.prosody(_clean(words), rate=SLOWER)
    return say


def _document(response: VoiceResponse) -> bytes:
    return str(response).encode("utf-8")


def _clean(text: str) -> str:
    return _REFUSED.sub("", text)

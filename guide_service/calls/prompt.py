"""What is put to a caller, as data of the call's row: a retry repeats it, and the next answer is heard against it.

A ``Prompt`` is one question with what stands before it; an ``Utterance`` is what is said of it now: a page of its
answers, slower, or shorter after a silence. Neither knows the carrier.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from itertools import takewhile
from typing import Any

from guide_service.dialogue.events import Asked, Expect
from guide_service.turning.knowing import asked_as_stored, asked_from
from guide_service.wording.voice import Piece

PAGE = 4
"""Most answers at once (ISO/IEC 13714 as summarised; older callers remember few)."""
NUMBERS = frozenset({Expect.READINGS, Expect.COUNT, Expect.NUMBER, Expect.BAYS, Expect.NAME, Expect.DATE})
OURS, EVENT, WORDS = "@", "!", "="
"""First character of a choice's key: what the call itself does, an event of the conversation, words as if they were
said. Anything else is the key of an offered answer."""


@dataclass(frozen=True, slots=True)
class Choice:
    key: str
    words: str
    """The answer as a person would say it."""
    piece: Piece
    """The answer with its key: "They were: press 1"."""


@dataclass(frozen=True, slots=True)
class Prompt:
    language: str
    told: tuple[Piece, ...] = ()
    ask: tuple[Piece, ...] = ()
    how: tuple[Piece, ...] = ()
    """How an answer is keyed in, where that was not told in this call."""
    lesson: str = ""
    """Message of ``how``: it is not told twice in one call."""
    brief: tuple[Piece, ...] = ()
    """The question as it is put the first time, where the caller knows by now what is asked; repeated, it is whole."""
    choices: tuple[Choice, ...] = ()
    known: bool = False
    """The answers were told often enough in this call: they are said again only after a silence, or when asked for."""
    more: Piece | None = None
    """Said after a page that another one follows."""
    expect: Expect = Expect.NOTHING
    state: str | None = None
    """The conversation's, where the question is the conversation's."""
    asked: Asked | None = None
    end: str = ""
    """``hang_up``, ``dial`` or ``record``: what follows in place of an answer."""

    @property
    def many_keys(self) -> bool:
        """Whether an answer is keyed in with several keys and closed with the one below the 9."""
        return self.expect in NUMBERS and not self.choices

    @property
    def pages(self) -> int:
        return max(1, -(-len(self.choices) // PAGE))

    def on_page(self, page: int) -> tuple[Choice, ...]:
        return self.choices[page * PAGE : (page + 1) * PAGE]

    def puts(self, state: str, asked: Asked) -> bool:
        """Whether it is the conversation's question of this state, as it was asked."""
        return (self.state, self.asked) == (state, asked)

    def again(self) -> Prompt:
        """The question without what was told before it."""
        return replace(self, told=())


@dataclass(frozen=True, slots=True)
class Utterance:
    """What is said, and how an answer to it is taken."""

    pieces: tuple[Piece, ...]
    language: str
    unbroken: int = 0
    """So many of them, from the first, no key cuts short."""
    slow: bool = False
    many_keys: bool = False
    wait: int = 8
    """[s] of silence until it counts as one."""
    hints: tuple[str, ...] = ()
    end: str = ""
    step: int = 0
    """Number of the answer that is waited for."""
    number: str = ""
    """Whom to ring, for ``dial``."""


WAITS = {False: (8, 12, 16), True: (20, 30, 45)}
"""[s] before the first, second and third silence counts, for one key and for numbers that must be read off a meter.
Between the 3 to 10 s of ISO/IEC 13714 and more for the slowest (Irish national guidelines, 2.1); our choice."""
HOLD = 120
"""[s] that the phone may lie beside the wall."""


def utterance(
    prompt: Prompt, page: int = 0, silences: int = 0, before: tuple[Piece, ...] = (), fresh: bool = False
) -> Utterance:
    """All of a prompt on its first page, answers alone on the others; less of it after a silence.

    ``fresh``: put for the first time, and so in brief where the caller knows it by now.
    """
    on_page = () if fresh and prompt.known else tuple(choice.piece for choice in prompt.on_page(page))
    more = (prompt.more,) if prompt.more is not None and prompt.pages > 1 else ()
    asked = prompt.brief if fresh and prompt.brief else (*prompt.ask, *prompt.how)
    question = (*asked, *on_page, *more) if page == 0 else (*on_page, *more)
    told = prompt.told if page == 0 and silences < 2 else ()
    waits = WAITS[prompt.many_keys]
    return Utterance(
        pieces=(*before, *told, *question),
        language=prompt.language,
        unbroken=0 if before or silences else sum(1 for _ in takewhile(lambda piece: piece.safety, told)),
        slow=silences == 1,
        many_keys=prompt.many_keys,
        wait=waits[min(silences, len(waits) - 1)],
        hints=tuple(choice.words for choice in prompt.choices),
        end=prompt.end,
    )


# --- as a row holds them --------------------------------------------------------------------------------------------


def stored(prompt: Prompt) -> dict[str, Any]:
    kept = asdict(prompt)
    kept["asked"] = asked_as_stored(prompt.asked) if prompt.asked is not None else None
    return kept


def prompt_from(kept: Mapping[str, Any]) -> Prompt:
    return Prompt(
        language=kept["language"],
        told=_pieces(kept["told"]),
        ask=_pieces(kept["ask"]),
        brief=_pieces(kept["brief"]),
        known=kept["known"],
        how=_pieces(kept["how"]),
        lesson=kept["lesson"],
        choices=tuple(Choice(c["key"], c["words"], _piece(c["piece"])) for c in kept["choices"]),
        more=_piece(kept["more"]) if kept["more"] else None,
        expect=Expect(kept["expect"]),
        state=kept["state"],
        asked=asked_from(kept["asked"]) if kept["asked"] is not None else None,
        end=kept["end"],
    )


def utterance_from(kept: Mapping[str, Any]) -> Utterance:
    return Utterance(**{**kept, "pieces": _pieces(kept["pieces"]), "hints": tuple(kept["hints"])})


def _pieces(kept: Any) -> tuple[Piece, ...]:
    return tuple(_piece(each) for each in kept)


def _piece(kept: Mapping[str, Any]) -> Piece:
    return Piece(kept["words"], kept["language"], tuple(kept["parts"]), kept["safety"])

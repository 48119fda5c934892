"""Which texts of a language are listed: the choice stands in the address, so that it can be kept and passed on."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from guide_service.console.catalogue import N_
from guide_service.wording.book import CHANGED, LACKING, SIGNED, Piece

SHOWN = {
    "open": N_("Not signed as they stand"),
    "changed": N_("Changed since they were signed"),
    "english": N_("The English text is newer"),
    "lacking": N_("Without a translation"),
    "long": N_("Too long"),
    "waiting": N_("Not in the catalogue yet"),
    "all": N_("All texts"),
}
STATES = {
    "lacking": N_("no translation"),
    "changed": N_("English text is newer"),
    "unsigned": N_("needs a speaker's review"),
    "signed": N_("signed"),
}
PAGE = 40


@dataclass(frozen=True, slots=True)
class Choice:
    show: str = "open"
    safety: bool = False
    words: str = ""
    """Words of the English text, the translation or the id."""
    page: int = 1

    def matches(self, piece: Piece) -> bool:
        if self.safety and not piece.safety:
            return False
        wanted = self.words.casefold()
        if wanted and not any(wanted in text.casefold() for text in (piece.context, *piece.entry.forms, *piece.target)):
            return False
        return {
            "open": piece.state != SIGNED,
            "changed": piece.changed_since_signed,
            "english": piece.state == CHANGED,
            "lacking": piece.state == LACKING,
            "long": piece.too_long,
            "waiting": piece.waiting,
            "all": True,
        }[self.show]

    def address(self, **more: object) -> str:
        """The choice as a query; ``more`` is added, or stands in place of what is chosen."""
        safety = "1" if self.safety else ""
        fields: dict[str, object] = {
            "show": self.show,
            "safety": safety,
            "words": self.words,
            "page": self.page,
            **more,
        }
        plain = {"show": "open", "page": 1}
        return urlencode({name: value for name, value in fields.items() if value and plain.get(name) != value})


def choice_of(show: str, safety: str, words: str, page: str) -> Choice:
    """From the fields of an address; what is none of ours is left out."""
    number = int(page) if page.isascii() and page.isdigit() and len(page) < 5 else 1
    return Choice(show if show in SHOWN else "open", safety == "1", words.strip()[:80], max(number, 1))


def neighbours(all_: tuple[Piece, ...], choice: Choice, context: str) -> tuple[str | None, str | None]:
    """The texts before and after one among those that are chosen, whether it is still one of them or not."""
    at = next(index for index, piece in enumerate(all_) if piece.context == context)
    before = next((piece.context for piece in reversed(all_[:at]) if choice.matches(piece)), None)
    after = next((piece.context for piece in all_[at + 1 :] if choice.matches(piece)), None)
    return before, after

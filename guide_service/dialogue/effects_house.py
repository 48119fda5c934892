"""Effects on whose house it is: codes, members, proofs, a request to delete."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class JoinHousehold:
    """The phone becomes a member of the household whose code it sent; the residents are told."""


@dataclass(frozen=True, slots=True)
class SpeakOf:
    """From now on the phone's texts are about this household of its own."""

    household: int


@dataclass(frozen=True, slots=True)
class TellCode:
    """The household has this code, and phones can join with it for some days from now."""

    code: str
    new: bool


@dataclass(frozen=True, slots=True)
class RevokeCode:
    """The code opens nothing any more; with ``phones`` those that joined by code are no members any more."""

    phones: bool = False


@dataclass(frozen=True, slots=True)
class CodeTried:
    """A wrong code."""


@dataclass(frozen=True, slots=True)
class Proved:
    """The phone showed that the household is its owner's."""


@dataclass(frozen=True, slots=True)
class AskDeletion:
    """The household asks that its file be deleted."""


@dataclass(frozen=True, slots=True)
class TakeBackDeletion:
    """... and has thought better of it within its time."""


HouseEffect = JoinHousehold | SpeakOf | TellCode | RevokeCode | CodeTried | Proved | AskDeletion | TakeBackDeletion

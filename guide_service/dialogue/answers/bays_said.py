"""A bay named by its room and number, as people write it: "kitchn 1", "bed1", "KI" for K1.

Only what fits one known bay is taken for it; what fits several is asked among them, and what fits none is a place that
is not known, which is asked too.
"""

from __future__ import annotations

from collections.abc import Sequence

from guide_service.dialogue.answers.places import AS_DIGITS, LARGEST_BAY_APART, LOOKS_LIKE_DIGITS, Atlas, PlaceHeard
from guide_service.dialogue.answers.spelling import Token

_SHORTEST_START = 2
_SHORTEST_SKELETON = 3
"""Letters of "bdrm" or "kit" from which a room is known."""
_MARKS = frozenset({":", ",", ".", "=", "-", ")"})


def bay_behind_wall(tokens: Sequence[Token], found: tuple[int, PlaceHeard]) -> tuple[int, PlaceHeard]:
    """ "kitchen 1" where K1 is known; otherwise the wall as it was found."""
    at, wall = found
    if at >= len(tokens) or not _is_bay_number(tokens, at):
        return found
    label = _label(wall.labels, tokens[at].text)
    if label in wall.labels:
        return at + 1, PlaceHeard(f"{wall.words} {tokens[at].text}", (label,))
    return found


def _is_bay_number(tokens: Sequence[Token], at: int) -> bool:
    number = tokens[at].text
    return number.isdigit() and 1 <= int(number) <= LARGEST_BAY_APART and _ends(tokens, at + 1)


def _ends(tokens: Sequence[Token], at: int) -> bool:
    """Whether a number ends before token ``at``: "1 22", "1: 22", and not "1st", "1:22", "1/2"."""
    if at >= len(tokens) or not tokens[at].glued:
        return True
    return tokens[at].text in _MARKS and not (at + 1 < len(tokens) and tokens[at + 1].glued)


def _label(labels: Sequence[str], number: str) -> str:
    """The label of that number beside ``labels``, which are of one wall."""
    letters = {label.rstrip("0123456789") for label in labels}
    return f"{letters.pop()}{int(number)}" if len(letters) == 1 else ""


def find_numbered(tokens: Sequence[Token], i: int, atlas: Atlas) -> tuple[int, PlaceHeard] | None:
    """ "bed1", "ki1": a room cut short and a number in one piece."""
    letters = tokens[i].text
    if i + 1 >= len(tokens) or not _may_name(tokens, i, atlas):
        return None
    number, after = tokens[i + 1].text, i + 2
    in_one_piece = tokens[i + 1].glued and number.isdigit() and len(number) <= 2 and int(number) > 0
    if not in_one_piece or not _ends(tokens, after):
        return None
    bays = [_label(labels, number) for labels in _walls_cut_short(letters, atlas)]
    known = tuple(label for label in bays if label in atlas.labels.values())
    return after, PlaceHeard(f"{letters}{number}", known)


def find_misread(tokens: Sequence[Token], i: int, atlas: Atlas) -> tuple[int, PlaceHeard] | None:
    """ "KI", "kl": a label whose 1 looks like a letter; of a room that begins so, too, it is asked."""
    letters = tokens[i].text
    if not _may_name(tokens, i, atlas) or len(letters) != 2 or letters[1] not in LOOKS_LIKE_DIGITS:
        return None
    label = atlas.labels.get(letters[0] + letters[1].translate(AS_DIGITS))
    if label is None or letters[0] in LOOKS_LIKE_DIGITS:
        return None
    rooms = [bay for labels in _walls_cut_short(letters, atlas) for bay in labels]
    return i + 1, PlaceHeard(letters.upper(), tuple(dict.fromkeys((label, *rooms))))


def find_misread_apart(tokens: Sequence[Token], i: int, atlas: Atlas) -> tuple[int, PlaceHeard] | None:
    """ "k l 14": K1 with a blank inside, where a number of two digits follows ("k l 8" may be 18 of another bay)."""
    if i + 2 >= len(tokens) or tokens[i + 1].text not in LOOKS_LIKE_DIGITS or tokens[i + 1].glued:
        return None
    number = tokens[i + 2].text
    label = atlas.labels.get(tokens[i].text + tokens[i + 1].text.translate(AS_DIGITS))
    sure = number[0].isdigit() and len(number) > 1 and not tokens[i + 2].glued
    return (i + 2, PlaceHeard(label, (label,))) if sure and label is not None else None


def _may_name(tokens: Sequence[Token], i: int, atlas: Atlas) -> bool:
    letters = tokens[i].text
    plain = letters.isascii() and letters.isalpha() and len(letters) >= _SHORTEST_START
    return plain and bool(atlas.labels) and not (tokens[i].glued and tokens[i - 1].text.isdigit())


def _walls_cut_short(typed: str, atlas: Atlas) -> list[tuple[str, ...]]:
    """Labels of each wall that may be meant. One with a number in its name is not: its own number may be meant."""
    plain = {name: labels for name, labels in atlas.walls.items() if not any(word.isdigit() for word in name)}
    return [labels for name, labels in plain.items() if _is_cut_short(typed, name[0])]


def _is_cut_short(typed: str, word: str) -> bool:
    """ "kit", "bdrm" of "kitchen", "bedroom": its beginning, or its letters in their order."""
    if word.startswith(typed):
        return True
    letters = iter(word)
    in_order = all(letter in letters for letter in typed)
    return len(typed) >= _SHORTEST_SKELETON and typed[0] == word[0] and in_order

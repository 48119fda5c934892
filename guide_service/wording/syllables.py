"""How many syllables an English word is read with.

Counted from the spelling: groups of vowels, less every silent e, more where two vowels stand apart (ra-di-o, dri-er);
what spelling does not tell is a table. Checked in tests against words whose pronunciation is published.
"""

from __future__ import annotations

import re
from functools import lru_cache

_IRREGULAR = {
    word: count
    for count, words in {
        1: "pier tier once",
        2: "maybe being quiet diet client poem science fluid ruin ruined create react mayor million billion onion "
        "union cushion soldier business wednesday wednesdays evening evenings hundred argue cafe naked wicked wretched "
        "woodshed brilliant doer",
        3: "area areas idea ideas video videos everyone element elements recipe recipes opinion companion familiar "
        "created theater wretchedly wrongdoer wrongdoers apostrophe",
        4: "diarrhea cooperate coordinate society vietnamese january february",
    }.items()
    for word in words.split()
}
_LETTERS_READ = frozenset({"hvac", "emc", "ok", "pm", "am", "tv", "id"})
_VOWELS = re.compile(r"[aeiouy]+")
_RESPELLED = (
    (re.compile(r"^every"), "evry"),
    (re.compile(r"^some(?=[a-z])"), "som"),
    (re.compile(r"(?<=[gq])ue(?=s?$)"), ""),
    (re.compile(r"(?<=[aeou])y(?=[aeiou])"), "y-"),
    # a silent e before an ending or the second half of a compound: base-ment, house-hold
    (
        re.compile(
            r"(?<=[aeiouy][bcdfgklmnprstvz])e(?=(?:ments?|ly|ty|ful|less|ness|rooms?|work|places?|times?|ways?|"
            r"boards?|holds?|made|guards?|walls?|fore|down)$)"
        ),
        "",
    ),
)
_APART = (
    re.compile(r"[aeouy]ing$|[aeo]ings$"),
    re.compile(r"i(?:er|ers|est)$"),
    re.compile(r"[bdfklmnprvz]i[ao](?!u)"),
    re.compile(r"[bdfhklmnprv]ious"),
    re.compile(r"[bdfhklmnprv]i(?:ent|ence|um|us)$"),
    re.compile(r"[^gq]u(?:al|at|ous)"),
    re.compile(r"^re(?:open|act|use|appl|assess|enter|inst|insul)"),
    re.compile(r"(?:s|th)ms?$"),
)
_SILENT_END = re.compile(r"(?<![aeiouy])(?:e|(?<![sxzcg])(?<!ch)(?<!sh)es|(?<![dt])ed)$")
_SOUNDED_LE = re.compile(r"[^aeiouylr]l(?:e|es|ed)$")


@lru_cache(maxsize=8192)
def syllables(word: str) -> int:
    """Syllables of one written word (letters and apostrophes), at least 1."""
    lower = word.lower().replace("\u2019", "'").strip("'")
    if lower in _IRREGULAR:
        return _IRREGULAR[lower]
    if lower in _LETTERS_READ or (len(lower) > 1 and not _VOWELS.search(lower)):
        return sum(3 if letter == "w" else 1 for letter in lower if letter.isalpha())
    stem, extra = _without_contraction(lower)
    return _IRREGULAR.get(stem) or max(1, _spoken_vowels(stem)) + extra


def _without_contraction(word: str) -> tuple[str, int]:
    """The word before its apostrophe, and the syllable that the rest adds: did-n't, box-'s, would-'ve."""
    if word.endswith("n't"):
        return word[:-3], int(word[-4:-3] in ("d", "s"))
    stem, _, rest = word.partition("'")
    hissing = rest == "s" and re.search(r"(?:[sxz]|ch|sh|ce|ge)$", stem)
    return stem, int(bool(hissing) or (rest == "ve" and stem.endswith("d")))


def _spoken_vowels(word: str) -> int:
    for pattern, plain in _RESPELLED:
        word = pattern.sub(plain, word)
    count = len(_VOWELS.findall(word)) + sum(bool(pattern.search(word)) for pattern in _APART)
    return count - int(bool(_SILENT_END.search(word)) and not _SOUNDED_LE.search(word))

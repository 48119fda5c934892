"""Phrases as they stand in words.toml, and finding all of them in a text in one walk.

A phrase is words with a little notation:

    stop|quit texting      either word
    [please] stop          may be missing
    turn ~ power           up to three words in between, within one clause
    <person> is hurt       a group of the file's [groups] table (its members may be phrases themselves)

Theory of operation. A phrase becomes a small graph of words whose alternatives lead to the same node; all graphs of a
language are merged into one (nodes are never changed once made, so that what only one side has is shared). A text of n
words then costs about n look-ups, however many phrases there are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from typing import Any, NamedTuple

from guide_service.dialogue.answers.spellers import PLAIN, Speller
from guide_service.dialogue.answers.spelling import BREAK, is_han

GAP = "~"
WIDEST_GAP = 3

Graph = dict[str, Any]
"""Word to the graph that follows it; ``""`` to the tuple of what ends here."""
_END = ""


class WrongPhrase(ValueError):
    """A phrase that cannot be read."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a phrase stands for: a kind (``danger``, ``topic``, ``stop`` …) and a value."""

    kind: str
    value: str = ""
    whole: bool = False
    """Counts only when nothing else is said, greetings and politeness aside."""
    veto: bool = False
    """Looks like ``kind`` and is not: what it covers is taken back."""
    language: str = ""
    """Of a cry for help: the language of its words."""


class Match(NamedTuple):
    start: int
    end: int
    meaning: Meaning


def phrase_graph(phrase: str, groups: Mapping[str, Sequence[str]], meaning: object, speller: Speller = PLAIN) -> Graph:
    """The graph of all word sequences that ``phrase`` stands for, each ending in ``meaning``."""
    graph = _Phrases(groups, speller).graph(phrase, {_END: (meaning,)})
    if _END in graph or GAP in graph or phrase.split()[-1] == GAP:
        raise WrongPhrase(f"{phrase!r} may be empty or begins or ends with a gap")
    return graph


def _parts(phrase: str) -> list[str]:
    """The elements of a phrase; brackets may hold blanks."""
    parts: list[str] = []
    depth = 0
    for word in phrase.split():
        if depth:
            parts[-1] += " " + word
        else:
            parts.append(word)
        depth += word.count("[") - word.count("]")
        if depth not in (0, 1):
            raise WrongPhrase(f"{phrase!r}: brackets do not match")
    if depth:
        raise WrongPhrase(f"{phrase!r}: brackets do not match")
    return parts


@dataclass(frozen=True, slots=True)
class _Phrases:
    """The notation of one file: its groups, its way of spelling."""

    groups: Mapping[str, Sequence[str]]
    speller: Speller

    def graph(self, phrase: str, following: Graph) -> Graph:
        parts = _parts(phrase)
        if not parts:
            raise WrongPhrase("an empty phrase")
        for part in reversed(parts):
            following = self._before(part, following)
        return following

    def _before(self, part: str, following: Graph) -> Graph:
        """The graph of one element that leads on to ``following``."""
        if part == GAP:
            return {GAP: following}
        optional = part.startswith("[")
        inside = part[1:-1] if optional else part
        graphs = [self._alternative(alternative.strip(), following) for alternative in inside.split("|")]
        return merged([*graphs, following] if optional else graphs)

    def _alternative(self, alternative: str, following: Graph) -> Graph:
        if alternative.startswith("<") and alternative.endswith(">"):
            if alternative[1:-1] not in self.groups:
                raise WrongPhrase(f"no group {alternative}")
            return merged([self.graph(member, following) for member in self.groups[alternative[1:-1]]])
        words = self.speller.forms(alternative.replace("_", " "))
        if not words:
            raise WrongPhrase(f"{alternative!r} holds no word")
        return sequence_graph(words, following)


def sequence_graph(words: Sequence[Sequence[str]], following: Graph) -> Graph:
    """The graph of one word after the other, each in any of its forms."""
    for forms in reversed(words):
        following = dict.fromkeys(forms, following)
    return following


def ending(meaning: object) -> Graph:
    return {_END: (meaning,)}


def merged(graphs: Sequence[Graph]) -> Graph:
    """One graph that holds the sequences of all ``graphs``; none of them is changed."""
    if len(graphs) == 1:
        return graphs[0]
    if not graphs:
        return {}
    half = len(graphs) // 2
    return _union(merged(graphs[:half]), merged(graphs[half:]), {})


def _union(one: Graph, other: Graph, done: dict[tuple[int, int], Graph]) -> Graph:
    if one is other:
        return one
    key = (id(one), id(other))
    if key in done:
        return done[key]
    result = dict(one)
    for word, after in other.items():
        if word not in result:
            result[word] = after
        elif word == _END:
            result[word] = (*result[word], *(m for m in after if m not in result[word]))
        else:
            result[word] = _union(result[word], after, done)
    done[key] = result
    return result


def words_of(graph: Graph) -> set[str]:
    """Every word of a graph."""
    found: set[str] = set()
    seen: set[int] = set()
    waiting = [graph]
    while waiting:
        node = waiting.pop()
        if id(node) not in seen:
            seen.add(id(node))
            found.update(word for word in node if word not in (_END, GAP))
            waiting.extend(after for word, after in node.items() if word != _END)
    return found


def without_single(graph: Graph, words: Set[str]) -> Graph:
    """``graph`` without the sequences that are just one of ``words``."""
    result = dict(graph)
    for word in [word for word in graph if word in words]:
        longer = {after: node for after, node in graph[word].items() if after != _END}
        if longer:
            result[word] = longer
        else:
            del result[word]
    return result


def find_phrases(graph: Graph, words: Sequence[str]) -> list[Match]:
    """Every phrase found in ``words`` (which may hold ``BREAK``), in order of its first word."""
    found: list[Match] = []
    for start, word in enumerate(words):
        node = graph.get(word)
        if node is not None:
            _follow(node, words, start, start + 1, found)
    return found


def _follow(node: Graph, words: Sequence[str], start: int, end: int, found: list[Match]) -> None:
    for meaning in node.get(_END, ()):
        found.append(Match(start, end, meaning))
    if end >= len(words):
        return
    onward = node.get(words[end])
    if onward is not None:
        _follow(onward, words, start, end + 1, found)
    gap, gaps = node.get(GAP), 1
    while gap is not None:
        for at in _reach(words, end, gaps):
            onward = gap.get(words[at])
            if onward is not None:
                _follow(onward, words, start, at + 1, found)
        gap, gaps = gap.get(GAP), gaps + 1


def _reach(words: Sequence[str], end: int, gaps: int) -> Iterator[int]:
    """Positions that gaps after ``end`` may lead to: each up to three words (six Han characters), within the clause."""
    passed = 0
    for at in range(end, len(words)):
        if words[at] == BREAK or passed > 2 * WIDEST_GAP * gaps:
            return
        yield at
        passed += 1 if is_han(words[at]) else 2


def longest(graph: Graph, words: Sequence[str], start: int) -> tuple[int, Any] | None:
    """The longest sequence of ``graph`` (without gaps) that begins at ``start``: its end and its first meaning."""
    found = every_meaning(graph, words, start)
    return found and (found[0], found[1][0])


def every_meaning(graph: Graph, words: Sequence[str], start: int) -> tuple[int, tuple[Any, ...]] | None:
    """The same with all that the sequence may mean."""
    best = None
    node = graph.get(words[start])
    end = start + 1
    while node is not None:
        if _END in node:
            best = (end, node[_END])
        if end >= len(words):
            break
        node = node.get(words[end])
        end += 1
    return best

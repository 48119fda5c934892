"""The words of one language, compiled: what ``words.toml`` says, ready to be looked up.

What a language needs is data only. A lexicon holds the phrases of its own language and, of every other language,
what must be understood whatever the language in use: opt-out, opt-in, danger, the names of languages, and the short
commands when they are all that a text says.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from guide_service.dialogue.answers.phrases import (
    Graph,
    Meaning,
    WrongPhrase,
    ending,
    merged,
    phrase_graph,
    sequence_graph,
    without_single,
    words_of,
)
from guide_service.dialogue.answers.schema import COMMANDS, WrongWords, check_shape
from guide_service.dialogue.answers.slips import Slips, slips_of
from guide_service.dialogue.answers.spelling import fold, plain_words, read_tokens

FILE_NAME = "words.toml"

NO_OR_NOT = "no_or_not"
"""The kind of a word that is both "no" and "not" in its language (Spanish)."""

_EVERYWHERE = frozenset({"start", "written_in", "choice", "first_automatic"})


@dataclass(frozen=True, slots=True)
class Term:
    """A word of the readings' grammar: its kind and what it names."""

    kind: str
    value: str | float = ""


@dataclass(frozen=True, slots=True)
class Lexicon:
    language: str
    phrases: Graph
    """Phrases to ``Meaning``: the language's own and what is understood in every language."""
    terms: Graph
    """Words of the readings' and dates' grammar to ``Term``, number words among them."""
    padding: frozenset[str]
    """Politeness and filler: says nothing by itself."""
    negators: frozenset[str]
    negation_fillers: frozenset[str]
    common: frozenset[str]
    """Frequent words that betray the language."""
    slips: Slips
    """What is left of a word when one letter is missing, to the words it may have been."""
    known: frozenset[str]
    """Words that are never taken for a slip."""
    decimal_comma: bool
    month_first: bool
    topics: tuple[str, ...]
    name_leads: tuple[tuple[str, ...], ...]
    sides: Mapping[tuple[str, ...], str]
    """Words for inside and outside the house, where the air is told."""
    asks: frozenset[str]
    """Words that make a question of the text that begins with them."""


def load_lexicons(locales: Path, languages: Sequence[str]) -> Mapping[str, Lexicon]:
    """The lexicons of ``languages`` from ``locales/<lang>/words.toml``.

    Raises ``WrongWords``, naming file and key, when a file is missing or anything in it cannot be used.
    """
    tables = {language: _read(locales / language / FILE_NAME) for language in languages}
    entries = {language: _graphs(locales / language / FILE_NAME, language, table) for language, table in tables.items()}
    return {language: _compile(language, tables[language], entries) for language in languages}


def _read(path: Path) -> dict[str, Any]:
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as wrong:
        raise WrongWords(path, "", str(wrong)) from wrong
    check_shape(path, table)
    return table


def _graphs(path: Path, language: str, table: Mapping[str, Any]) -> list[tuple[Meaning, Graph]]:
    """The graph of every phrase of one file."""
    found = []
    for key, phrase, meaning in (*_phrases(table), *_language_phrases(language, table["language"])):
        try:
            found.append((meaning, phrase_graph(phrase, table["groups"], meaning)))
        except WrongPhrase as wrong:
            raise WrongWords(path, key, str(wrong)) from wrong
    return found


def _phrases(table: Mapping[str, Any]) -> Iterator[tuple[str, str, Meaning]]:
    """(key in the file, phrase, meaning) of every phrase of one file."""
    for section in ("danger", "events", "topics", "choices"):
        for name, entry in table[section].items():
            yield from _entry(f"{section}.{name}", entry, *_kind(section, name))
    yield from _entry("stop", table["stop"], "stop", "")
    yield from _entry("start", table["start"], "start", "")


def _kind(section: str, name: str) -> tuple[str, str]:
    if section == "events":
        kind, _, value = name.partition(".")
        return kind, value
    return {"danger": "danger", "topics": "topic", "choices": "choice"}[section], name


def _entry(key: str, entry: Mapping[str, Any], kind: str, value: str) -> Iterator[tuple[str, str, Meaning]]:
    for phrase in entry.get("whole", ()):
        yield f"{key}.whole", phrase, Meaning(kind, value, whole=True)
    for phrase in entry.get("phrases", ()):
        yield f"{key}.phrases", phrase, Meaning(kind, value)
    for phrase in entry.get("first", ()):
        yield f"{key}.first", phrase, Meaning(f"first_{kind}", value)
    for phrase in entry.get("not", ()):
        yield f"{key}.not", phrase, Meaning(kind, value, veto=True)


def _language_phrases(language: str, entry: Mapping[str, Any]) -> Iterator[tuple[str, str, Meaning]]:
    for phrase in entry["names"]:
        yield "language.names", phrase, Meaning("language", language, whole=True)
    for phrase in entry["asks"]:
        yield "language.asks", phrase, Meaning("language", language)
    for phrase in entry["greetings"]:
        yield "language.greetings", phrase, Meaning("written_in", language)


def _compile(
    language: str, table: Mapping[str, Any], entries: Mapping[str, Sequence[tuple[Meaning, Graph]]]
) -> Lexicon:
    ours = merged([graph for _, graph in entries[language]])
    terms = _terms(table)
    own = frozenset(words_of(ours) | words_of(terms))
    foreign = [
        graph for other in entries if other != language for entry in entries[other] for graph in _foreign(*entry, own)
    ]
    return Lexicon(
        language=language,
        phrases=merged([ours, *foreign]),
        terms=terms,
        padding=frozenset(_each_word(table["padding"]["words"])),
        negators=frozenset(_each_word(table["negation"]["words"])),
        negation_fillers=frozenset(_each_word(table["negation"]["fillers"])),
        common=frozenset(_each_word(table["language"]["common"])),
        slips=slips_of(_each_word(table["typos"]["words"])),
        known=own | frozenset(table["typos"]["known"]) | frozenset(table["language"]["common"]),
        decimal_comma=table["numbers"]["decimal_comma"],
        month_first=table["dates"]["month_first"],
        topics=tuple(table["topics"]),
        sides={plain_words(words): side for side, all_ in table["readings"]["sides"].items() for words in all_},
        name_leads=tuple(plain_words(lead) for lead in table["names"]["leads"]),
        asks=frozenset(_each_word(table["readings"]["words"]["asks"])),
    )


def _foreign(meaning: Meaning, graph: Graph, own: frozenset[str]) -> Iterator[Graph]:
    """What is understood in every language. A word of one's own language keeps its own sense."""
    if meaning.kind in ("stop", "danger", "language"):
        yield graph
    elif meaning.kind in _EVERYWHERE or (meaning.whole and meaning.kind in COMMANDS):
        yield without_single(graph, own)


def _each_word(phrases: Sequence[str]) -> Iterator[str]:
    for phrase in phrases:
        yield from plain_words(phrase)


def _terms(table: Mapping[str, Any]) -> Graph:
    readings, dates, numbers = table["readings"], table["dates"], table["numbers"]
    both = set(readings["words"]["no"]) & set(readings["words"]["not"])
    graphs: list[Graph] = list(_term_graphs(sorted(both), Term(NO_OR_NOT)))
    for value, word in ((value, word) for word, value in numbers["words"].items()):
        graphs.extend(_term_graphs([word], Term("number", float(value))))
    for section, source in (
        ("points", readings), ("materials", readings), ("kinds", readings), ("colours", readings),
        ("weekdays", dates), ("weekdays_short", dates), ("days", dates),
    ):  # fmt: skip
        for value, phrases in source[section].items():
            graphs.extend(_term_graphs(phrases, Term(section, value)))
    for month, names in enumerate(dates["months"], start=1):
        graphs.extend(_term_graphs(names, Term("months", float(month))))
    for kind, phrases in (*dates["words"].items(), *readings["words"].items()):
        if kind == "asks":
            continue
        graphs.extend(_term_graphs(phrases, Term(kind)))
    for kind in ("half", "point"):
        graphs.extend(_term_graphs(numbers[kind], Term(kind)))
    return merged(graphs)


def _term_graphs(phrases: Sequence[str], term: Term) -> Iterator[Graph]:
    """A term may hold signs ("% mc"); a number in several words is also written with hyphens (twenty-two)."""
    for phrase in phrases:
        words = [token.text for token in read_tokens(fold(phrase))]
        yield sequence_graph(words, ending(term))
        if term.kind == "number" and len(words) > 1:
            hyphened = [part for word in words for part in (word, "-")][:-1]
            yield sequence_graph(hyphened, ending(term))

"""The words of one language, compiled: what ``words.toml`` says, ready to be looked up.

What a language needs is data only. A lexicon holds the phrases of its own language and, of every other language,
what must be understood whatever the language in use: opt-out, opt-in, danger, the names of languages, and the short
commands when they are all that a text says.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from pathlib import Path
from typing import Any

from guide_service.dialogue.answers.phrases import (
    Graph,
    Meaning,
    WrongPhrase,
    ending,
    longest,
    merged,
    phrase_graph,
    sequence_graph,
    without_single,
    words_of,
)
from guide_service.dialogue.answers.schema import BURNS, COMMANDS, WHAT_BURNS, WrongWords, check_shape, with_defaults
from guide_service.dialogue.answers.slips import Mending, slips_of
from guide_service.dialogue.answers.spellers import PLAIN, Speller, by_plain, speller_of
from guide_service.dialogue.answers.spelling import fold, plain_words

FILE_NAME = "words.toml"
REAL_WORDS = "real_words.txt"
"""Words that the language has, whatever they mean: where it stands beside ``words.toml``, every long word of that file
is found when it is typed with a slip."""

NO_OR_NOT = "no_or_not"
"""The kind of a word that is both "no" and "not" in its language (Spanish)."""

_EVERYWHERE = frozenset({"stop", "danger", "start", "written_in", "choice", "first_automatic", "unwell", BURNS})


@dataclass(frozen=True, slots=True)
class Term:
    """A word of the readings' grammar: its kind and what it names."""

    kind: str
    value: str | float = ""
    doubtful: bool = False
    """A number word that may be another word: asked as a reading, taken where a number is asked for."""


@dataclass(frozen=True, slots=True)
class Ear:
    """Phrases that are looked up in words as one way of spelling makes them."""

    speller: Speller
    phrases: Graph = field(repr=False)


Sequences = frozenset[tuple[str, ...]]


@dataclass(frozen=True, slots=True, repr=False)
class Lexicon:
    language: str
    ears: tuple[Ear, ...]
    """Phrases to ``Meaning``: the language's own and what is understood in every language, by their spelling."""
    speller: Speller
    """Of the language itself: terms, padding and denials are looked up in its words."""
    terms: Graph
    """Words of the readings' and dates' grammar to ``Term``, number words among them."""
    times: Graph
    """Words of a time of day to ``Term``."""
    padding: Graph
    """Politeness and filler: says nothing by itself."""
    negators: Sequences
    negation_fillers: Sequences
    denials_after: Sequences
    """What denies the words before it (Somali "ma jirto": there is none)."""
    common: frozenset[str]
    """Frequent words that betray the language."""
    mending: Mending
    """What slips of the thumb lead to."""
    known: frozenset[str]
    """Words of the language, as far as its file names them."""
    same: Mapping[str, str]
    """Spellings of one word to the word: what no rule of slips finds ("bak", "tonite")."""
    decimal_comma: bool
    month_first: bool
    told_behind: bool
    """The word for next, last, this may stand behind the day or week that it tells ("lunes próximo", "tuần sau")."""
    topics: tuple[str, ...]
    name_leads: tuple[tuple[str, ...], ...]
    rooms: frozenset[str]
    """Words for rooms: a name that holds several, with "and" between, is a list."""
    both: frozenset[str]
    """Words that say of a room that there is more than one."""
    room_articles: frozenset[str]
    """Words before a room that are no part of its name."""
    room_joins: frozenset[str]
    """What stands for "and" between rooms beside the words of the grammar ("kitchen n hall")."""
    streets: frozenset[str]
    """Words that end an address ("14 River St"), of every language: streets are named in the county's."""
    before_streets: frozenset[str]
    """Words that begin the street of an address ("calle River 14")."""
    room_leads: tuple[tuple[str, ...], ...]
    """What stands before a room's name and is no part of it ("add the"), the longest first."""
    no_rooms: tuple[tuple[str, ...], ...]
    """Words that no room's name holds."""
    sides: Mapping[tuple[str, ...], str]
    """Words for inside and outside the house, where the air is told."""
    asks: frozenset[str]
    """Words that make a question of the text that begins with them."""
    asks_last: frozenset[str]
    """Words that make a question of the clause that ends with them."""

    def __repr__(self) -> str:
        # phrases share their ends: written out, one language fills gigabytes, and a failing test writes it out
        return f"<Lexicon {self.language}>"


def load_lexicons(locales: Path, languages: Sequence[str]) -> Mapping[str, Lexicon]:
    """The lexicons of ``languages`` from ``locales/<lang>/words.toml``.

    Raises ``WrongWords``, naming file and key, when a file is missing or anything in it cannot be used.
    """
    tables = {language: _read(locales / language / FILE_NAME) for language in languages}
    words = {language: _Words(locales / language / FILE_NAME, language, table) for language, table in tables.items()}
    kept = frozenset().union(*(each.real for each in words.values()))
    return {language: _compile(words[language], words, kept) for language in languages}


def _read(path: Path) -> dict[str, Any]:
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as wrong:
        raise WrongWords(path, "", str(wrong)) from wrong
    table = with_defaults(table)
    check_shape(path, table)
    return table


class _Words:
    """One file: its phrases as graphs, its terms, its way of spelling with the words that it knows."""

    def __init__(self, path: Path, language: str, table: Mapping[str, Any]) -> None:
        self.language, self.table = language, table
        rules = speller_of(table["spelling"])
        self.entries = _graphs(path, language, table, rules)
        self.graph = merged([graph for _, graph in self.entries])
        phrase_words = words_of(self.graph)
        self.terms = _terms(table, rules, phrase_words)
        self.own = frozenset(phrase_words | words_of(self.terms))
        self.numbers = words_of(merged([g for word in table["numbers"]["words"] for g in [_spelled(word, rules)]]))
        self.speller = replace(
            rules, known=self.own, loose=self.own - self.numbers, marked=by_plain(self.own) if rules.marks else {}
        )
        self.known = self.own | frozenset(table["typos"]["known"]) | frozenset(table["language"]["common"])
        listed = path.with_name(REAL_WORDS)
        self.listed = _read_words(listed) if listed.exists() else frozenset()
        self.real = self.known | self.listed

    def mending(self, kept: frozenset[str]) -> Mending:
        """What slips lead to, where ``kept`` are the words of all languages."""
        named = frozenset(_each_word(self.table["typos"]["words"]))
        never = frozenset(self.numbers | self._of_one_word("stop", "start")) - named
        return Mending(slips_of(named | never | (self.own if self.listed else frozenset())), named, kept, never)

    def _of_one_word(self, *kinds: str) -> set[str]:
        graphs = [graph for meaning, graph in self.entries if meaning.kind in kinds]
        return {word for graph in graphs for word in graph if longest(graph, [word], 0)}


def _read_words(path: Path) -> frozenset[str]:
    lines = path.read_text(encoding="utf-8").splitlines()
    return frozenset(word for line in lines if not line.startswith("#") for word in line.split())


def _graphs(path: Path, language: str, table: Mapping[str, Any], speller: Speller) -> list[tuple[Meaning, Graph]]:
    """The graph of every phrase of one file."""
    found = []
    for key, phrase, meaning in (*_phrases(table), *_language_phrases(language, table["language"])):
        try:
            if meaning.kind == "danger":
                meaning = replace(meaning, language=language)
            found.append((meaning, phrase_graph(phrase, table["groups"], meaning, speller)))
        except WrongPhrase as wrong:
            raise WrongWords(path, key, str(wrong)) from wrong
    return found


def _phrases(table: Mapping[str, Any]) -> Iterator[tuple[str, str, Meaning]]:
    """(key in the file, phrase, meaning) of every phrase of one file."""
    for section in ("danger", "events", "topics", "choices", "steps"):
        for name, entry in table[section].items():
            yield from _entry(f"{section}.{name}", entry, *_kind(section, name))
    for name in WHAT_BURNS:
        yield from _entry(f"topics.{name}", table["topics"][name], BURNS, name)
    for question, keys in table["answers"].items():
        for key, entry in keys.items():
            yield from _entry(f"answers.{question}.{key}", entry, "answer", f"{question}/{key}")
    yield from _entry("stop", table["stop"], "stop", "")
    yield from _entry("start", table["start"], "start", "")


def _kind(section: str, name: str) -> tuple[str, str]:
    if section == "events":
        kind, _, value = name.partition(".")
        return kind, value
    return {"danger": "danger", "topics": "topic", "choices": "choice", "steps": "step"}[section], name


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


def _compile(words: _Words, all_words: Mapping[str, _Words], kept: frozenset[str]) -> Lexicon:
    table, speller = words.table, words.speller
    return Lexicon(
        language=words.language,
        ears=_ears(words, all_words),
        speller=speller,
        terms=words.terms,
        times=merged([g for kind, list_ in table["times"].items() for g in _term_graphs(list_, Term(kind), speller)]),
        padding=merged([sequence_graph(speller.forms(phrase), ending(True)) for phrase in table["padding"]["words"]]),
        negators=_sequences(table["negation"]["words"], speller),
        negation_fillers=_sequences(table["negation"]["fillers"], speller),
        denials_after=_sequences(table["negation"]["after"], speller),
        common=frozenset(_each_word(table["language"]["common"])),
        mending=words.mending(kept),
        known=words.known,
        same={fold(other): word for word, others in table["typos"]["same"].items() for other in others},
        decimal_comma=table["numbers"]["decimal_comma"],
        month_first=table["dates"]["month_first"],
        told_behind=table["dates"]["told_behind"],
        topics=tuple(table["topics"]),
        rooms=frozenset(_each_word(table["names"]["rooms"])),
        both=frozenset(_each_word(table["names"]["both"])),
        room_articles=frozenset(_each_word(table["names"]["articles"])),
        room_joins=frozenset(_each_word(table["names"]["joins"])),
        streets=_of_all(all_words, "streets"),
        before_streets=_of_all(all_words, "before"),
        sides={plain_words(words): side for side, all_ in table["readings"]["sides"].items() for words in all_},
        room_leads=tuple(sorted((plain_words(lead) for lead in table["names"]["room_leads"]), key=len, reverse=True)),
        no_rooms=tuple(plain_words(phrase) for phrase in table["names"]["no_rooms"]),
        name_leads=tuple(plain_words(lead) for lead in table["names"]["leads"]),
        asks=frozenset(_each_word(table["readings"]["words"]["asks"])),
        asks_last=frozenset(_each_word(table["readings"]["words"].get("asks_last", ()))),
    )


def _ears(words: _Words, all_words: Mapping[str, _Words]) -> tuple[Ear, ...]:
    """One ear for all languages that are spelled plainly, one more for each other."""
    plain: list[Graph] = []
    special: list[Ear] = []
    for other in all_words.values():
        heard = [words.graph] if other is words else [g for e in other.entries for g in _foreign(*e, words.own)]
        if other.speller.plain:
            plain += heard
        else:
            special.append(Ear(other.speller, merged(heard)))
    return (Ear(PLAIN, merged(plain)), *special)


def _sequences(phrases: Sequence[str], speller: Speller) -> Sequences:
    return frozenset(one for phrase in phrases for one in product(*speller.forms(phrase)))


def _foreign(meaning: Meaning, graph: Graph, own: frozenset[str]) -> Iterator[Graph]:
    """What is understood in every language. A word of one's own language keeps its own sense."""
    if meaning.kind == "language":
        yield graph
    elif meaning.kind in _EVERYWHERE or (meaning.whole and meaning.kind in COMMANDS):
        yield without_single(graph, own)


def _of_all(all_words: Mapping[str, _Words], key: str) -> frozenset[str]:
    return frozenset(word for words in all_words.values() for word in _each_word(words.table["addresses"][key]))


def _each_word(phrases: Sequence[str]) -> Iterator[str]:
    for phrase in phrases:
        yield from plain_words(phrase)


def _terms(table: Mapping[str, Any], speller: Speller, phrase_words: set[str]) -> Graph:
    readings, dates, numbers = table["readings"], table["dates"], table["numbers"]
    graphs: list[Graph] = [*_denials(readings["words"], numbers["words"], speller)]
    others = _other_words(table, speller) | _without_aliases(phrase_words)
    for word, value in numbers["words"].items():
        graphs.append(_number_graph(word, float(value), numbers["doubtful"], others, speller))
    for section, source in (
        ("points", readings), ("materials", readings), ("kinds", readings), ("colours", readings),
        ("weekdays", dates), ("weekdays_short", dates), ("days", dates),
    ):  # fmt: skip
        for value, phrases in source[section].items():
            graphs.extend(_term_graphs(phrases, Term(section, value), speller))
    for month, names in enumerate(dates["months"], start=1):
        graphs.extend(_term_graphs(names, Term("months", float(month)), speller))
    for kind, phrases in (*dates["words"].items(), *readings["words"].items()):
        if kind in ("asks", "asks_last"):
            continue
        graphs.extend(_term_graphs(phrases, Term(kind), speller))
    for kind in ("half", "point"):
        graphs.extend(_term_graphs(numbers[kind], Term(kind), speller))
    return merged(graphs)


def _denials(words: Mapping[str, Sequence[str]], numbers: Mapping[str, float], speller: Speller) -> Iterator[Graph]:
    """Words that are both "no" and "not", or a denial and a number (Vietnamese "không"): what is asked for decides."""
    for word in sorted({*words["no"], *words["not"]}):
        kind = NO_OR_NOT if word in words["no"] and word in words["not"] else "no" if word in words["no"] else "not"
        if kind == NO_OR_NOT or word in numbers:
            yield from _term_graphs([word], Term(kind, numbers.get(word, "")), speller)


def _other_words(table: Mapping[str, Any], speller: Speller) -> set[str]:
    """Words of the readings' and dates' grammar that are no numbers."""
    lists = [p for section in ("readings", "dates") for entry in table[section].values() if isinstance(entry, dict)
             for p in entry.values()]  # fmt: skip
    return {forms[0] for phrases in lists for phrase in phrases for forms in speller.token_forms(phrase)}


def _without_aliases(words: set[str]) -> set[str]:
    """``words`` less those that are only another one without its marks."""
    marked = {fold(word) for word in words if fold(word) != word}
    return {word for word in words if word not in marked}


def _number_graph(word: str, value: float, doubtful: Sequence[str], others: set[str], speller: Speller) -> Graph:
    """A number in words; in several also with hyphens or as one. One that may be another word is doubtful.

    Where marks tell words apart, a single word without its marks is doubtful as soon as the file has another word that
    is written so ("sau": six, or after?).
    """
    words = speller.token_forms(word)
    if len(words) > 1 or not speller.marks:
        term = Term("number", value, doubtful=word in doubtful)
        joined = "".join(forms[0] for forms in words if forms != ("-",))
        return merged([_spelled(each, speller, term) for each in dict.fromkeys((word, joined))])
    graphs = [ending(Term("number", value, doubtful=form in doubtful or _is_another(form, words[0], others)))
              for form in words[0]]  # fmt: skip
    return merged([{form: graph} for form, graph in zip(words[0], graphs, strict=True)])


def _is_another(form: str, forms: Sequence[str], others: set[str]) -> bool:
    same = {word for word in others if fold(word) == fold(form) and word != forms[0]}
    return form == fold(form) and bool(same)


def _spelled(word: str, speller: Speller, term: Term = Term("number")) -> Graph:
    following = ending(term)
    for forms in reversed([forms for forms in speller.token_forms(word) if forms != ("-",)]):
        after = following if following.keys() == ending(term).keys() else merged([following, {"-": following}])
        following = dict.fromkeys(forms, after)
    return following


def _term_graphs(phrases: Sequence[str], term: Term, speller: Speller) -> Iterator[Graph]:
    """A term may hold signs ("% mc")."""
    for phrase in phrases:
        yield sequence_graph(speller.token_forms(phrase), ending(term))

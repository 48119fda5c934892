"""What is wrong with the texts and their catalogues, found before a person reads them."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from babel.messages.pofile import PoFileError

from guide_service.wording.catalogue import (
    SOURCE_LANGUAGE,
    Forms,
    Sourced,
    as_forms,
    catalogue_path,
    placeholders_fit,
    read_catalogue,
    unusable,
)
from guide_service.wording.catalogue_files import template, template_path
from guide_service.wording.commands import Commands, commands_of
from guide_service.wording.commands import lacking as lacking_commands
from guide_service.wording.gsm import BIDI_CONTROLS, GSM_SET, gsm_safe
from guide_service.wording.longest import longest
from guide_service.wording.own_formats import small_alphabet
from guide_service.wording.plurals import agrees_with_cldr
from guide_service.wording.reading_grade import too_hard
from guide_service.wording.room import Texts, allowed_segments, counted
from guide_service.wording.template import malformed, placeholders

_OPT_OUT = frozenset({"STOP", "UNSUBSCRIBE", "END", "QUIT", "STOPALL", "REVOKE", "OPTOUT", "CANCEL"})
CARRIER_KEYWORDS = _OPT_OUT | {"START", "UNSTOP", "YES", "HELP", "INFO"}
"""Single words that the carrier acts on itself (its documentation of default opt-out handling, "advanced-opt-out")."""
TOLD_TO_PEOPLE = frozenset({"STOP", "START", "HELP"})
"""What a text may tell people to send, because the carrier's meaning is the one that is meant."""

_OFFERED = re.compile(r"\b(?:reply|text|answer|send|type)s?(?: back)?(?: with)? [\"']?([A-Za-z]+)\b", re.IGNORECASE)
_CAPITALS = re.compile(r"\b[A-Z]{3,}\b")


@dataclass(frozen=True, slots=True)
class Problem:
    kind: str
    """``stale``, ``damaged``, ``plural forms``, ``placeholders``, ``form``, ``unknown placeholder``, ``character``,
    ``carrier keyword``, ``command``, ``budget``, ``reading grade`` or ``english``."""
    language: str
    context: str
    """The message id (``#spoken`` for its spoken variant), or a file."""
    place: str
    detail: str

    def __str__(self) -> str:
        return f"{self.place}: {self.language} {self.context}: {self.kind}: {self.detail}"


@dataclass(frozen=True, slots=True)
class Report:
    problems: tuple[Problem, ...]
    lacking: dict[str, Counter[str]] = field(default_factory=dict)
    """For each language how many texts are not said in it, by reason (``untranslated``, ``fuzzy``, ``outdated``, …)."""


def checked(entries: tuple[Sourced, ...], folder: str, locales_dir: Path, languages: Iterable[str]) -> Report:
    """Problems of the English texts, of the template and of the catalogues of ``languages``."""
    problems = [*_stale(entries, folder, locales_dir), *english_problems(entries)]
    lacking: dict[str, Counter[str]] = {}
    for language in languages:
        found, lacking[language] = _language_problems(locales_dir, entries, language)
        problems += found
    return Report(tuple(problems), lacking)


def english_problems(entries: tuple[Sourced, ...]) -> Iterator[Problem]:
    """Problems of the texts as the flow files have them."""
    english = {entry.context: entry.forms for entry in entries}
    for entry in entries:
        if not placeholders_fit(entry.forms, entry.forms):
            yield _problem("placeholders", SOURCE_LANGUAGE, entry, "singular and plural name different places")
        for name in sorted(frozenset().union(*map(placeholders, entry.forms))):
            if longest(name, entry.message.id) is None:
                yield _problem("unknown placeholder", SOURCE_LANGUAGE, entry, f"no longest value for %({name})s")
        yield from _form_problems(entry, entry.forms, SOURCE_LANGUAGE, english)
    for hard in too_hard({entry.message.id: entry.message for entry in entries}.values()):
        detail = f"grade {hard.grade:.1f} where {hard.limit:.0f} is the hardest"
        yield Problem("reading grade", SOURCE_LANGUAGE, hard.where, hard.place, detail)


def _stale(entries: tuple[Sourced, ...], folder: str, locales_dir: Path) -> Iterator[Problem]:
    path = template_path(locales_dir)
    if not path.is_file() or path.read_bytes() != template(entries, folder):
        detail = "differs from the flow files: extract again and commit"
        yield Problem("stale", SOURCE_LANGUAGE, path.name, path.name, detail)


def _language_problems(
    locales_dir: Path, entries: tuple[Sourced, ...], language: str
) -> tuple[list[Problem], Counter[str]]:
    path = catalogue_path(locales_dir, language)
    try:
        catalogue = read_catalogue(path)
    except FileNotFoundError:
        return [], Counter({"no catalogue": len(entries)})
    except (PoFileError, ValueError) as error:
        return [Problem("damaged", language, path.name, path.name, str(error))], Counter()
    problems: list[Problem] = []
    if not agrees_with_cldr(language, catalogue.plural_forms):
        problems.append(Problem("plural forms", language, path.name, path.name, catalogue.plural_forms))
    by_context = {entry.context: entry for entry in catalogue if entry.context}
    texts = {context: as_forms(entry.string) for context, entry in by_context.items() if any(as_forms(entry.string))}
    commands = commands_of(locales_dir, language)
    lacking: Counter[str] = Counter()
    for entry in entries:
        translation = by_context.get(entry.context)
        why = unusable(translation, entry, language)
        lacking += Counter([why] if why else [])
        if translation is not None and why in (None, "placeholders"):
            problems += translation_problems(entry, as_forms(translation.string), language, texts, commands)
    return problems, lacking


def translation_problems(
    entry: Sourced, forms: Forms, language: str, texts: Texts, commands: Commands
) -> Iterator[Problem]:
    """What is wrong with one translation. ``texts``: all of the language, for the longest values of its places."""
    if not placeholders_fit(forms, entry.forms):
        named = ", ".join(sorted(frozenset().union(*map(placeholders, forms)))) or "none"
        wanted = ", ".join(sorted(frozenset().union(*map(placeholders, entry.forms)))) or "none"
        yield _problem("placeholders", language, entry, f"names {named} where the English names {wanted}")
    for english, word in lacking_commands(entry.forms, forms, commands):
        yield _problem("command", language, entry, f"{english} is {word} in this language, and that is not in the text")
    if language != SOURCE_LANGUAGE:
        yield from _form_problems(entry, forms, language, texts)
    elif forms != entry.forms:
        yield _problem("english", language, entry, "is changed in the flow file, not in the catalogue")


def _form_problems(entry: Sourced, forms: Forms, language: str, texts: Texts) -> Iterator[Problem]:
    for form in forms:
        for odd in malformed(form):
            yield _problem("form", language, entry, f"{odd!r}: places are %(name)s, a per cent sign is %%")
        for character in sorted(_forbidden(form, language, entry.spoken or entry.message.never_texted)):
            name = unicodedata.name(character, "a control character")
            yield _problem("character", language, entry, f"U+{ord(character):04X} {name}")
        for word in sorted(offered_keywords(form)):
            yield _problem("carrier keyword", language, entry, f"{word} is acted on by the carrier itself")
        if not entry.spoken and not entry.message.never_texted:
            yield from _budget_problems(entry, form, language, texts)


def _budget_problems(entry: Sourced, form: str, language: str, texts: Texts) -> Iterator[Problem]:
    found = counted(form, entry.context, language, texts)
    allowed = allowed_segments(entry.message.budget, language)
    if found.count > allowed:
        detail = f"{found.count} segments ({found.units} {found.encoding} units) where {allowed} are allowed"
        yield _problem("budget", language, entry, detail)


def _forbidden(form: str, language: str, any_letter: bool) -> frozenset[str]:
    """Characters that nobody would see or that cost a text half its room (nothing to a voice or to paper)."""
    unseen = frozenset(c for c in form if c in BIDI_CONTROLS or (unicodedata.category(c) == "Cc" and c != "\n"))
    costly = frozenset(gsm_safe(form)) - GSM_SET if small_alphabet(language) and not any_letter else frozenset[str]()
    return unseen | costly


def offered_keywords(text: str) -> frozenset[str]:
    """Carrier keywords that a text gives as something to answer; a text that is nothing else is an answer itself."""
    if (word := text.strip(" .!?\"'").upper()) in CARRIER_KEYWORDS:
        return frozenset({word})
    told = {word.upper() for word in _OFFERED.findall(text)} | set(_CAPITALS.findall(text))
    return frozenset(told & CARRIER_KEYWORDS) - TOLD_TO_PEOPLE


def _problem(kind: str, language: str, entry: Sourced, detail: str) -> Problem:
    return Problem(kind, language, entry.context, entry.message.place, detail)

"""The files of the agents' words are current and whole, and no template says anything outside of its marks."""

from __future__ import annotations

import re
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from guide_service.console import catalogue_keeping as keeping
from guide_service.console.catalogue import DOMAIN
from guide_service.console.pages import HERE, templates
from guide_service.settings import LOCALES_DIR

SHOWN_ATTRIBUTES = ("aria-label", "title", "placeholder", "alt", "data-one", "data-many", "data-wide", "data-told")
TEMPLATES = sorted(each.name for each in (HERE / "templates").glob("*.html"))


class Bare(HTMLParser):
    """Letters that a template shows outside of every ``{{ }}``."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.found: list[str] = []
        source = re.sub(r"{% block width %}\w*{% endblock %}", "", source)  # the name of a style
        data = (text if kind == "data" else "\u2423" for _, kind, text in templates.env.lex(source))
        self.feed(re.sub("\u2423+", "\u2423", "".join(data)))

    def handle_data(self, data: str) -> None:
        if re.search(r"[^\W\d_]", data):
            self.found.append(data.strip())

    def handle_starttag(self, _tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [
            value for name, value in attrs if name in SHOWN_ATTRIBUTES and value and value.strip("\u2423 .,:")
        ]


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_template_says_a_word_outside_the_marks(name: str) -> None:
    assert Bare((HERE / "templates" / name).read_text(encoding="utf-8")).found == []


def test_a_word_outside_the_marks_would_be_found() -> None:
    assert Bare('<p>{{ _("Area") }} here</p><a title="Go {{ x }}">{# no #}{% if a %}or{% endif %}</a>').found == [
        "\u2423 here", "Go \u2423", "\u2423or\u2423",
    ]  # fmt: skip


def test_the_template_is_current_and_the_catalogues_fit() -> None:
    report = keeping.check(LOCALES_DIR, keeping.translated(LOCALES_DIR))
    assert report.problems == (), "run: python -m guide_service locales console extract (and update, and translate)"


def test_spanish_lacks_nothing() -> None:
    assert keeping.check(LOCALES_DIR, ["es"]).lacking == {"es": Counter()}, "run: locales console update, and translate"


def a_catalogue(tmp_path: Path, **translations: str) -> Path:
    """A language's file with these translations of texts of the pages, by the first word of each."""
    path = keeping.catalogue_path(tmp_path, "es")
    keeping.extract(tmp_path)
    keeping.update(tmp_path, ["es"])
    catalogue = read_po(path.read_bytes().decode().splitlines(keepends=True), domain=DOMAIN)
    for entry in catalogue:
        if entry.id in translations:
            entry.string = translations[entry.id]
    path.write_bytes(keeping.merged(catalogue, "es"))
    return path


def test_a_lost_place_or_foreign_markup_is_found(tmp_path: Path) -> None:
    a_catalogue(tmp_path, **{
        "claimed by %(name)s": "tomado", "Claim": "<b>Tomar</b>", "added by %(name)s": "de %(nombre)s", "Area": "Zona",
    })  # fmt: skip
    problems = keeping.check(tmp_path, ["es"]).problems
    assert [each.split(":")[1].strip(" '") for each in sorted(problems)] == [
        "Claim", "added by %(name)s", "claimed by %(name)s",
    ]  # fmt: skip


def test_what_is_missing_is_counted_and_never_a_problem_of_its_own(tmp_path: Path) -> None:
    a_catalogue(tmp_path, Area="Zona")
    report = keeping.check(tmp_path, ["es", "fr"])
    every = len(list(keeping.extracted())) - 1
    assert report.problems == ()
    assert report.lacking == {"es": Counter({"untranslated": every - 1}), "fr": Counter({"no catalogue": every})}


def test_a_translation_outlives_an_update_and_carries_its_review_state(tmp_path: Path) -> None:
    path = a_catalogue(tmp_path, Area="Zona")
    before = path.read_bytes()
    keeping.update(tmp_path, ["es"])
    assert path.read_bytes() == before
    entry = read_po(before.decode().splitlines(keepends=True), domain=DOMAIN).get("Area")
    assert entry is not None
    assert (entry.string, entry.user_comments) == ("Zona", ["needs a speaker's review"])


def test_a_text_that_is_gone_is_kept_as_retired(tmp_path: Path) -> None:
    old = Catalog(domain=DOMAIN)
    old.add("A word of yesterday", "Una palabra de ayer")
    assert '#~ msgid "A word of yesterday"' in keeping.merged(old, "es").decode()


def test_the_pages_style_knows_no_left_and_right() -> None:
    style = (HERE / "static" / "console.css").read_text(encoding="utf-8")
    assert (
        re.findall(
            r"(?:margin|padding|border|inset)-(?:left|right)|[;{ ](?:left|right):|(?:align|float): ?(?:left|right)",
            style,
        )
        == []
    )
    four = re.findall(r"(?:margin|padding): *([^\s;]+) +([^\s;]+) +([^\s;]+) +([^\s;]+);", style)
    assert [each for each in four if each[1] != each[3]] == []

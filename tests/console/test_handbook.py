"""The handbook: every page leads to a part of it that is there, and its words and pictures are those of the pages."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from guide_service.console import words
from guide_service.console.handbook import FILE, PICTURES, handbook, slug
from guide_service.console.pages import HERE
from guide_service.settings import ROOT

TEMPLATES = sorted((HERE / "templates").glob("*.html"))
PAGES = [each for each in TEMPLATES if '{% extends "base.html" %}' in each.read_text(encoding="utf-8")]
PART = re.compile(r'\{% set handbook_part = "([\w-]+)" %\}')
PICTURE = re.compile(r"!\[([^\]]*)\]\((?:docs/)?pictures/([^)]+)\)")


def ids() -> list[str]:
    return [section.id for section in handbook().sections]


@pytest.mark.parametrize("template", PAGES, ids=lambda each: each.name)
def test_every_page_leads_to_a_section_that_is_there(template: object) -> None:
    parts = PART.findall(template.read_text(encoding="utf-8"))  # type: ignore[attr-defined]
    assert len(parts) == 1, 'a page names its part of the handbook: {% set handbook_part = "..." %}'
    assert parts[0] in ids()


def test_sections_have_addresses_of_their_own_and_links_in_the_handbook_lead_to_them() -> None:
    assert len(ids()) == len(set(ids())) > 15
    html = str(handbook().html)
    links = re.findall(r'href="([^"]+)"', html)
    assert links
    assert {link.removeprefix("#") for link in links} <= set(ids()), "only to sections: nothing else is served"
    assert [each for each in ids() if f'id="{each}"' not in html] == []


def test_every_picture_is_there_is_used_and_is_told_in_words() -> None:
    texts = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
    used = [found for text in texts for found in PICTURE.findall(text.read_text(encoding="utf-8"))]
    assert {name for _, name in used} == {each.name for each in PICTURES.iterdir()}
    assert [name for told, name in used if len(told) < 20] == []
    assert handbook().pictures == {name for _, name in PICTURE.findall(FILE.read_text(encoding="utf-8"))}


def test_pictures_are_small() -> None:
    assert {each.name: each.stat().st_size for each in PICTURES.glob("*.png") if each.stat().st_size > 130_000} == {}


def test_every_reason_and_band_of_the_pages_is_explained() -> None:
    text = FILE.read_text(encoding="utf-8")
    assert [each for each in words.REASONS.values() if f"| {each} |" not in text] == []
    assert [each for each in words.BANDS.values() if f"| **{each}** |" not in text] == []


def test_what_the_handbook_calls_by_a_name_stands_on_a_page() -> None:
    """Words in italics are words of the pages."""
    pages = "\n".join(each.read_text(encoding="utf-8") for each in TEMPLATES)
    known = pages + "\n".join(str(each) for each in vars(words).values())
    named = re.findall(r"(?<!\*)\*([^*\n]+)\*(?!\*)", FILE.read_text(encoding="utf-8"))
    assert len(named) > 25
    assert [each for each in named if each not in known and each not in EXAMPLES] == []


EXAMPLES = frozenset(
    {
        "day 22 since the flood",
        "power off",
        "wettest 40, now 34, falling",
        "answered: ...",
        "told that a person will answer",
        "ready to close",
        "notice",
    }
)
"""In italics, yet no fixed words of a template."""


def test_it_is_read_without_signing_in_and_shows_its_pictures(browser: TestClient) -> None:
    answer = browser.get("/console/handbook")
    assert answer.status_code == 200
    assert "Sign out" not in answer.text
    name = min(handbook().pictures)
    picture = browser.get(f"/console/handbook/pictures/{name}")
    assert (picture.status_code, picture.headers["content-type"]) == (200, "image/png")


@pytest.mark.parametrize("name", ["none.png", "drying-frontier.svg", "..%2Fagents-handbook.md", "%2E%2E"])
def test_no_other_file_is_given_out(browser: TestClient, name: str) -> None:
    assert browser.get(f"/console/handbook/pictures/{name}").status_code == 404


def test_addresses_are_made_of_words() -> None:
    assert slug("What to do when") == "what-to-do-when"
    assert slug("The agents' handbook") == "the-agents-handbook"

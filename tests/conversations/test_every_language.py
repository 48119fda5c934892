"""The same conversations in every language found in locales/, with what its people type (``languages/<code>.toml``)."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conversations.script import read_script
from tests.conversations.stage import Stage
from tests.conversations.test_scripts import beginnings, staged  # noqa: F401  (fixtures)
from tests.wording.every_language import TRANSLATED

HERE = Path(__file__).parent
SCRIPTS = sorted((HERE / "in_every_language").glob("*.txt"))
NAMED = re.compile(r"\{(\w+)\}")
NEEDED = sorted({name for path in SCRIPTS for name in NAMED.findall(path.read_text("utf-8"))} - {"language", "code"})


def typed(language: str) -> dict[str, str]:
    table = tomllib.loads((HERE / "languages" / f"{language}.toml").read_text(encoding="utf-8"))
    return {**table, "language": language}


@pytest.mark.parametrize("language", TRANSLATED)
def test_every_language_says_what_its_people_type(language: str) -> None:
    assert [name for name in NEEDED if not typed(language).get(name)] == []


@pytest.mark.parametrize("language", TRANSLATED)
@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_a_conversation_comes_out_the_same_in_every_language(
    path: Path,
    language: str,
    staged: Callable[..., Stage],  # noqa: F811
    tmp_path: Path,
) -> None:
    words = typed(language)
    script = tmp_path / f"{path.stem}_{language}.txt"
    script.write_text(NAMED.sub(lambda found: words[found[1]], path.read_text("utf-8")), encoding="utf-8")
    staged(read_script(script)).play()

"""Makes locales/scenes.json: for each text a short piece of a conversation of the tests in which it is said.

python -m tests.conversations.scenes

The conversations are played by pytest, with GUIDE_TEST_SCENES naming a folder in which each leaves what was typed and
said (``recorded`` in ``conftest``). Of all pieces in which a text appears the shortest is kept.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from typing import Any

from guide_service.settings import LOCALES_DIR
from guide_service.wording.scenes import FILE_NAME, decoded, ids_in
from tests.conversations.playing import left_by

FOLDER = "GUIDE_TEST_SCENES"
PLAYED = ("test_scripts.py", "test_stories.py")


def pieces(talk: list[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    """What was said, with what was said and typed before it."""
    for at, turn in enumerate(talk):
        if "says" in turn:
            before = talk[max(at - 2, 0) : at]
            yield [*(before if before and "typed" in before[-1] else []), turn]


def chosen(talks: list[list[dict[str, Any]]]) -> dict[str, Any]:
    best: dict[str, tuple[int, str]] = {}
    for talk in talks:
        for piece in pieces(talk):
            text = json.dumps(piece, ensure_ascii=False, sort_keys=True)
            for message in {each for say in piece[-1]["says"] for each in ids_in(decoded(say))}:
                best[message] = min(best.get(message, (len(text), text)), (len(text), text))
    scenes = sorted({text for _, text in best.values()})
    return {"scenes": [json.loads(text) for text in scenes],
            "of": {message: scenes.index(text) for message, (_, text) in sorted(best.items())}}  # fmt: skip


def written(found: dict[str, Any]) -> str:
    """One scene a line, so that a difference can be read."""
    scenes = ",\n".join(json.dumps(scene, ensure_ascii=False) for scene in found["scenes"])
    return f'{{"scenes": [\n{scenes}\n],\n"of": {json.dumps(found["of"], indent=0)}}}\n'


def main() -> None:
    talks = list(left_by(PLAYED, FOLDER, "-n", "0", check=True).values())
    found = chosen(talks)
    (LOCALES_DIR / FILE_NAME).write_text(written(found), encoding="utf-8")
    sys.stdout.write(f"{len(found['scenes'])} scenes for {len(found['of'])} texts, of {len(talks)} conversations\n")


if __name__ == "__main__":
    main()

"""What is typed and said while a conversation is played, left in a folder where ``scenes`` asks for it."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from guide_service.console import entering, escalations
from guide_service.followup import alarms, other_channel, second_contact, take_overs
from guide_service.turning import deciding, joining
from guide_service.wording.scenes import encoded
from tests.conversations.scenes import FOLDER
from tests.conversations.stage import Stage

SPEAKERS = (deciding, joining, alarms, take_overs, second_contact, other_channel, escalations, entering)


@pytest.fixture(autouse=True)
def recorded(request: pytest.FixtureRequest) -> Iterator[None]:
    folder = os.environ.get(FOLDER)
    if not folder:
        yield
        return
    talk: list[dict[str, Any]] = []
    with pytest.MonkeyPatch.context() as patch:
        for module in SPEAKERS:
            patch.setattr(module, "compose", _noting(module.compose, talk))
        patch.setattr(Stage, "text", _noting_texts(Stage.text, talk))
        yield
    name = re.sub(r"\W+", "_", request.node.name)
    (Path(folder) / f"{name}.json").write_text(json.dumps(talk, ensure_ascii=False), encoding="utf-8")


def _noting(compose: Any, talk: list[dict[str, Any]]) -> Any:
    def noted(says: Any, *rest: Any) -> Any:
        said = list(says)
        if said:
            talk.append({"says": [encoded(say) for say in said]})
        return compose(said, *rest)

    return noted


def _noting_texts(text: Any, talk: list[dict[str, Any]]) -> Any:
    def noted(stage: Stage, step: Any) -> Any:
        talk.append({"typed": step.text})
        return text(stage, step)

    return noted

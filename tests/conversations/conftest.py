"""What is typed and said while a conversation is played, left in a folder where ``scenes`` asks for it."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conversations.noting import noted
from tests.conversations.scenes import FOLDER


@pytest.fixture(autouse=True)
def recorded(request: pytest.FixtureRequest) -> Iterator[None]:
    folder = os.environ.get(FOLDER)
    if not folder:
        yield
        return
    with noted() as talk:
        yield
    name = re.sub(r"\W+", "_", request.node.name)
    (Path(folder) / f"{name}.json").write_text(json.dumps(talk, ensure_ascii=False), encoding="utf-8")

"""What is typed and said while a conversation is played, noted for ``scenes``."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any

import pytest

from guide_service.wording import sms
from guide_service.wording.scenes import encoded
from tests.conversations.stage import STEPS, Stage


@contextmanager
def noted() -> Iterator[list[dict[str, Any]]]:
    """The talk of all that is played inside: what a person typed, and what was said, as data."""
    talk: list[dict[str, Any]] = []
    with pytest.MonkeyPatch.context() as patch:
        for module in _speakers():
            patch.setattr(module, "compose", _noting(sms.compose, talk))
        patch.setitem(STEPS, ">", _noting_texts(STEPS[">"], talk))
        yield talk


def _speakers() -> list[ModuleType]:
    """Every module that puts texts into words, found by what it uses: a list by hand would miss the next one."""
    loaded = [module for name, module in sys.modules.items() if name.startswith("guide_service.") and module is not sms]
    return [module for module in loaded if getattr(module, "compose", None) is sms.compose]


def _noting(compose: Any, talk: list[dict[str, Any]]) -> Any:
    def noting(says: Any, *rest: Any) -> Any:
        said = list(says)
        if said:
            talk.append({"says": [encoded(say) for say in said]})
        return compose(said, *rest)

    return noting


def _noting_texts(text: Any, talk: list[dict[str, Any]]) -> Any:
    def noting(stage: Stage, step: Any) -> Any:
        talk.append({"typed": step.text})
        return text(stage, step)

    return noting

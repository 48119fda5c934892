"""How a fault is told to a log: by its kind and place, never by its words."""

from __future__ import annotations

import traceback


def describe(problem: BaseException) -> str:
    """What went wrong and where. Never the words of an exception: they may hold a number or a text."""
    frames = traceback.extract_tb(problem.__traceback__)
    ours = [frame for frame in frames if "guide_service" in frame.filename] or frames
    where = f" at {ours[-1].name}:{ours[-1].lineno}" if ours else ""
    return f"{type(problem).__name__}{where}"

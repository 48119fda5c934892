"""Conversations played by pytest for what they leave in a folder: made anew from them are ``scenes`` and ``walked``."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from guide_service.settings import ROOT


def left_by(names: Sequence[str], variable: str, *options: str, check: bool) -> dict[str, Any]:
    """What each conversation of these test files (named from this folder) left, by its name, on SQLite alone.

    ``variable``: of the environment, in which they find the folder. ``check``: raise when one of them fails.
    """
    tests = [str(Path(__file__).parent / name) for name in names]
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "pytest", "-q", *options, "-k", "not postgres", *tests]
        subprocess.run(command, cwd=ROOT, env={**os.environ, variable: folder}, check=check)
        left = sorted(Path(folder).glob("*.json"))
        return {path.stem: json.loads(path.read_text(encoding="utf-8")) for path in left}

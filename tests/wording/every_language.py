"""The languages found in locales/, each with its catalogue, its longest values and its messages."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from guide_service.wording.catalogue import Catalogues, sourced
from guide_service.wording.messages import load_messages

ROOT = Path(__file__).parents[2]
FLOWS, LOCALES = ROOT / "conversation_flows", ROOT / "locales"
LANGUAGES = sorted(path.parents[1].name for path in LOCALES.glob("*/LC_MESSAGES/guide.po"))
TRANSLATED = [language for language in LANGUAGES if language != "en"]
MESSAGES = load_messages(FLOWS)
ENTRIES = {entry.context: entry for entry in sourced(MESSAGES.values())}


@lru_cache(maxsize=1)
def catalogues() -> Catalogues:
    return Catalogues.load(LOCALES, MESSAGES, LANGUAGES)

"""A scene keeps what was said through its file: every kind of value that a text may be given."""

from __future__ import annotations

import datetime as dt
import json

from guide_service.dialogue.saying import ByLanguage, Say
from guide_service.wording.scenes import decoded, encoded


def test_every_kind_of_value_comes_back_from_the_file_as_it_was() -> None:
    said = Say(
        "finding.stalled",
        {
            "office": "Millrace office",
            "checks": 4,
            "value": 14.5,
            "date": dt.date(2026, 12, 1),
            "time": dt.time(16, 30),
            "referral_line": ByLanguage("211", {"es": "211, en español"}),
            "label": Say("label.owner"),
            "list": (Say("verdict.name", {"place": "K1"}), Say("verdict.name", {"place": "K2"})),
        },
        3,
    )
    assert decoded(json.loads(json.dumps(encoded(said)))) == said

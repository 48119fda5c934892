"""docs/segments.md is what the command makes."""

from guide_service.wording import maintenance
from tests.wording.every_language import FLOWS, LOCALES, ROOT, TRANSLATED


def test_the_table_of_segments_is_current() -> None:
    made = maintenance.segment_table(FLOWS, LOCALES, ["en", *TRANSLATED])
    stored = (ROOT / "docs" / "segments.md").read_text(encoding="utf-8")
    assert stored == made, "make it again: python -m guide_service locales segments > docs/segments.md"

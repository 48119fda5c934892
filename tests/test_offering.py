"""A language without signed safety texts is not offered, unless the demo runs or the county accepts it."""

from pathlib import Path

import pytest

from guide_service.county import read_county
from guide_service.offering import offered
from guide_service.settings import FLOWS_DIR, LOCALES_DIR
from guide_service.wording.signing import unsigned_safety

COUNTY = read_county(Path(__file__).parents[1] / "guide_service" / "larkwater.toml")


@pytest.mark.parametrize(
    ("accepted", "demo", "languages"),
    [({}, False, ("en",)), ({}, True, ("en", "es")), ({"es": "a speaker reads them now"}, False, ("en", "es"))],
)
def test_only_signed_or_accepted_languages_are_offered(
    accepted: dict[str, str], demo: bool, languages: tuple[str, ...]
) -> None:
    county = COUNTY.model_copy(update={"unsigned_languages": accepted, "languages": ("en", "es")})
    assert unsigned_safety(FLOWS_DIR, LOCALES_DIR, "es")
    assert offered(county, FLOWS_DIR, LOCALES_DIR, demo=demo) == languages

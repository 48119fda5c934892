"""A county file is refused with its name and the field: nobody starts with limits that contradict each other."""

from __future__ import annotations

from pathlib import Path

import pytest

from guide_service.county import read_county
from guide_service.settings import EXAMPLE_COUNTY, SettingsError


def changed(folder: Path, old: str, new: str) -> Path:
    text = EXAMPLE_COUNTY.read_text(encoding="utf-8")
    assert old in text
    path = folder / "county.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


def test_the_example_is_in_order():
    assert read_county(EXAMPLE_COUNTY).name == "Larkwater County"


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ("dry_below_mc = 15.0", "dry_below_mc = 25.0", "limits"),
        ("confidence = 0.95", "confidence = 95", "limits"),
        ('on_call = ["+12025550111"]', 'on_call = ["555"]', "on_call"),
        ('area = "upper_larkwater"', 'area = "nowhere"', "nowhere"),
        ('office = "upper"', 'office = "lower"', "lower"),
        ('time_zone = "America/New_York"', 'time_zone = "Larkwater"', "time_zone"),
        ("rounds = 2 ", "rouns = 2 ", "limits.rouns"),
        ('name = "Larkwater County"', "name = Larkwater County", "not TOML"),
    ],
)
def test_what_cannot_be_is_refused_by_name(tmp_path, old, new, named):
    with pytest.raises(SettingsError) as refused:
        read_county(changed(tmp_path, old, new))
    assert named in str(refused.value)
    assert "county.toml" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(SettingsError, match="no such file"):
        read_county(tmp_path / "county.toml")

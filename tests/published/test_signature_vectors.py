"""The carrier's published signature examples, recomputed by our own code."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from guide_service.carrier.signature import is_genuine, sign

VECTORS = json.loads((Path(__file__).parent / "data" / "signature_vectors.json").read_text(encoding="utf-8"))
TOKEN = "12345"

forms = pytest.mark.parametrize("vector", VECTORS["form"], ids=lambda vector: vector["source"])


@forms
def test_the_signature_of_a_published_form(vector: dict[str, Any]) -> None:
    pairs = list(vector["params"].items())
    assert sign(vector["url"], pairs, TOKEN) == vector["signature"]
    assert is_genuine(vector["url"], pairs, vector["signature"], TOKEN)


@forms
def test_one_changed_character_is_not_genuine(vector: dict[str, Any]) -> None:
    changed = vector["params"] | {"Digits": "1235"}
    assert not is_genuine(vector["url"], list(changed.items()), vector["signature"], TOKEN)
    assert not is_genuine(vector["url"], list(vector["params"].items()), vector["signature"], TOKEN + "6")


def test_a_url_signed_with_its_port_is_genuine_without_it_and_the_other_way_round() -> None:
    vector = next(vector for vector in VECTORS["form"] if "with_port_443" in vector)
    pairs = list(vector["params"].items())
    with_port = vector["url"].replace("mycompany.com", "mycompany.com:443")
    assert sign(with_port, pairs, TOKEN) == vector["with_port_443"]
    assert is_genuine(vector["url"], pairs, vector["with_port_443"], TOKEN)
    assert is_genuine(with_port, pairs, vector["signature"], TOKEN)


@pytest.mark.parametrize("vector", VECTORS["duplicates"], ids=lambda vector: vector["source"])
def test_repeated_values_are_sorted_and_counted_once(vector: dict[str, Any]) -> None:
    pairs = [(name, value) for name, value in vector["pairs"]]
    assert sign(vector["url"], pairs, TOKEN) == vector["signature"]
    assert sign(vector["url"], pairs[::-1], TOKEN) == vector["signature"]


@pytest.mark.parametrize("vector", VECTORS["json"], ids=lambda vector: vector["source"])
def test_a_json_request_is_signed_by_its_url_alone(vector: dict[str, Any]) -> None:
    assert vector["url"].endswith(hashlib.sha256(vector["body"].encode()).hexdigest())
    assert sign(vector["url"], [], TOKEN) == vector["signature"]

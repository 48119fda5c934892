from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from guide_service.carrier.phone_numbers import E164, SenderKind, mask, normalise, origin_of


@pytest.mark.parametrize(
    "typed",
    ["+12025550123", "(202) 555-0123", "202.555.0123", "1 202 555 0123", "٢٠٢٥٥٥٠١٢٣", "202-555-0123 ext 5"],
)
def test_a_number_is_the_same_however_it_is_written(typed: str) -> None:
    assert normalise(typed) == "+12025550123"


@pytest.mark.parametrize("last", range(100, 200))
def test_every_number_of_the_fictional_range_is_usable(last: int) -> None:
    assert normalise(f"+12025550{last}") == f"+12025550{last}"


@pytest.mark.parametrize(
    "raw", ["", "anonymous", "5550123", "+15550123", "whatsapp:+12025550123", "12345", "+1202555012", "+266696687"]
)
def test_what_cannot_be_dialled_is_no_number(raw: str) -> None:
    assert normalise(raw) is None


@pytest.mark.parametrize(
    ("raw", "kind"),
    [
        ("+12025550123", SenderKind.PHONE),
        (" +12025550123 ", SenderKind.PHONE),
        ("+447400123456", SenderKind.PHONE),
        ("12345", SenderKind.SHORT_CODE),
        ("729725", SenderKind.SHORT_CODE),
        ("anonymous", SenderKind.ANONYMOUS),
        ("", SenderKind.ANONYMOUS),
        ("LARKWATER", SenderKind.ANONYMOUS),
        ("+86282452253", SenderKind.ANONYMOUS),
        ("+266696687", SenderKind.ANONYMOUS),
        ("+8566", SenderKind.ANONYMOUS),
        ("5550123", SenderKind.ANONYMOUS),
        ("whatsapp:+12025550123", SenderKind.OTHER_CHANNEL),
        ("rcs:larkwater", SenderKind.OTHER_CHANNEL),
    ],
)
def test_senders_are_told_apart(raw: str, kind: SenderKind) -> None:
    assert origin_of(raw).kind is kind


def test_a_phone_is_known_by_its_e164_and_others_by_what_the_carrier_wrote() -> None:
    assert origin_of("(202) 555-0123").address == "+12025550123"
    assert origin_of("whatsapp:+12025550123").address == "whatsapp:+12025550123"


@given(st.text(max_size=20) | st.from_regex(r"\+?[0-9]{1,15}", fullmatch=True))
def test_any_sender_has_a_kind_and_only_a_phone_can_be_dialled(raw: str) -> None:
    origin = origin_of(raw)
    if origin.kind is SenderKind.PHONE:
        assert E164.fullmatch(origin.address)
        assert normalise(origin.address) == origin.address
    else:
        assert origin.address == raw.strip()


@pytest.mark.parametrize(
    ("address", "masked"),
    [
        ("+12025550123", "...0123"),
        ("whatsapp:+12025550123", "...0123"),
        ("12345", "..."),
        ("anonymous", "..."),
        ("", "..."),
    ],
)
def test_a_masked_number_shows_four_digits_at_most(address: str, masked: str) -> None:
    assert mask(address) == masked

"""The household code: its check digit, and reading it out of a text."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from guide_service.dialogue import codes

FREE = st.integers(min_value=0, max_value=99_999)


@pytest.mark.parametrize("code", ["794623", "000000"])
def test_the_check_digit_is_that_of_the_standard(code: str) -> None:
    """79462 with 3 is an example that implementations of MOD 11-10 carry (from memory); five noughts by hand: the
    product goes 10, 9, 7, 3, 6, 1, and 11 less 1 is 10, written 0."""
    assert codes.check_digit(code[:5]) == code[5]
    assert codes.is_code(code)


@given(FREE, st.integers(0, 5), st.integers(1, 9))
def test_every_single_wrong_digit_is_found(number: int, at: int, more: int) -> None:
    code = codes.made_of(number)
    wrong = code[:at] + str((int(code[at]) + more) % 10) + code[at + 1 :]
    assert codes.is_code(code)
    assert not codes.is_code(wrong)


def test_nearly_every_swap_of_two_neighbours_is_found() -> None:
    swapped = missed = 0
    for number in range(0, 100_000, 7):
        code = codes.made_of(number)
        for at in range(5):
            other = code[:at] + code[at + 1] + code[at] + code[at + 2 :]
            swapped += other != code
            missed += other != code and codes.is_code(other)
    assert missed < swapped / 40


@given(FREE)
def test_a_code_is_read_as_it_is_told(number: int) -> None:
    code = codes.made_of(number)
    for text in (
        codes.grouped(code),
        f"join {code}",
        f"código {codes.grouped(code)}.",
        f"it is {code[:3]}-{code[3:]}!",
    ):
        assert codes.read_digits(text) == code


@given(st.lists(FREE, min_size=1, max_size=5))
def test_no_code_that_is_drawn_looks_like_a_cry_for_help(numbers: list[int]) -> None:
    drawn = iter([*numbers, 91166, 49117, 98817, 66211, 48291])
    code = codes.drawn(lambda _below: next(drawn))
    assert codes.is_code(code)
    for number in ("911", "112"):
        assert number not in code
    assert not {code[:3], code[3:]} & {"211", "811", "988"}


@pytest.mark.parametrize(
    "text",
    ["", "join", "K1 22 19 17", "call 202-555-0110", "4829", "4829171", "482 917 or 482 918", "48.2917", "A482917"],
)
def test_nothing_else_is_taken_for_a_code(text: str) -> None:
    assert codes.read_digits(text) is None


def test_digits_of_another_script_are_read() -> None:
    assert codes.read_digits("٤٨٢ ٩١٧") == "482917"


@pytest.mark.parametrize("free", ["4829", "482917", "48a91", "-4829"])
def test_a_check_digit_needs_five_digits(free: str) -> None:
    with pytest.raises(ValueError, match="five"):
        codes.check_digit(free)

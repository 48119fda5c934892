"""What a report withholds: nobody can work out a small number from what it shows."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from guide_service.console.small_counts import MOST_SMALL, is_small, withheld

NAMES = "abcdefg"
numbers = st.integers(0, 3) | st.integers(0, 40)
cells = st.lists(st.tuples(numbers, numbers), max_size=len(NAMES)).map(
    lambda many: dict(zip(NAMES, many, strict=False))
)


@pytest.mark.parametrize(
    ("group", "hidden"),
    [
        ({"a": 0, "b": 11, "c": 40}, ""),
        ({"a": 1, "b": 11, "c": 40}, "ab"),
        ({"a": 10, "b": 12, "c": 11}, "ac"),
        ({"a": 3, "b": 4, "c": 40}, "abc"),
        ({"a": 3, "b": 9, "c": 40}, "ab"),
        ({"a": 3, "b": 0}, "a"),
        ({}, ""),
    ],
)
def test_small_cells_go_and_others_until_the_total_tells_nothing(group: dict[str, int], hidden: str) -> None:
    assert withheld({name: (number,) for name, number in group.items()}) == set(hidden)


def test_a_number_goes_when_the_rest_of_the_whole_is_small() -> None:
    assert withheld({"a": (95, 5)}) == {"a"}
    assert withheld({"a": (80, 0)}) == set()


@given(cells)
def test_total_less_what_is_shown_is_never_small_unless_the_total_is(group: dict[str, tuple[int, int]]) -> None:
    hidden = withheld(group)
    assert hidden >= {name for name, cell in group.items() if any(map(is_small, cell))}
    for measure in (0, 1):
        rest = sum(group[name][measure] for name in hidden)
        total = sum(cell[measure] for cell in group.values())
        assert not is_small(rest) or is_small(total)


@given(cells)
def test_one_hidden_cell_never_stands_alone_in_a_larger_total(group: dict[str, tuple[int, int]]) -> None:
    hidden, total = withheld(group), [sum(measure) for measure in zip(*group.values(), strict=True)]
    assert len(hidden) != 1 or min(total) <= MOST_SMALL or len([cell for cell in group.values() if any(cell)]) == 1

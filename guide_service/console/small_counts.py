"""Which figures of a report are withheld, so that none of them points at a household.

Source: Centers for Medicare & Medicaid Services, Cell Size Suppression Policy (ResDAC, 26 January 2024): no cell of 1
to 10 is shown, and no other figure from which such a cell follows; 0 and 11 or more may be shown. Which further cells
go is ours: of a group whose total stands beside it the smallest, until what is hidden is two cells or more and is more
than 10 altogether. The total itself is told: it is the county's, and names no part of it.
"""

from __future__ import annotations

from collections.abc import Mapping

MOST_SMALL = 10
Cell = tuple[int, ...]
"""A number, and with it whatever can be worked out from it: the rest of those of whom it was counted."""


def is_small(number: int) -> bool:
    return 1 <= number <= MOST_SMALL


def points_at_few(cell: Cell) -> bool:
    return any(map(is_small, cell))


def withheld(cells: Mapping[str, Cell]) -> frozenset[str]:
    """Names of the cells of a group that are hidden; all of a group must be here, since its total is shown."""
    hidden = {name for name, cell in cells.items() if points_at_few(cell)}
    while hidden and not _enough([cells[name] for name in hidden]):
        others = [name for name in cells if name not in hidden and any(cells[name])]
        if not others:
            break  # then the total itself is small: it says how many, of nowhere in particular
        hidden.add(min(others, key=lambda name: (cells[name], name)))
    return frozenset(hidden)


def _enough(hidden: list[Cell]) -> bool:
    """Total less what is shown gives the sum of what is hidden: it must not be a small number again."""
    return len(hidden) > 1 and not any(is_small(sum(measure)) for measure in zip(*hidden, strict=True))

"""What lies near a point: a grid of cells, so that thousands of circles need not be compared in pairs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator
from itertools import product
from math import floor

#: mm: what is farther apart is never one centre; and how wide a cell is, so that few are looked into.
_REACH, _CELL = 0.5, 2.0


class Near:
    """Numbered points of several kinds, found again by kind and place.

    Points may have any number of coordinates (mm), all of one kind the same: a centre, or a centre and a
    radius, so that thousands of circles round one centre are told apart.
    """

    def __init__(self) -> None:
        self._cells: dict[tuple[Hashable, ...], list[int]] = defaultdict(list)

    def add(self, kind: Hashable, point: tuple[float, ...], number: int) -> None:
        """Note a point under its number."""
        self._cells[kind, *(floor(x / _CELL) for x in point)].append(number)

    def __call__(self, kind: Hashable, point: tuple[float, ...]) -> Iterator[int]:
        """The numbers of the points of this kind that may lie within half a millimetre."""
        sides = (range(floor((x - _REACH) / _CELL), floor((x + _REACH) / _CELL) + 1) for x in point)
        for cell in product(*sides):
            yield from self._cells.get((kind, *cell), ())

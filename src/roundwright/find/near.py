"""What lies near a point: a grid of cells, so that thousands of circles need not be compared in pairs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator
from math import floor

#: width of a cell in mm; nothing farther apart than this is ever one centre.
_CELL = 0.5


class Near:
    """Numbered points of several kinds, found again by kind and place (mm)."""

    def __init__(self) -> None:
        self._cells: dict[tuple[Hashable, int, int], list[int]] = defaultdict(list)

    def add(self, kind: Hashable, point: tuple[float, float], number: int) -> None:
        """Note a point under its number."""
        self._cells[kind, floor(point[0] / _CELL), floor(point[1] / _CELL)].append(number)

    def __call__(self, kind: Hashable, point: tuple[float, float]) -> Iterator[int]:
        """The numbers of the points of this kind that may lie within half a millimetre."""
        x, y = floor(point[0] / _CELL), floor(point[1] / _CELL)
        for i in (-1, 0, 1):
            for j in (-1, 0, 1):
                yield from self._cells.get((kind, x + i, y + j), ())

"""Events: what happens at some lines, as columns in the order of execution; knows no tools and no frames."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.trace.block import Lines

#: the number of an event that has none.
NONE = -(2**63)
#: lines (e,), their place in the order of execution, and a number of each line, or one of all.
Part = tuple[Lines, int, NDArray[np.signedinteger[Any]] | int]
#: events that are taken out together: whole columns of Python's own numbers would take five times the room.
_PORTION = 1 << 14


class Events(Struct, frozen=True, eq=False):
    """Events (e,) in order: the line, the place in the order of execution within a block, a number or NONE.

    Columns, as each line of a program may hold one; iterated, they are one (line, order, number) each.
    """

    line: Lines
    order: NDArray[np.int8]
    number: NDArray[np.int64]

    @classmethod
    def of(cls, parts: Iterable[Part]) -> Events:
        """Bring all parts into order."""
        line, order, number = (
            np.concatenate(column) for column in zip(*(_columns(*part) for part in parts), strict=True)
        )
        sort = np.lexsort((order, line))
        return cls(line[sort], order[sort], number[sort])

    def __iter__(self) -> Iterator[tuple[int, int, int]]:
        """Each event."""
        for first in range(0, len(self.line), _PORTION):
            some = slice(first, first + _PORTION)
            columns = (column[some].tolist() for column in (self.line, self.order, self.number))
            yield from zip(*columns, strict=True)


def _columns(
    line: Lines, order: int, number: NDArray[np.signedinteger[Any]] | int
) -> tuple[Lines, NDArray[np.int8], NDArray[np.int64]]:
    kinds = (np.full(len(line), order, np.int8), np.full(len(line), number, np.int64))
    return line, *kinds

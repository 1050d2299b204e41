"""Events: what happens at some lines, as columns in the order of execution; knows no tools and no frames."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

#: the number of an event that has none.
NONE = -(2**63)
#: lines (e,), their place in the order of execution, and a number of each line, or one of all.
Part = tuple[NDArray[np.int64], int, NDArray[np.int64] | int]


class Events(Struct, frozen=True, eq=False):
    """Events (e,) in order: the line, the place in the order of execution within a block, a number or NONE.

    Columns, as each line of a program may hold one; iterated, they are one (line, order, number) each.
    """

    line: NDArray[np.int64]
    order: NDArray[np.int64]
    number: NDArray[np.int64]

    @classmethod
    def of(cls, parts: Iterable[Part]) -> Events:
        """Bring all parts into order."""
        line, order, number = (
            np.concatenate(column)
            for column in zip(*(np.broadcast_arrays(*part) for part in parts), strict=True)
        )
        sort = np.lexsort((order, line))
        return cls(line[sort], order[sort], number[sort])

    def __iter__(self) -> Iterator[tuple[int, int, int]]:
        """Each event."""
        for line, order, number in zip(self.line, self.order, self.number, strict=True):
            yield int(line), int(order), int(number)

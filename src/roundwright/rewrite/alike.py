"""What many rows have in common, held once: passes at many depths come to the same arcs and corners."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Generic, TypeVar

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.distinct import index_of

Integers = NDArray[np.int64]
Item = TypeVar("Item")
#: rows that are looked at together.
_TOGETHER = 1 << 13


class ByRow(Struct, Generic[Item], frozen=True, eq=False):
    """Something for some rows of moves: number `of[k]` of all distinct ones is that of `row[k]`.

    `row` (k,) ascends. What the distinct ones are is held as columns: there may be very many.
    """

    row: Integers
    of: Integers

    def one(self, number: int) -> Item:
        """One of the distinct ones, made as it is asked for."""
        raise NotImplementedError

    def __contains__(self, row: int) -> bool:
        """Whether the row has one."""
        return self.number(row) is not None

    def number(self, row: int) -> int | None:
        """The number of the row's, None where it has none."""
        at = index_of(self.row, row)
        return None if at is None else int(self.of[at])

    def get(self, row: int) -> Item | None:
        """The row's, None where it has none."""
        number = self.number(row)
        return None if number is None else self.one(number)

    def numbers(self, rows: Integers) -> Integers:
        """The number for each of these rows (n,), -1 where there is none."""
        at = self.row.searchsorted(rows)
        there = np.append(self.row, -1)[at] == rows
        return np.asarray(np.where(there, np.append(self.of, -1)[at], -1))


def kinds_of(*columns: NDArray[Any]) -> tuple[Integers, Integers]:
    """Where each distinct row of these columns (k,) stands first, in order, and the number of each row's."""
    count = len(columns[0])
    number: dict[bytes, int] = {}
    first: list[int] = []
    kind = np.empty(count, np.int64)
    for begin in range(0, count, _TOGETHER):
        part = slice(begin, begin + _TOGETHER)
        table = np.column_stack([_as_counts(column[part]) for column in columns])
        for k, key in enumerate(_pieces(table), begin):
            kind[k] = one = number.setdefault(key, len(first))
            if one == len(first):
                first.append(k)
    return np.array(first, np.int64), kind


def _as_counts(column: NDArray[Any]) -> Integers:
    """The same column in eight bytes each; a float stands as its bits."""
    return column.view(np.int64) if column.dtype == np.float64 else column.astype(np.int64)


def _pieces(table: Integers) -> Iterator[bytes]:
    """The bytes of each row of a table."""
    text, size = table.tobytes(), table.shape[1] * table.itemsize
    return (text[at : at + size] for at in range(0, len(text), size))

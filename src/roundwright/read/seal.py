"""Seals: columns that cannot be written to, and a checksum that tells whether they are what they were."""

from __future__ import annotations

from typing import TypeVar
from zlib import crc32

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

Frozen = TypeVar("Frozen", bound=Struct)

_MULTIPLIER = 0x9E3779B97F4A7C15  # 2^64 by the golden ratio, odd
#: powers of it modulo 2^64.
_WEIGHTS = np.cumprod(np.full(1 << 13, _MULTIPLIER, np.uint64))


def sealed(columns: Frozen) -> Frozen:
    """A value with every array of it read-only: whoever is given it later finds it as it was made."""
    for name in columns.__struct_fields__:
        value = getattr(columns, name)
        if isinstance(value, np.ndarray):
            value.setflags(write=False)
    return columns


def checksum(value: object, before: int = 0) -> int:
    """The checksum of a value: of arrays by type, shape and memory, of structs by all fields but `seal`.

    It guards against mistakes, not against malice: a sum of 64 bits in which every eight bytes have an odd
    weight of their own. It misses no change of eight bytes alone, and about one in 2^64 of all others. It
    holds within one process.
    """
    if isinstance(value, Struct):
        for name in value.__struct_fields__:
            before = before if name == "seal" else checksum(getattr(value, name), before)
        return before
    if isinstance(value, np.ndarray):
        kind = f"{value.dtype.str}{value.shape}".encode()
        before = _mixed(before, _weighed(kind))
        if value.size and 0 in value.strides:  # the same everywhere
            value = value[(slice(1),) * value.ndim]
        apart = value.ndim > 1 and not value.flags.c_contiguous  # column by column, without a copy of all
        for part in value.T if apart else [value]:
            before = _mixed(before, _weighed(part.ravel(order="K").view(np.uint8)))
        return before
    return _mixed(before, _weighed(value) if isinstance(value, bytes) else hash(value))


def _mixed(before: int, more: int) -> int:
    return (before * _MULTIPLIER + more) % 2**64


def _weighed(data: bytes | NDArray[np.uint8]) -> int:
    """The weighted sum of the memory: row by row, then of the rows' sums; the rest by a cyclic check."""
    raw = np.frombuffer(data, np.uint8)
    rows = len(raw) // (8 * len(_WEIGHTS))
    whole = rows * 8 * len(_WEIGHTS)
    total = crc32(raw[whole:].data)
    if rows:
        sums = raw[:whole].view(np.uint64).reshape(rows, -1) @ _WEIGHTS
        total = _mixed(total, _weighed(sums.view(np.uint8)))
    return total

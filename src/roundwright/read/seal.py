"""Seals: columns that cannot be written to, and a checksum that tells whether they are what they were."""

from __future__ import annotations

from typing import TypeVar
from zlib import crc32

import numpy as np
from msgspec import Struct

Frozen = TypeVar("Frozen", bound=Struct)


def sealed(columns: Frozen) -> Frozen:
    """A value with every array of it read-only: whoever is given it later finds it as it was made."""
    for name in columns.__struct_fields__:
        value = getattr(columns, name)
        if isinstance(value, np.ndarray):
            value.setflags(write=False)
    return columns


def checksum(value: object, before: int = 0) -> int:
    """The checksum of a value: of arrays by type, shape and memory, of structs by all fields but `seal`.

    It guards against mistakes, not against malice: a cyclic redundancy check of 32 bits misses no change of
    fewer bits in a row, and one in 2^32 of all others. It holds within one process.
    """
    if isinstance(value, np.ndarray):
        before = crc32(f"{value.dtype.str}{value.shape}".encode(), before)
        return crc32(value.ravel(order="K").data, before)
    if isinstance(value, bytes):
        return crc32(value, before)
    if isinstance(value, Struct):
        for name in value.__struct_fields__:
            before = before if name == "seal" else checksum(getattr(value, name), before)
        return before
    return crc32(hash(value).to_bytes(8, "little", signed=True), before)

"""A word with the C library about memory, for long programs: short ones are done before it would tell."""

from __future__ import annotations

from contextlib import suppress

import numpy as np

#: bytes of a program that is worth it.
_LONG = 1 << 21


def keep_freed(size: int) -> None:
    """Keep what is freed for what comes next, while a program of so many bytes is read chunk by chunk.

    One large array, made and dropped untouched, raises the library's thresholds: a first run takes half.
    """
    if size > _LONG:
        np.empty(31 << 20, np.uint8)


def give_back(size: int) -> None:
    """Give back to the system what was kept free by a program of so many bytes.

    It is an eighth of a run's room. Nothing happens where the C library has no word for it.
    """
    if size > _LONG:
        import ctypes

        with suppress(OSError, TypeError):  # where a process is no library
            trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
            if trim is not None:
                trim(0)

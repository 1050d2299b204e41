"""Counts how a program writes its lengths, chunk by chunk: decimals, zeros before the point, blanks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from roundwright.read.program import NO_POINT, NO_VALUE, Manner
from roundwright.units import PER_UNIT

#: letters whose numbers show how a program writes lengths.
_LENGTH = np.zeros(256, np.bool_)
_LENGTH[np.frombuffer(b"XYZIJKR", np.uint8)] = True
_MOST_DECIMALS = 127


Words = Mapping[str, NDArray[Any]]


class Tally:
    """What the words so far show."""

    def __init__(self) -> None:
        self._decimals = np.zeros(_MOST_DECIMALS - NO_VALUE + 1, np.int64)  # lengths by decimals
        self._bare = self._zero = self._apart = self._pairs = 0

    def add(self, buffer: bytes, words: Words) -> None:
        """Count some whole lines' words (columns as in `columns.CHUNK_TYPES`), which stand in `buffer`."""
        length = np.flatnonzero(_LENGTH.take(words["letter"]))
        value, decimals = words["value"].take(length), words["decimals"].take(length)
        self._decimals += np.bincount(decimals + np.int16(-NO_VALUE), minlength=len(self._decimals))
        small = length[(value < PER_UNIT) & (value > -PER_UNIT) & (decimals > 0)]
        first = _first_digit(buffer, words["number"].take(small))
        self._bare += int(np.count_nonzero(first == ord(".")))
        self._zero += int(np.count_nonzero(first == ord("0")))
        beside = words["line"][1:] == words["line"][:-1]
        self._pairs += int(np.count_nonzero(beside))
        self._apart += int(np.count_nonzero(beside & (words["start"][1:] > words["stop"][:-1])))

    def manner(self) -> Manner:
        """What the counts amount to."""
        written = np.flatnonzero(self._decimals[NO_POINT - NO_VALUE :]) + NO_POINT
        pointed = written[written > NO_POINT]
        return Manner(
            least=int(written[0]) if len(written) else _MOST_DECIMALS,
            fewest=int(pointed[0]) if len(pointed) else 0,
            bare=self._bare > self._zero,
            blanks=2 * self._apart >= self._pairs,
        )


def _first_digit(buffer: bytes, at: NDArray[np.int64]) -> NDArray[np.uint8]:
    """The first byte behind the sign of the numbers that begin at these offsets."""
    data = np.frombuffer(buffer, np.uint8)
    byte = data.take(at)
    signed = (byte == ord("-")) | (byte == ord("+"))
    first: NDArray[np.uint8] = data.take(np.minimum(at + signed, len(data) - 1))
    return first

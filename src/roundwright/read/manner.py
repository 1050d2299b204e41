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
        self._least = self._fewest = _MOST_DECIMALS
        self._bare = self._zero = self._apart = self._pairs = 0

    def add(self, buffer: bytes, words: Words) -> None:
        """Count some whole lines' words (columns as in `columns.CHUNK_TYPES`), which stand in `buffer`."""
        length = _LENGTH.take(words["letter"])
        value, decimals = words["value"], words["decimals"]
        said = np.where(length & (decimals != NO_VALUE), decimals, np.int8(_MOST_DECIMALS))
        self._least = min(self._least, int(said.min(initial=_MOST_DECIMALS)))
        said[said == NO_POINT] = _MOST_DECIMALS
        self._fewest = min(self._fewest, int(said.min(initial=_MOST_DECIMALS)))
        # one comparison for both ends: what is below is a huge number without its sign
        small = ((value + (PER_UNIT - 1)).view(np.uint64) < 2 * PER_UNIT - 1) & (decimals > 0)
        small = np.flatnonzero(small & length)
        first = _first_digit(buffer, words["number"].take(small))
        self._bare += int(np.count_nonzero(first == ord(".")))
        self._zero += int(np.count_nonzero(first == ord("0")))
        line = words["line"]
        within = int(np.count_nonzero(line[1:] == line[:-1]))
        across = max(len(line) - 1, 0) - within  # where a line ends, something always stands between
        self._pairs += within
        self._apart += int(np.count_nonzero(words["start"][1:] > words["stop"][:-1])) - across

    def manner(self) -> Manner:
        """What the counts amount to."""
        return Manner(
            least=min(self._least, self._fewest),
            fewest=self._fewest if self._fewest < _MOST_DECIMALS else 0,
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

"""Cuts a program into lines, without reading them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: bytes looked at together.
_CHUNK = 1 << 20
_LF, _CR = ord("\n"), ord("\r")


#: offsets within a program: the narrow kind, which half the room is enough for, while sums of two fit it.
Offsets = NDArray[np.int32] | NDArray[np.int64]
_NARROW = 1 << 30


def as_offsets(places: NDArray[np.int64], size: int) -> Offsets:
    """These places in a text of `size` bytes, in as little room as they need."""
    return places.astype(np.int32) if size < _NARROW else places


def newlines(data: bytes) -> tuple[int, int, int]:
    """How many lines end with LF, CRLF and CR."""
    raw = np.frombuffer(data, np.uint8)
    feeds = returns = pairs = 0
    for at in range(0, len(raw), _CHUNK):
        part = raw[at : at + _CHUNK + 1]
        feed, back = part == _LF, part[:_CHUNK] == _CR
        feeds += int(np.count_nonzero(feed[:_CHUNK]))
        if back.any():
            returns += int(np.count_nonzero(back))
            pairs += int(np.count_nonzero(back[: len(feed) - 1] & feed[1:]))
    return feeds - pairs, pairs, returns - pairs


def line_starts(data: bytes) -> Offsets:
    """Where each line begins (l + 1,), and where the last one ends. LF, CR and CRLF each end a line."""
    raw = np.frombuffer(data, np.uint8)
    whole = data.endswith((b"\n", b"\r")) or not data
    starts = as_offsets(np.zeros(1, np.int64), len(data)).repeat(sum(newlines(data)) + 1 + (not whole))
    starts[-1], found = len(data), 1
    returns = b"\r" in data
    for at in range(0, len(raw), _CHUNK):
        part = raw[at : at + _CHUNK]
        ends = part == _LF
        if returns:
            alone = np.append(raw[at + 1 : at + _CHUNK + 1], 0)[: len(part)] != _LF
            ends |= (part == _CR) & alone
        here = np.flatnonzero(ends)
        here += at + 1
        starts[found : found + len(here)] = here
        found += len(here)
    return starts

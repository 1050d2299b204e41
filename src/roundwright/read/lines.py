"""Cuts a program into lines, without reading them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

#: bytes looked at together.
_CHUNK = 1 << 18
_LF, _CR = ord("\n"), ord("\r")


#: offsets within a program: the narrow kind, which half the room is enough for, while sums of two fit it.
Offsets = NDArray[np.int32] | NDArray[np.int64]
_NARROW = 1 << 30


def offset_kind(size: int) -> type[np.int32] | type[np.int64]:
    """The kind of offsets within a text of `size` bytes."""
    return np.int32 if size < _NARROW else np.int64


def as_offsets(places: NDArray[np.int64], size: int) -> Offsets:
    """These places in a text of `size` bytes, in as little room as they need."""
    return places.astype(np.int32) if size < _NARROW else places


def newlines(data: bytes) -> tuple[int, int, int]:
    """How many lines end with LF, CRLF and CR."""
    raw = np.frombuffer(data, np.uint8)
    feeds = returns = pairs = 0
    some = b"\r" in data
    for at in range(0, len(raw), _CHUNK):
        feed = raw[at : at + _CHUNK + 1] == _LF
        feeds += int(np.count_nonzero(feed[:_CHUNK]))
        if some:
            back = raw[at : at + _CHUNK] == _CR
            returns += int(np.count_nonzero(back))
            pairs += int(np.count_nonzero(back[: len(feed) - 1] & feed[1:]))
    return feeds - pairs, pairs, returns - pairs


def line_starts(data: bytes) -> Offsets:
    """Where each line begins (l + 1,), and where the last one ends. LF, CR and CRLF each end a line."""
    raw = np.frombuffer(data, np.uint8)
    starts: NDArray[Any] = np.zeros(sum(newlines(data)) + 2, offset_kind(len(data)))
    found = 1
    returns = b"\r" in data
    for at in range(0, len(raw), _CHUNK):
        part = raw[at : at + _CHUNK]
        ends = part == _LF
        if returns:
            alone = np.append(raw[at + 1 : at + _CHUNK + 1], 0)[: len(part)] != _LF
            ends |= (part == _CR) & alone
        behind = np.flatnonzero(ends) + (at + 1)
        starts[found : found + len(behind)] = behind
        found += len(behind)
    if not data.endswith((b"\n", b"\r")) and data:
        starts[found] = len(data)
        found += 1
    return starts[:found]

"""Cuts a program into lines, without reading them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: bytes looked at together.
_CHUNK = 1 << 20
_LF, _CR = ord("\n"), ord("\r")


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


def line_starts(data: bytes) -> NDArray[np.int64]:
    """Where each line begins (l + 1,), and where the last one ends. LF, CR and CRLF each end a line."""
    raw = np.frombuffer(data, np.uint8)
    ends = [np.flatnonzero(raw[at : at + _CHUNK] == _LF) + at for at in range(0, len(raw), _CHUNK)]
    if b"\r" in data:
        returns = np.flatnonzero(raw == _CR)
        alone = raw.take(returns + 1, mode="clip") != _LF
        ends = [np.sort(np.concatenate((*ends, returns[alone])))]
    starts = np.concatenate((np.zeros(1, np.int64), *(end + 1 for end in ends)))
    return starts if starts[-1] == len(data) else np.append(starts, len(data))

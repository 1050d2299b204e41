"""Cuts a program into lines, without reading them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: bytes looked at together.
_CHUNK = 1 << 20
_LF, _CR = ord("\n"), ord("\r")


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

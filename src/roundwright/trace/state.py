"""States: the modal state of each row as one of few frozen values."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roundwright.trace.frame import Frames
from roundwright.trace.modal import Modes, Track
from roundwright.trace.moves import State
from roundwright.trace.row import AxisWords, Rows

_ARC_ABSOLUTE = (None, False, True)


def states_of(
    modes: Modes, rows: Rows, axes: AxisWords, frames: Frames, sections: Track
) -> tuple[NDArray[np.int32], tuple[State, ...]]:
    """Index of each row's state (n,), and the states in order of their first row."""
    line = rows.line
    flags, phrases = _special(modes, axes, line)
    columns = [
        modes.plane.at(line),
        modes.units.at(line),
        modes.distance.at(line),
        modes.arc_distance.at(line),
        modes.feed_mode.at(line),
        modes.compensation.at(line),
        frames.track.at(line),
        modes.spindle.at(line),
        sections.at(line),
        flags,
    ]
    changed = np.zeros(len(line), np.bool_)
    changed[:1] = True
    for column in columns:
        changed[1:] |= column[1:] != column[:-1]
    at = np.flatnonzero(changed)
    keys = list(zip(*(column[at].tolist() for column in columns), strict=True))
    index: dict[tuple[int, ...], int] = {}
    numbers = np.array([index.setdefault(key, len(index)) for key in keys], np.int32)
    spans = np.diff(np.append(at, len(line)))
    return np.repeat(numbers, spans), tuple(_state(key, phrases) for key in index)


def _special(
    modes: Modes, axes: AxisWords, line: NDArray[np.int64]
) -> tuple[NDArray[np.int64], tuple[str, ...]]:
    """Bits of the modes that make a circle something else (n,), and the phrase of each bit."""
    named = [(phrase, track.at(line)) for phrase, track in modes.special if track.value.size]
    named.append(("rotary axis words", axes.rotary[line].astype(np.int64)))
    named.append(("extruder words", axes.extruder[line].astype(np.int64)))
    flags = np.zeros(len(line), np.int64)
    for bit, (_, on) in enumerate(named):
        flags |= on << bit
    return flags, tuple(phrase for phrase, _ in named)


def _state(key: tuple[int, ...], phrases: tuple[str, ...]) -> State:
    plane, units, distance, arcs, feed, compensation, frame, spindle, section, flags = key
    return State(
        normal=plane,
        inch=bool(units),
        incremental=bool(distance),
        arc_absolute=_ARC_ABSOLUTE[arcs],
        feed_mode=feed,  # type: ignore[arg-type]
        compensation=compensation,  # type: ignore[arg-type]
        frame=frame,
        spindle=spindle,  # type: ignore[arg-type]
        section=section,
        unsupported=", ".join(p for bit, p in enumerate(phrases) if flags >> bit & 1),
    )

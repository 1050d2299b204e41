"""States: the modal state of each row as one of few frozen values."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from roundwright.trace.block import marked
from roundwright.trace.frame import Frames
from roundwright.trace.modal import Modes, Track
from roundwright.trace.moves import State
from roundwright.trace.row import AxisWords, Rows

_ARC_ABSOLUTE = (None, False, True)
#: rows that are looked at together.
_PORTION = 1 << 14


def states_of(
    modes: Modes, rows: Rows, axes: AxisWords, frames: Frames, sections: Track
) -> tuple[NDArray[np.unsignedinteger[Any]], tuple[State, ...]]:
    """Index of each row's state (n,), and the states in order of their first row.

    A state is asked for only where one of the tracks changes.
    """
    tracks = [modes.plane, modes.units, modes.distance, modes.arc_distance, modes.feed_mode]
    tracks += [modes.compensation, frames.track, modes.spindle, sections]
    special = [(phrase, track) for phrase, track in modes.special if track.value.size]
    asides = [("rotary axis words", axes.rotary), ("extruder words", axes.extruder)]
    changes = np.zeros(len(rows.line) + 1, np.bool_)
    changes[0] = True
    for track in (*tracks, *(track for _, track in special)):
        changes[np.searchsorted(rows.line, track.line)] = True
    for _, mask in asides:
        changes[np.searchsorted(rows.line, marked(mask[1:] != mask[:-1]) + 1)] = True
    at = np.flatnonzero(changes[:-1])
    line = rows.line[at]
    named = [(phrase, track.at(line)) for phrase, track in special]
    named += [(phrase, mask[line].view(np.int8)) for phrase, mask in asides]
    kind = np.min_scalar_type(1 << len(named))  # a bit for each: none may be lost
    flags = np.zeros(len(line), kind)
    for bit, (_, on) in enumerate(named):
        flags |= on.astype(kind) << bit
    phrases = tuple(phrase for phrase, _ in named)
    columns = [*(track.at(line) for track in tracks), flags]
    index: dict[tuple[int, ...], int] = {}
    numbers = array("i")
    for first in range(0, len(line), _PORTION):
        keys = zip(*(column[first : first + _PORTION].tolist() for column in columns), strict=True)
        numbers.extend(index.setdefault(key, len(index)) for key in keys)
    spans = np.diff(np.append(at, len(rows.line)))
    return np.repeat(as_numbers(numbers, len(index)), spans), tuple(_state(key, phrases) for key in index)


def as_numbers(numbers: Sequence[int], states: int) -> NDArray[np.unsignedinteger[Any]]:
    """Numbers of so many states, in as little room as they need: a byte, nearly always."""
    return np.array(numbers, np.min_scalar_type(states))


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

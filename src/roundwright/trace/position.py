"""Positions of one axis over a run of steps, in whole counts; knows neither words nor modes."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from roundwright.trace.block import TOO_LONG

Number = TypeVar("Number", bound=np.generic)


def native_to_counts(value: NDArray[np.int64], inch: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Counts of 1e-8 mm of lengths in counts of 1e-8 of their own unit; inches times 254/10, rounded."""
    if not inch.any():
        return value
    return np.where(inch, (value * 254 + 5) // 10, value)


def integrate(
    value: NDArray[np.int64],
    sets: NDArray[np.bool_],
    adds: NDArray[np.bool_],
    loses: NDArray[np.bool_],
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Position after each step (s,) and whether it is known, from an unknown start at 0.

    A step sets the axis to `value`, adds `value`, or loses it (its number then stays and only serves
    differences); where it loses, it sets nothing. Whole numbers, so an incremental program never drifts.
    """
    sets = sets & ~loses
    if not adds.any():
        return _stepped(value, sets, loses)
    at = np.flatnonzero(sets)
    place = _held(at, np.concatenate(([0], value[at])), len(value))
    total = np.concatenate(([0], np.cumsum(np.where(adds & ~sets, value, 0))))
    place = place + total[1:] - _held(at, total[np.concatenate(([0], at + 1))], len(value))
    spoken = np.flatnonzero(sets | loses)
    return place, _held(spoken, np.concatenate(([False], sets[spoken])), len(value))


def _stepped(
    value: NDArray[np.int64], sets: NDArray[np.bool_], loses: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Place and knowledge after steps (s,), of which most set the axis: only the others are held."""
    idle = np.flatnonzero(~sets)
    if not len(idle):
        return value, sets
    place, known = value.copy(), sets.copy()
    first = np.concatenate(([True], idle[1:] != idle[:-1] + 1))  # of a run of idle steps
    run = np.cumsum(first, dtype=np.int32) - np.int32(1)
    before = idle[first] - 1  # the last step that sets, -1 where none has
    place[idle] = np.where(before < 0, 0, value[before])[run]
    losing = loses[idle]
    lost = np.cumsum(losing, dtype=np.int32)
    since = lost - (lost[first] - losing[first])[run]  # since the run began
    known[idle] = (before >= 0)[run] & (since == 0)
    return place, known


def _held(at: NDArray[np.int64], values: NDArray[Number], steps: int) -> NDArray[Number]:
    """The value in force after each step: the first before all, the next ones from their steps `at` on."""
    return np.repeat(values, np.diff(np.concatenate(([0], at, [steps]))))


def fits(place: NDArray[np.int64]) -> bool:
    """Whether every position is short enough to be exact in a float."""
    return bool(place.max(initial=0) < TOO_LONG and place.min(initial=0) > -TOO_LONG)

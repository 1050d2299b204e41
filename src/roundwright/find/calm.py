"""Calm: stretches of a program in which no circle of chords can be, so that nobody looks there again."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.arcs import COARSEST, unit_of
from roundwright.find.states import by_state
from roundwright.trace.moves import PLANE_AXES, ArcFault, Motion, Moves, displaced_rows
from roundwright.units import GRAIN

#: moves looked at together, about: their columns stay in the processor's cache.
_STRETCH = 1 << 14
#: between straight moves of so many units rounding makes less than half a radian of turn, as is reckoned
#: for a run of chords: so no run goes on behind a right angle.
_LONG = 10
#: a run that may hold a circle heads through so many right angles at least: it turns by 320 degrees.
_QUARTERS = 3
#: the columns on which it hangs where circles can be.
_COLUMNS = ("motion", "state", "decimals", "start_known", "end_known")


class Stretches(Struct, frozen=True, eq=False):
    """A program cut where no run of pieces goes on: the moves that begin stretches, and which are calm."""

    bounds: NDArray[np.intp]  # (k + 1,)
    calm: NDArray[np.bool_]  # (k,)


class Calm(Struct, frozen=True, eq=False):
    """The stretches of some moves, by the normal of the plane that circles are looked for in."""

    moves: Moves
    stretches: dict[int, Stretches]

    def lively(self, moves: Moves, normal: int) -> Iterator[slice]:
        """The stretches of these moves, most of them the same, in which circles can be."""
        if normal not in self.stretches or not _alike(self.moves, moves):
            known, changed = _stretches_of(moves, normal), np.zeros(0, np.intp)
        else:
            known, changed = self.stretches[normal], _changed(self.moves, moves)
        lively = ~known.calm
        lively[np.searchsorted(known.bounds, changed, side="right") - 1] = True
        # a stretch whose bound has changed may go on in the next one
        joined = np.isin(known.bounds[1:-1], np.concatenate((changed, changed + 1)))
        begins = np.flatnonzero(np.concatenate(([True], ~joined))) if len(lively) else np.zeros(0, np.intp)
        ends = np.append(begins[1:], len(lively))
        for first, stop in zip(begins.tolist(), ends.tolist(), strict=True):
            if lively[first:stop].any():
                yield slice(int(known.bounds[first]), int(known.bounds[stop]))


def calm_of(moves: Moves) -> Calm:
    """Where circles of chords cannot be, in each plane that the program uses."""
    normals = {state.normal for state in moves.states}
    return Calm(moves, {normal: _stretches_of(moves, normal) for normal in normals})


def _alike(one: Moves, other: Moves) -> bool:
    """Whether both have as many moves, in the same states, and arcs in the same places."""
    return (
        len(one) == len(other) and one.states == other.states and np.array_equal(one.arcs.row, other.arcs.row)
    )


def _changed(old: Moves, new: Moves) -> NDArray[np.intp]:
    """The moves that are not the same, in order."""
    changed = np.zeros(len(old), np.bool_)
    for name in _COLUMNS:
        was, now = getattr(old, name), getattr(new, name)
        if was is not now:
            changed |= was != now
    changed[displaced_rows(old, new)] = True
    changed[old.arcs.row[old.arcs.fault != new.arcs.fault]] = True
    return np.flatnonzero(changed)


def _stretches_of(moves: Moves, normal: int) -> Stretches:
    bounds, calm = [0], []
    while bounds[-1] < len(moves):
        low = bounds[-1]
        high = _stretch_end(moves, normal, low + _STRETCH)
        bounds.append(high)
        # a short program costs less to look through than to judge
        calm.append(len(moves) > _STRETCH and not _may_go_round(moves, normal, slice(low, high)))
    return Stretches(np.array(bounds, np.intp), np.array(calm, np.bool_))


def joined_pieces(moves: Moves, normal: int, part: slice) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """The pieces (p,) among a part of the moves, and which go on where the one before them ended."""
    cuts, breaks = cuts_and_breaks(moves, normal, part)
    at = np.flatnonzero(cuts)
    row = at + part.start
    joined = np.zeros(len(row), dtype=bool)
    joined[1:] = np.diff(np.cumsum(breaks, dtype=np.int32)[at]) == 0
    joined[1:] &= moves.state[row[1:]] == moves.state[row[:-1]]
    return row, joined


def cuts_and_breaks(moves: Moves, normal: int, part: slice) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which of a part of the moves (k,) are pieces of the plane, and which break a run of them."""
    axes = PLANE_AXES[normal]
    mask = (1 << axes[0]) | (1 << axes[1])
    motion, arcs = moves.motion[part], moves.arcs
    in_plane = by_state(moves, part, lambda state: state.normal == normal)
    moving = np.zeros(len(motion), dtype=bool)
    for axis in axes:
        moving |= moves.start[part, axis] != moves.end[part, axis]
    known = (moves.start_known[part] & moves.end_known[part] & mask) == mask
    curved = np.zeros(len(motion), dtype=bool)
    some = slice(*np.searchsorted(arcs.row, (part.start, part.stop)))
    curved[arcs.row[some][arcs.fault[some] == ArcFault.NONE] - part.start] = True
    cuts = known & in_plane & (curved | ((motion == Motion.LINE) & moving))
    # what breaks a run: any other move that goes somewhere, and any that is not read
    return cuts, ~cuts & (moving | ~known | (motion > Motion.CCW))


def _stretch_end(moves: Moves, normal: int, at: int) -> int:
    """The first move from `at` on where a run surely begins: behind one that breaks it, or a square corner.

    The corner is one of straight moves so long that rounding has no part in it.
    """
    axes, size = PLANE_AXES[normal], 64
    while at < len(moves):
        part = slice(at - 1, min(at + size, len(moves)))
        cuts, breaks = cuts_and_breaks(moves, normal, part)
        row = np.arange(part.start, part.stop)
        along = np.stack([moves.end[part, axis] - moves.start[part, axis] for axis in axes])
        long = cuts & (moves.motion[part] == Motion.LINE) & _is_long(moves, row, along)
        steps = along * GRAIN
        square = (steps[:, 1:] * steps[:, :-1]).sum(axis=0) <= 0
        begins = breaks[:-1] | (square & long[1:] & long[:-1])
        if begins.any():
            return at + int(np.argmax(begins))
        at, size = at + size, min(8 * size, _STRETCH)
    return len(moves)


def _may_go_round(moves: Moves, normal: int, part: slice) -> bool:
    """Whether a circle may be among these moves: a cheap look at where they head, by quarters.

    A piece of a run heads into the quarter of the one before it or a neighbouring one, and it goes through at
    least `_QUARTERS` where the run can hold a circle. True wherever arcs or rounding leave it open.
    """
    row, joined = joined_pieces(moves, normal, part)
    if not len(row):
        return False
    along = np.stack([moves.end[row, axis] - moves.start[row, axis] for axis in PLANE_AXES[normal]])
    if (moves.motion[row] != Motion.LINE).any() or not _is_long(moves, row, along).all():
        return True
    above, below = along[0] + along[1] > 0, along[0] - along[1] > 0
    quarter = (~above).view(np.int8) * np.int8(2) + (above ^ below).view(np.int8)  # +X, +Y, -X, -Y
    turns = np.diff(quarter) & 3
    at = np.flatnonzero((turns != 0) | ~joined[1:])
    turns = turns[at]
    heading = np.concatenate(([0], np.cumsum((turns == 1).astype(np.int64) - (turns == 3))))
    begins = np.concatenate(([0], np.flatnonzero((turns == 2) | ~joined[1:][at]) + 1))
    swing = np.maximum.reduceat(heading, begins) - np.minimum.reduceat(heading, begins)
    return bool((swing >= _QUARTERS).any())


def _is_long(moves: Moves, row: NDArray[np.int64], along: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which straight moves (k,) that go `along` (2, k), in counts, have a direction in spite of rounding."""
    length = np.maximum(*np.abs(along)) * GRAIN
    long: NDArray[np.bool_] = length >= _LONG * COARSEST
    doubtful = np.flatnonzero(~long)
    if len(doubtful):
        long[doubtful] = length[doubtful] >= _LONG * unit_of(moves, row[doubtful])
    return long

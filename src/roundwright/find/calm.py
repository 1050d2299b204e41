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
#: moves among which the last end of a run is looked for first.
_WINDOW = 1 << 8
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
        # a short program costs less to look through than to judge
        if len(moves) <= _STRETCH:
            bounds.append(len(moves))
            calm.append(False)
            break
        look = _look_from(moves, normal, bounds[-1])
        bounds.append(look.part.stop)
        calm.append(not _may_go_round(moves, look))
    return Stretches(np.array(bounds, np.intp), np.array(calm, np.bool_))


def joined_pieces(moves: Moves, normal: int, part: slice) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """The pieces (p,) among a part of the moves, and which go on where the one before them ended."""
    cuts, breaks = cuts_and_breaks(moves, normal, part)
    at, joined = _joined(moves, part, cuts, breaks)
    return at + part.start, joined


def _joined(
    moves: Moves, part: slice, cuts: NDArray[np.bool_], breaks: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Which of a part of the moves (k,) are pieces (p,), and which of these go on from the one before."""
    at = np.flatnonzero(cuts)
    joined = np.zeros(len(at), dtype=bool)
    joined[1:] = np.diff(np.cumsum(breaks, dtype=np.int32).take(at)) == 0
    state = moves.state[part].take(at)
    joined[1:] &= state[1:] == state[:-1]
    return at, joined


class _Look(Struct, frozen=True, eq=False):
    """A part of the moves (k,): how far they go along the plane's axes, in counts, and what they are.

    `long` are straight pieces so long that rounding has no part in where they head.
    """

    part: slice
    along: NDArray[np.int64]  # (2, k)
    cuts: NDArray[np.bool_]
    breaks: NDArray[np.bool_]
    long: NDArray[np.bool_]

    def until(self, count: int) -> _Look:
        """The first moves of the part."""
        some = slice(count)
        part = slice(self.part.start, self.part.start + count)
        return _Look(part, self.along[:, some], self.cuts[some], self.breaks[some], self.long[some])


def _look_from(moves: Moves, normal: int, low: int) -> _Look:
    """The moves from `low` on up to the last one within reach before which a run surely ends.

    It does behind a move that breaks it, and at a square corner of long straight pieces.
    """
    size = _STRETCH
    while True:
        part = slice(low, min(low + size, len(moves)))
        cuts, breaks = cuts_and_breaks(moves, normal, part)
        along = np.stack([moves.end[part, axis] - moves.start[part, axis] for axis in PLANE_AXES[normal]])
        straight = cuts & (moves.motion[part] == Motion.LINE)
        look = _Look(part, along, cuts, breaks, _are_long(moves, part, along, straight))
        if part.stop == len(moves) or not cuts.any():  # no run goes on where there is none
            return look
        end = _last_end(look)
        if end:
            return look.until(end)
        size *= 4


def _last_end(look: _Look) -> int:
    """How many of the moves there are up to the last place where a run surely ends; 0 without one."""
    for stop in range(len(look.cuts) - 1, 0, -_WINDOW):
        some, behind = slice(max(stop - _WINDOW, 0), stop), slice(max(stop - _WINDOW, 0) + 1, stop + 1)
        square = (look.along[:, some] * GRAIN * (look.along[:, behind] * GRAIN)).sum(axis=0) <= 0
        ends = look.breaks[some] | (square & look.long[behind] & look.long[some])
        at = np.flatnonzero(ends)
        if len(at):
            return some.start + int(at[-1]) + 1
    return 0


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


def _may_go_round(moves: Moves, look: _Look) -> bool:
    """Whether a circle may be among these moves: a cheap look at where they head, by quarters.

    A piece of a run heads into the quarter of the one before it or a neighbouring one, and it goes through at
    least `_QUARTERS` where the run can hold a circle. True wherever arcs or rounding leave it open.
    """
    piece, joined = _joined(moves, look.part, look.cuts, look.breaks)
    if not len(piece):
        return False
    if not look.long.take(piece).all():
        return True
    first, second = (way.take(piece) for way in look.along)
    above, below = first + second > 0, first - second > 0
    quarter = (~above).view(np.int8) * np.int8(2) + (above ^ below).view(np.int8)  # +X, +Y, -X, -Y
    turns = np.diff(quarter) & 3
    at = np.flatnonzero((turns != 0) | ~joined[1:])
    turns = turns[at]
    heading = np.concatenate(([0], np.cumsum((turns == 1).astype(np.int64) - (turns == 3))))
    begins = np.concatenate(([0], np.flatnonzero((turns == 2) | ~joined[1:][at]) + 1))
    swing = np.maximum.reduceat(heading, begins) - np.minimum.reduceat(heading, begins)
    return bool((swing >= _QUARTERS).any())


def _are_long(
    moves: Moves, part: slice, along: NDArray[np.int64], straight: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which of the straight ones among a part of the moves (k,) have a direction in spite of rounding.

    They go `along` (2, k), in counts.
    """
    length = np.maximum(*np.abs(along)) * GRAIN
    long: NDArray[np.bool_] = straight & (length >= _LONG * COARSEST)
    doubtful = np.flatnonzero(straight & ~long)
    if len(doubtful):
        long[doubtful] = length[doubtful] >= _LONG * unit_of(moves, doubtful + part.start)
    return long

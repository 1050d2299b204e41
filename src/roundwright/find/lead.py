"""Leads: the moves between a ring and the plunge, retract or rapid beyond."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.feature import Ring
from roundwright.find.ring import SAME_DEPTH
from roundwright.trace.moves import PLANE_AXES, Motion, Moves
from roundwright.units import GRAIN

#: a chain of more moves than this is no lead but other work.
LONGEST_LEAD = 4

#: plain numbers: an enumeration's members are slow to look up, and here it is done move by move.
_CURVED = (int(Motion.CW), int(Motion.CCW))
CUTTING = (int(Motion.LINE), *_CURVED)
_AXES = np.array(PLANE_AXES)
#: chains that are followed together.
_TOGETHER = 1 << 14

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]


def moves_in_plane(moves: Moves, row: int, normal: int) -> bool:
    """Whether the move goes anywhere in the plane: arcs do, and moves to a place from nobody knows where."""
    if int(moves.motion[row]) in _CURVED:  # a scalar of numpy's is slow to compare
        return True
    first, second = PLANE_AXES[normal]
    if int(moves.end_known[row]) & ~int(moves.start_known[row]) & ((1 << first) | (1 << second)):
        return True
    start, end = moves.start, moves.end
    return bool(start[row, first] != end[row, first] or start[row, second] != end[row, second])


def is_lead(moves: Moves, row: int, normal: int) -> bool:
    """Whether the move can be part of a lead: it cuts, and not only up or down."""
    return int(moves.motion[row]) in CUTTING and moves_in_plane(moves, row, normal)


class Lead(Struct, frozen=True, gc=False):
    """The chain beside a ring, from the ring outwards; `far` is its far end in the plane, mm.

    `step` is -1 before the ring and 1 behind it. `far` is None where the far end is a place that the program
    does not say. `open_end` tells that the chain ends in a plunge, retract, rapid or the program's end, and
    not on another ring or in other work. It lies `within` so far of the ring's centre, mm: its corners, where
    all of it is straight; nothing is told of arcs.
    """

    step: int
    rows: tuple[int, ...]
    far: tuple[float, float] | None
    open_end: bool
    within: float


class _Chains(Struct, eq=False):
    """The chains beside laps of rings (shape k), as far as they have been followed; mm.

    `other` tells which of them are no leads but other work.
    """

    row: Rows  # the lap's first or last
    step: Rows
    normal: Rows
    centre: Floats  # (k, 2)
    top: Floats
    short: Floats
    count: Rows
    length: Floats
    within: Floats
    known: NDArray[np.bool_]
    on_ring: NDArray[np.bool_]
    other: NDArray[np.bool_]

    @classmethod
    def beside(cls, rings: Sequence[Ring], short: Sequence[float], ends: tuple[Rows, Rows, Rows]) -> _Chains:
        """Chains before they are followed."""
        of, row, step = ends
        columns = [(ring.normal, *ring.centre, ring.z[0]) for ring in rings]
        normal, x, y, top = np.array(columns).reshape(-1, 4)[of].T
        count, none = np.zeros(len(of), np.intp), np.zeros(len(of))
        no, centre = np.zeros(len(of), np.bool_), np.stack((x, y), axis=1)
        most = np.array(short)[of]
        top = top + SAME_DEPTH
        return cls(
            row, step, normal.astype(np.intp), centre, top, most, count, none, none.copy(), ~no, no, no.copy()
        )

    def follow(self, moves: Moves, going: Rows, taken: NDArray[np.bool_]) -> Rows:
        """Follow some of the chains by a move; those that go on."""
        at = self.row[going] + self.step[going] * (self.count[going] + 1)
        there = (at >= 0) & (at < len(moves))
        going, at = going[there], at[there]
        self.on_ring[going] = taken[at]
        axes, normal = _AXES[self.normal[going]], self.normal[going, None]
        begin, end = (np.take_along_axis(places[at], axes, 1) for places in (moves.start, moves.end))
        heights = (np.take_along_axis(places[at], normal, 1)[:, 0] for places in (moves.start, moves.end))
        mask = (1 << axes).sum(axis=1).astype(np.uint8)
        was, becomes = moves.start_known[at] & mask, moves.end_known[at] & mask
        line, curved = moves.motion[at] == Motion.LINE, np.isin(moves.motion[at], _CURVED)
        moving = curved | ((becomes & ~was) != 0) | (begin != end).any(axis=1)
        in_air = np.minimum(*heights) * GRAIN > self.top[going]
        on = np.flatnonzero((line | curved) & moving & ~in_air & ~taken[at])
        going, begin, end = going[on], begin[on] * GRAIN, end[on] * GRAIN
        corners = np.maximum(*(_length(place - self.centre[going]) for place in (begin, end)))
        self.count[going] += 1
        self.length[going] += _length(end - begin)
        self.known[going] &= was[on] == becomes[on]
        self.within[going] = np.maximum(self.within[going], np.where(line[on], corners, inf))
        self.other[going] = (self.count[going] > LONGEST_LEAD) & (self.length[going] > self.short[going])
        return going[~self.other[going]]


def leads_of(
    moves: Moves, rings: Sequence[Ring], short: Sequence[float], taken: NDArray[np.bool_]
) -> Iterator[list[Lead]]:
    """The chains beside each ring, lap by lap, the one before it first; `taken` (n,) are moves of rings.

    A chain of more than `LONGEST_LEAD` moves counts where its moves together are no longer than the ring's
    `short` (mm), as where a lead comes down in many small pieces; else it is other work. What never goes
    below the ring's top runs in the air, and is none of it.
    """
    leads = _leads(moves, rings, short, taken)
    following = next(leads, None)
    for k in range(len(rings)):
        own: list[Lead] = []
        while following and following[0] == k:
            own.append(following[1])
            following = next(leads, None)
        yield own


def _leads(
    moves: Moves, rings: Sequence[Ring], short: Sequence[float], taken: NDArray[np.bool_]
) -> Iterator[tuple[int, Lead]]:
    """All leads, each with the place of its ring, in order."""
    ends = _ends(rings)
    for begin in range(0, len(ends[0]), _TOGETHER):
        of, row, step = (column[begin : begin + _TOGETHER] for column in ends)
        first, past = int(of[0]), int(of[-1]) + 1
        chains = _Chains.beside(rings[first:past], short[first:past], (of - first, row, step))
        yield from ((int(of[k]), lead) for k, lead in _followed(moves, chains, taken))


def _followed(moves: Moves, chains: _Chains, taken: NDArray[np.bool_]) -> Iterator[tuple[int, Lead]]:
    """Those of the chains, by number, that are leads."""
    going = np.arange(len(chains.row))
    while len(going):
        going = chains.follow(moves, going, taken)
    last = chains.row + chains.step * chains.count
    places = np.where((chains.step < 0)[:, None], moves.start[last], moves.end[last])
    far = np.take_along_axis(places, _AXES[chains.normal], 1) * GRAIN
    leads = np.flatnonzero((chains.count > 0) & ~chains.other)
    columns = (chains.row, chains.step, chains.count, far, chains.known, ~chains.on_ring, chains.within)
    for k, row, step, count, (x, y), known, open_end, within in zip(
        leads.tolist(), *(column[leads].tolist() for column in columns), strict=True
    ):
        rows = tuple(range(row + step, row + step * (count + 1), step))
        yield k, Lead(step, rows, (x, y) if known else None, open_end, within)


def _length(way: Floats) -> Floats:
    return np.asarray(np.hypot(way[:, 0], way[:, 1]))


def _ends(rings: Sequence[Ring]) -> tuple[Rows, Rows, Rows]:
    """First and last of each unbroken run of each ring's moves: ring, row and step of each end (k,)."""
    ring = np.repeat(np.arange(len(rings)), [len(ring.rows) for ring in rings] or 0)
    row = np.array([row for ring in rings for row in ring.rows], np.intp)
    apart = np.append(True, (np.diff(row) > 1) | (np.diff(ring) != 0))
    first = np.flatnonzero(apart[: len(row)])
    last = np.append(first, len(row))[1:] - 1
    rows = np.stack((row[first], row[last]), axis=1).ravel()
    return np.repeat(ring[first], 2), rows, np.tile((-1, 1), len(first))

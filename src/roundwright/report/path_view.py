"""A program's path as outlines of a plan: what repeats drawn once, many straight moves thinned."""

from __future__ import annotations

from math import hypot, pi

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.trace.moves import ArcFault, Motion, Moves

_PER_MM = 1e8
_XY = 2
#: more moves than this are not drawn beside those of the features.
MOST = 40_000
_FINE = 1e-3  # mm: ends that are this near are one point
#: where there is too much, ends that fall into one cell are; a share of the picture.
_CELLS = (1 / 8000, 1 / 3000)
#: straight moves are joined until the path has turned by this; the middle of a chord is then off by
#: angle²/8, a 20,000th of the radius.
_TURN = 0.02
_CHUNK = 400  # moves in one outline, so that a browser can pass over those out of sight


class Track(Struct, frozen=True):
    """The outlines of cutting moves and of rapids; `shown` of `moves` are drawn, each circle among them."""

    cutting: tuple[str, ...]
    rapids: tuple[str, ...]
    shown: int
    moves: int
    thinned: bool


class _Lines(Struct, frozen=True, eq=False):
    """Moves to draw, one row each: mm in the picture."""

    start: NDArray[np.float64]  # (n, 2)
    end: NDArray[np.float64]  # (n, 2)
    motion: NDArray[np.uint8]  # (n,) LINE where the move is seen straight
    centre: NDArray[np.float64]  # (n, 2) of the arc; 0 where straight
    sweep: NDArray[np.float64]  # (n,) radians, 0 where straight
    kept: NDArray[np.bool_]  # (n,) is a feature's, never thinned

    def __len__(self) -> int:
        return len(self.start)

    def __getitem__(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> _Lines:
        return _Lines(
            self.start[which],
            self.end[which],
            self.motion[which],
            self.centre[which],
            self.sweep[which],
            self.kept[which],
        )


def track_of(
    moves: Moves, rows: NDArray[np.int64], own: set[int], corner: tuple[float, float], side: float
) -> Track:
    """The outlines of these rows; `own` are the features' rows, `corner` the picture's upper left, mm."""
    lines = _lines(moves, rows, own, corner)
    lines = lines[(lines.start != lines.end).any(axis=1) | (lines.sweep != 0.0)]
    count = len(lines)
    lines = _joined(lines)
    thinned = False
    once = _once(lines, _FINE)
    for cell in _CELLS:
        if np.count_nonzero(~once.kept) > MOST:
            once, thinned = _once(once, cell * side), True
    if np.count_nonzero(~once.kept) > MOST:
        once = _longest(once)
    rapid = once.motion == Motion.RAPID
    return Track(_outlines(once[~rapid]), _outlines(once[rapid]), len(once), count, thinned)


def _lines(moves: Moves, rows: NDArray[np.int64], own: set[int], corner: tuple[float, float]) -> _Lines:
    flip = np.array([1.0, -1.0])
    start, end = ((ends[rows, :2] / _PER_MM - corner) * flip for ends in (moves.start, moves.end))
    flat = np.array([state.normal == _XY for state in moves.states], dtype=np.bool_)
    arcs = moves.arcs
    sound = (arcs.fault == ArcFault.NONE) & np.isfinite(arcs.sweep) & flat[moves.state[arcs.row]]
    sound &= np.isfinite(arcs.centre).all(axis=1)
    centre, sweep = np.zeros((len(moves), 2)), np.zeros(len(moves))
    centre[arcs.row[sound]] = (arcs.centre[sound] - corner) * flip
    sweep[arcs.row[sound]] = arcs.sweep[sound]
    motion = moves.motion[rows].copy()
    motion[(motion != Motion.RAPID) & (sweep[rows] == 0.0)] = Motion.LINE
    mine = np.zeros(len(moves), dtype=np.bool_)
    mine[sorted(own)] = True
    return _Lines(start, end, motion, centre[rows], sweep[rows], mine[rows])


def _joined(lines: _Lines) -> _Lines:
    """Straight moves that go on in one direction as one move."""
    if len(lines) < 2:
        return lines
    way = lines.end - lines.start
    heading = np.arctan2(way[:, 1], way[:, 0])
    turn = np.abs((np.diff(heading) + pi) % (2 * pi) - pi)
    straight = (lines.sweep == 0.0) & ~lines.kept
    goes_on = straight[1:] & straight[:-1] & (lines.motion[1:] == lines.motion[:-1])
    goes_on &= (lines.start[1:] == lines.end[:-1]).all(axis=1)
    turned = np.floor(np.cumsum(turn) / _TURN)
    goes_on &= (turn < _TURN) & (np.diff(turned, prepend=0.0) == 0.0)
    first = np.flatnonzero(np.concatenate([[True], ~goes_on]))
    last = np.concatenate([first[1:] - 1, [len(lines) - 1]])
    joined = lines[first]
    return replace(joined, end=lines.end[last])


def _once(lines: _Lines, cell: float) -> _Lines:
    """Each move once, however often it is gone at other depths; what falls into one cell is left out."""
    if not len(lines):
        return lines
    snap = np.where(lines.kept, _FINE, cell)[:, None]
    start, end = np.rint(lines.start / snap), np.rint(lines.end / snap)
    shape = np.rint(np.column_stack([lines.centre, lines.sweep]) / 1e-3)
    key = np.column_stack([start, end, shape, lines.motion, lines.kept])
    _, index = np.unique(key, axis=0, return_index=True)
    index.sort()
    moved = (start[index] != end[index]).any(axis=1) | (lines.sweep[index] != 0.0)
    index = index[moved]
    return replace(lines[index], start=(start * snap)[index], end=(end * snap)[index])


def _longest(lines: _Lines) -> _Lines:
    """The features' moves and the longest of the others."""
    length = np.hypot(*(lines.end - lines.start).T) + np.abs(lines.sweep) * np.hypot(
        *(lines.start - lines.centre).T
    )
    length[lines.kept] = np.inf
    most = MOST + int(np.count_nonzero(lines.kept))
    return lines[np.sort(np.argsort(-length, kind="stable")[:most])]


def _outlines(lines: _Lines) -> tuple[str, ...]:
    chunks = (np.arange(k, min(k + _CHUNK, len(lines))) for k in range(0, len(lines), _CHUNK))
    return tuple(_outline(lines[chunk]) for chunk in chunks)


def _outline(lines: _Lines) -> str:
    """The moves as the text of an SVG path."""
    parts: list[str] = []
    at = ""
    columns = (lines.start, lines.end, lines.centre, lines.sweep)
    for start, end, centre, sweep in zip(*(column.tolist() for column in columns), strict=True):
        begin, stop = _point(start), _point(end)
        if begin != at:
            parts.append(f"M{begin}")
        parts.append(f"L{stop}" if sweep == 0.0 else _arc(start, end, centre, sweep))
        at = stop
    return "".join(parts)


def _arc(start: list[float], end: list[float], centre: list[float], sweep: float) -> str:
    """An arc; counter-clockwise stays so to the eye, though Y points down. A whole turn is two halves."""
    radius = round(hypot(start[0] - centre[0], start[1] - centre[1]), 3)
    flag = 0 if sweep > 0 else 1
    if abs(sweep) < 2 * pi - 1e-3:
        return f"A{radius:g} {radius:g} 0 {1 if abs(sweep) > pi else 0} {flag} {_point(end)}"
    middle = [2 * centre[0] - start[0], 2 * centre[1] - start[1]]
    return "".join(f"A{radius:g} {radius:g} 0 1 {flag} {_point(point)}" for point in (middle, end))


def _point(xy: list[float]) -> str:
    return f"{round(xy[0], 3):.10g} {round(xy[1], 3):.10g}"

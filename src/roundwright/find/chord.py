"""Circles written as short straight moves, or as many arcs that all differ a little."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from roundwright.find.calm import Calm
from roundwright.find.feature import Form, Ring
from roundwright.find.fit import algebraic_circle, geometric_circle
from roundwright.find.pieces import Pieces, gather_pieces
from roundwright.find.ring import FULL_TURN, SAME_DEPTH
from roundwright.trace.moves import Moves
from roundwright.units import MICROMETRE

#: a chord that spans more is the side of a polygon.
_WIDEST = np.radians(30.0)
#: a single chord may span more by this (radians), for corners are rounded, and stay so where a corrected
#: circle is written more finely; the mean of a ring's chords may not: eleven sides, 32.7 degrees each, are a
#: polygon.
_BLUR, _FEWER = 0.05, np.radians(1.0)
#: a run that turns less than this in all cannot hold a closed circle of at least 12 chords.
_LEAST_TURN = np.radians(320.0)
#: the stretch of a run that a circle is first tried on, and how far the next try begins.
_WINDOW, _STRIDE = np.radians(150.0), np.radians(15.0)
_FEWEST = 12
#: first and past the last of a run of pieces.
Span = tuple[int, int]


def find_chord_rings(moves: Moves, taken: NDArray[np.bool_], sagitta: float, calm: Calm) -> tuple[Ring, ...]:
    """Rings of at least 12 chords, of arcs that differ a little, or of both.

    `taken` (n,) are moves that belong to rings of arcs already; `sagitta` (mm) is the most that a chord may
    stand off the circle; where it is `calm` there are none.
    """
    rings: list[Ring] = []
    for normal in sorted({state.normal for state in moves.states}):
        for pieces in gather_pieces(moves, normal, calm):
            free = np.append(0, np.cumsum(~taken[pieces.row]))
            for first, last in _runs(pieces):
                if free[last] > free[first]:
                    rings += _rings_in(moves, pieces, first, last, normal, sagitta, taken)
    return tuple(rings)


def _runs(pieces: Pieces) -> Iterator[tuple[int, int]]:
    """Runs of pieces that turn one way only, far enough to close a circle.

    The piece between a corner one way and a corner the other way, the first chord after a lead that
    curves away, belongs to both runs, and so do those whose own turning is lost in rounding.
    """
    if not len(pieces.row):
        return
    sharp = np.abs(pieces.turn - pieces.sweep) > _WIDEST + pieces.noise + 0.02
    begins = ~pieces.joined | sharp
    turn = np.where(begins, pieces.sweep, pieces.turn)  # what comes before is no part of it
    way = np.where(np.abs(turn) > pieces.noise, np.sign(turn), 0.0)
    index = np.arange(len(way))
    # a piece whose own turning is lost in rounding goes the way of the last one that is not
    last = np.maximum.accumulate(np.where((way != 0) | begins, index, 0))
    held = way[last]
    flips = np.zeros(len(way), dtype=bool)
    flips[1:] = ~begins[1:] & (held[1:] != held[:-1]) & (held[:-1] != 0) & (held[1:] != 0)
    bounds = np.flatnonzero(begins | flips)
    # leads whose turning is lost in rounding may bend the other way: the farthest swing counts
    heading = np.cumsum(turn)
    before = (heading - turn)[bounds]
    low, high = np.minimum.reduceat(heading, bounds), np.maximum.reduceat(heading, bounds)
    swing = np.maximum(high, before) - np.minimum(low, before)
    ends = np.append(bounds[1:], len(way))
    for k in np.flatnonzero(swing >= _LEAST_TURN):
        first = bounds[k]
        if flips[first]:
            bent = last[first - 1]
            first = bent if pieces.sweep[bent] * held[first] >= 0 else bent + 1
        yield int(first), int(ends[k])


def _rings_in(
    moves: Moves,
    pieces: Pieces,
    first: int,
    last: int,
    normal: int,
    sagitta: float,
    taken: NDArray[np.bool_],
) -> Iterator[Ring]:
    """The rings within one run: a stretch that fits a circle, widened as far as it stays on it."""
    turned = _turned(pieces, first, last)
    at = first
    while at < last:
        begin = turned[at - first] - abs(pieces.sweep[at])
        end = max(first + int(np.searchsorted(turned, begin + _WINDOW)) + 1, at + 2)
        if end > last:
            return
        tolerance = _tolerance(pieces, at, end)
        found = _widened(pieces, at, end, first, last, tolerance)
        if found is not None:
            low, high, centre, radius = found
            ring = _ring(moves, pieces, low, high, centre, radius, normal, sagitta, tolerance)
            if ring is not None and not taken[list(ring.rows)].all():
                yield ring
            at = max(high, at + 1)
        else:
            at = max(at + 1, first + int(np.searchsorted(turned, begin + _STRIDE)))


def _tolerance(pieces: Pieces, low: int, high: int) -> float:
    """Sameness of a stretch: of what is written to as many decimals as any of its straights.

    Zeros may be trimmed, but not in all of the corners of a circle; an arc's ends may be written more
    finely than its neighbours, as where R form needs it.
    """
    return _finest(pieces, pieces.tolerance, low, high)


def _finest(pieces: Pieces, column: NDArray[np.float64], low: int, high: int) -> float:
    straight = pieces.sweep[low:high] == 0
    own = column[low:high]
    return float((own[straight] if straight.any() else own).min())


def _turned(pieces: Pieces, first: int, last: int) -> NDArray[np.float64]:
    """How far a run has turned its own way after each of its pieces, radians, never less than before."""
    heading = np.cumsum(pieces.turn[first:last]) - pieces.turn[first] + pieces.sweep[first]
    back, forth = heading - np.maximum.accumulate(heading), heading - np.minimum.accumulate(heading)
    way = 1.0 if forth.max() >= -back.min() else -1.0
    return np.asarray(np.maximum.accumulate(way * heading))


def _points(pieces: Pieces, low: int, high: int) -> NDArray[np.float64]:
    """The corners of a stretch, and the middles of its arcs where they are written as surely."""
    part = slice(low, high)
    curved = (pieces.sweep[part] != 0) & (pieces.blur[part] <= 2 * pieces.tolerance[part])
    return np.concatenate([pieces.start[part], pieces.end[high - 1 : high], pieces.middle[part][curved]])


def _widened(
    pieces: Pieces, low: int, high: int, first: int, last: int, tolerance: float
) -> tuple[int, int, NDArray[np.float64], float] | None:
    """The longest stretch about (low, high) on one circle, with its circle; None where it is not on one."""
    sure = _steady(pieces, (low, high), (first, last), tolerance)
    while sure is not None:
        if abs(_spans(pieces, sure.low, sure.high, sure.centre).sum()) >= FULL_TURN - _STRIDE:
            break
        # corners of part of a circle, written coarsely, mislead about the rest of it
        within = sure.low, sure.high
        wider = _stretch(pieces, within, (first, last), sure.centre, sure.radius, 3 * tolerance)
        grown = None if wider == within else _steady(pieces, wider, (first, last), tolerance)
        if grown is None or grown.high - grown.low <= sure.high - sure.low:
            break
        sure = grown
    if sure is None:
        return None
    low, high = _trimmed(pieces, sure.low, sure.high, sure.centre, sure.radius, tolerance)
    centre, radius = sure.centre, sure.radius
    if not sure.own or (low, high) != (sure.low, sure.high):
        try:
            x, y, radius = geometric_circle(_points(pieces, low, high))
        except np.linalg.LinAlgError:
            return None
        centre = np.array([x, y])
    if _bulge(pieces, low, high, centre, radius).max() > 1.5 * tolerance:
        return None
    return low, high, centre, radius


class _Sure(NamedTuple):
    """A stretch on a circle; `own` tells that it is the circle through this very stretch."""

    low: int
    high: int
    centre: NDArray[np.float64]
    radius: float
    own: bool


def _steady(pieces: Pieces, within: Span, run: Span, tolerance: float) -> _Sure | None:
    """The longest stretch about `within` on the circle through its own points, with that circle."""
    low, high = within
    for _ in range(8):
        points = _points(pieces, low, high)
        try:
            start = algebraic_circle(points)
            if np.abs(np.hypot(*(points - start[:2]).T) - start[2]).max() > 4 * tolerance:
                return None
            x, y, radius = geometric_circle(points, start)
        except np.linalg.LinAlgError:
            return None
        centre = np.array([x, y])
        if np.abs(np.hypot(*(points - centre).T) - radius).max() > 1.5 * tolerance:
            return None
        stretch = _stretch(pieces, (low, high), run, centre, radius, 1.5 * tolerance)
        if stretch == (low, high):
            return _Sure(low, high, centre, radius, own=True)
        low, high = stretch
    return _Sure(low, high, centre, radius, own=False)


def _trimmed(
    pieces: Pieces, low: int, high: int, centre: NDArray[np.float64], radius: float, tolerance: float
) -> tuple[int, int]:
    """The stretch without end pieces that are most likely of a lead: none that the circle needs to close.

    The first chord of a lead that leaves the circle along its tangent may lie within the tolerance; its
    outer corner stands farther off than rounding has put the others, and than it can put any.
    """
    # half a unit along each axis is 0.71 units
    rounded = max(_finest(pieces, pieces.unit, low, high), MICROMETRE)
    spans = np.abs(_spans(pieces, low, high, centre))
    corners = np.concatenate([pieces.start[low:high], pieces.end[high - 1 : high]])
    off = np.abs(np.hypot(*(corners - centre).T) - radius)
    first, last, total = 0, high - low, float(spans.sum())
    while last - first > _FEWEST:
        usual = float(np.sqrt((off[first + 1 : last] ** 2).mean()))
        ends = (off[first], spans[first]), (off[last], spans[last - 1])
        stray, span = max(ends)
        if stray <= max(3 * usual, rounded) or total - span < FULL_TURN - tolerance / radius:
            break
        first, last = (first + 1, last) if stray == ends[0][0] else (first, last - 1)
        total -= span
    return low + first, low + last


def _stretch(
    pieces: Pieces,
    within: tuple[int, int],
    run: tuple[int, int],
    centre: NDArray[np.float64],
    radius: float,
    tolerance: float,
) -> tuple[int, int]:
    """The unbroken stretch about `within` whose pieces stay on the circle.

    It is looked for in growing windows: a run may hold thousands of other circles.
    """
    (low, high), (first, last) = within, run
    margin = high - low
    while True:
        begin, end = max(first, low - margin), min(last, high + margin)
        off = _off_circle(pieces, begin, end, centre, radius)
        new_low, new_high = _grown(off, low - begin, high - begin, tolerance)
        if (new_low > 0 or begin == first) and (new_high < end - begin or end == last):
            return new_low + begin, new_high + begin
        margin *= 4


def _off_circle(
    pieces: Pieces, first: int, last: int, centre: NDArray[np.float64], radius: float
) -> NDArray[np.float64]:
    """How far each piece strays from the circle: by its ends, arcs by their middles too."""
    part = slice(first, last)
    off = np.maximum(
        np.abs(np.hypot(*(pieces.start[part] - centre).T) - radius),
        np.abs(np.hypot(*(pieces.end[part] - centre).T) - radius),
    )
    return np.asarray(np.maximum(off, _bulge(pieces, first, last, centre, radius)))


def _bulge(
    pieces: Pieces, first: int, last: int, centre: NDArray[np.float64], radius: float
) -> NDArray[np.float64]:
    """How much farther than rounding of R explains the middle of each arc strays; 0 of straights."""
    part, off = slice(first, last), np.zeros(last - first)
    curved = pieces.sweep[part] != 0
    if curved.any():
        middle, blur = pieces.middle[part][curved], pieces.blur[part][curved]
        off[curved] = np.abs(np.hypot(*(middle - centre).T) - radius) - blur
    return off


def _grown(off: NDArray[np.float64], low: int, high: int, tolerance: float) -> tuple[int, int]:
    """The unbroken stretch about (low, high) whose pieces stay within the tolerance."""
    stray = np.flatnonzero(off > tolerance)
    before, behind = stray[stray < low], stray[stray >= high]
    return int(before[-1]) + 1 if len(before) else 0, int(behind[0]) if len(behind) else len(off)


def _ring(
    moves: Moves,
    pieces: Pieces,
    low: int,
    high: int,
    centre: NDArray[np.float64],
    radius: float,
    normal: int,
    sagitta: float,
    tolerance: float,
) -> Ring | None:
    """The ring of a stretch, or None where its chords are too long or it does not close."""
    part = slice(low, high)
    spans = _spans(pieces, low, high, centre)
    straight = pieces.sweep[part] == 0
    state = moves.states[int(moves.state[pieces.row[low]])]
    slack = 3 * tolerance / radius
    if not _fine(np.abs(spans[straight]), radius, sagitta, only=straight.all()):
        return None
    if not _closes(pieces, low, high, float(np.abs(spans.sum())), radius, slack):
        return None
    z = pieces.z[part]
    level = np.abs(z[:, 0] - z[:, 1]) <= SAME_DEPTH
    bottom = level & (z[:, 0] <= z.min() + SAME_DEPTH)
    return Ring(
        rows=tuple(pieces.row[part].tolist()),
        centre=(float(centre[0]), float(centre[1])),
        radius=radius,
        turn="ccw" if spans.sum() > 0 else "cw",
        z=(float(z.max()), float(z.min())),
        normal=normal,
        frame=state.frame,
        section=state.section,
        passes=int(np.abs(spans.sum()) / FULL_TURN + 0.01),
        forms=_forms(straight, level),
        flat=bool(np.abs(spans[bottom].sum()) >= FULL_TURN - max(slack, 1e-6)),
        known=True,
        tolerance=tolerance,
        over_flats=radius * float(np.cos(np.abs(spans[straight]).max() / 2)) if straight.any() else None,
    )


def _forms(straight: NDArray[np.bool_], level: NDArray[np.bool_]) -> tuple[Form, ...]:
    kinds: tuple[tuple[Form, NDArray[np.bool_]], ...] = (
        ("helix", ~straight & ~level),
        ("arc", ~straight & level),
        ("chords", straight),
    )
    return tuple(form for form, which in kinds if which.any())


def _fine(chords: NDArray[np.float64], radius: float, sagitta: float, *, only: bool) -> bool:
    """Whether the chords (their spans, radians) are short enough, and enough of them, to mean a circle."""
    if only and len(chords) < _FEWEST:
        return False
    widest, mean = (float(chords.max()), float(chords.mean())) if len(chords) else (0.0, 0.0)
    short = widest <= _WIDEST + _BLUR and mean <= _WIDEST + _FEWER
    return bool(short and radius * (1 - np.cos(widest / 2)) <= sagitta + 1e-6)


def _closes(pieces: Pieces, low: int, high: int, total: float, radius: float, slack: float) -> bool:
    """Whether the stretch goes once round: by its angle, or by coming back to where it began."""
    if total >= FULL_TURN - slack:
        return True
    back = np.hypot(*(pieces.start[low] - pieces.end[high - 1])) / radius
    return bool(total >= FULL_TURN - 0.1 and back <= slack)


def _spans(pieces: Pieces, low: int, high: int, centre: NDArray[np.float64]) -> NDArray[np.float64]:
    """The angle of each piece as seen from the centre, counter-clockwise positive."""
    part = slice(low, high)
    a, b = pieces.start[part] - centre, pieces.end[part] - centre
    span = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    sweep = pieces.sweep[part]  # an R-form semicircle's own centre is a guess, so its sweep is too
    if not sweep.any():
        return np.asarray(span)
    return np.asarray(np.where(sweep != 0, span + FULL_TURN * np.round((sweep - span) / FULL_TURN), span))

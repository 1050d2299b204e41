"""Circles written as short straight moves, or as many arcs that all differ a little."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np
from numpy.typing import NDArray

from roundwright.find.feature import Form, Ring
from roundwright.find.fit import algebraic_circle, geometric_circle
from roundwright.find.ring import FULL_TURN, SAME_DEPTH, sameness
from roundwright.trace.moves import PLANE_AXES, ArcFault, Motion, Moves
from roundwright.units import GRAIN, INCH
from roundwright.values import dataclass

#: a chord that spans more is the side of a polygon.
_WIDEST = np.radians(30.0)
#: rounding of its corners widens no chord by more, nor the mean of a ring's chords (radians): a polygon of
#: eleven sides stays one, its chords span 32.7 degrees.
_BLUR, _FEWER = 0.05, np.radians(1.0)
#: a run that turns less than this in all cannot hold a closed circle of at least 12 chords.
_LEAST_TURN = np.radians(320.0)
#: the stretch of a run that a circle is first tried on, and how far the next try begins.
_WINDOW, _STRIDE = np.radians(150.0), np.radians(15.0)
_FEWEST = 12


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """The cutting moves of one plane that go anywhere in it, in order (shape k): mm, radians.

    `joined` tells of each piece whether it goes on where the one before it ended, in the same state.
    """

    row: NDArray[np.int64]
    start: NDArray[np.float64]  # (k, 2)
    end: NDArray[np.float64]  # (k, 2)
    z: NDArray[np.float64]  # (k, 2)
    sweep: NDArray[np.float64]  # 0 for straight moves
    middle: NDArray[np.float64]  # (k, 2) half way along
    joined: NDArray[np.bool_]
    turn: NDArray[np.float64]  # change of direction at the piece's beginning, its own sweep included
    noise: NDArray[np.float64]  # how much of that change rounding alone can make


def find_chord_rings(moves: Moves, taken: Collection[int], sagitta: float) -> tuple[Ring, ...]:
    """Rings of at least 12 chords, of arcs that differ a little, or of both.

    `taken` are rows that belong to rings of arcs already; `sagitta` (mm) is the most that a chord may
    stand off the circle.
    """
    rings: list[Ring] = []
    for normal in sorted({state.normal for state in moves.states}):
        pieces = _pieces(moves, normal)
        for first, last in _runs(pieces):
            if not all(int(row) in taken for row in pieces.row[first:last]):
                rings += _rings_in(moves, pieces, first, last, normal, sagitta, taken)
    return tuple(rings)


def _pieces(moves: Moves, normal: int) -> Pieces:
    first, second = PLANE_AXES[normal]
    mask = (1 << first) | (1 << second)
    motion = moves.motion
    in_plane = np.array([state.normal == normal for state in moves.states])[moves.state]
    moving = (moves.start[:, [first, second]] != moves.end[:, [first, second]]).any(axis=1)
    known = (moves.start_known & moves.end_known & mask) == mask
    arc_of = np.full(len(moves), -1, dtype=np.int64)
    sound = moves.arcs.fault == ArcFault.NONE
    arc_of[moves.arcs.row[sound]] = np.flatnonzero(sound)
    curved = (arc_of >= 0) & in_plane
    cuts = known & in_plane & (curved | ((motion == Motion.LINE) & moving))
    # what breaks a run: any other move that goes somewhere, and any that is not read
    breaks = ~cuts & (moving | ~known | (motion > Motion.CCW))
    row = np.flatnonzero(cuts)
    arc = arc_of[row]
    start, end = (p[row][:, [first, second]] * GRAIN for p in (moves.start, moves.end))
    sweep = np.where(arc >= 0, moves.arcs.sweep[arc], 0.0) if len(moves.arcs.row) else np.zeros(len(row))
    centre = np.where((arc >= 0)[:, None], moves.arcs.centre[arc] if len(moves.arcs.row) else 0.0, 0.0)
    broken = np.cumsum(breaks)[row]
    state = moves.state[row]
    joined = np.zeros(len(row), dtype=bool)
    joined[1:] = (broken[1:] == broken[:-1]) & (state[1:] == state[:-1])
    turn, noise = _turns(moves, start, end, sweep, centre)
    return Pieces(
        row=row,
        start=start,
        end=end,
        z=np.column_stack([moves.start[row, normal], moves.end[row, normal]]) * GRAIN,
        sweep=sweep,
        middle=_middles(start, end, sweep, centre),
        joined=joined,
        turn=turn,
        noise=noise,
    )


def _turns(
    moves: Moves,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    sweep: NDArray[np.float64],
    centre: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Change of direction at each piece's beginning plus its own sweep, and what rounding makes of it."""
    along = end - start
    heading = np.arctan2(along[:, 1], along[:, 0])
    curved = sweep != 0
    out, back = start - centre, end - centre
    square = np.sign(sweep) * np.pi / 2
    leave = np.where(curved, np.arctan2(out[:, 1], out[:, 0]) + square, heading)
    arrive = np.where(curved, np.arctan2(back[:, 1], back[:, 0]) + square, heading)
    turn = np.zeros(len(start))
    turn[1:] = (leave[1:] - arrive[:-1] + np.pi) % FULL_TURN - np.pi
    unit = 10.0**-moves.finest * (INCH if any(state.inch for state in moves.states) else 1.0)
    length = np.where(curved, np.hypot(out[:, 0], out[:, 1]), np.hypot(along[:, 0], along[:, 1]))
    blur = 2 * unit / np.maximum(length, unit / 2)
    noise = blur.copy()
    noise[1:] += blur[:-1]
    return turn + sweep, noise


def _middles(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    sweep: NDArray[np.float64],
    centre: NDArray[np.float64],
) -> NDArray[np.float64]:
    offset = start - centre
    angle = np.arctan2(offset[:, 1], offset[:, 0]) + sweep / 2
    radius = np.hypot(offset[:, 0], offset[:, 1])
    on_arc = centre + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.where((sweep != 0)[:, None], on_arc, (start + end) / 2)


def _runs(pieces: Pieces) -> Iterator[tuple[int, int]]:
    """Runs of pieces that turn one way only, far enough to close a circle.

    The piece between a corner one way and a corner the other way, the first chord after a lead that
    curves away, belongs to both runs.
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
        if flips[first] and pieces.sweep[last[first - 1]] * held[first] >= 0:
            first = last[first - 1]
        yield int(first), int(ends[k])


def _rings_in(
    moves: Moves,
    pieces: Pieces,
    first: int,
    last: int,
    normal: int,
    sagitta: float,
    taken: Collection[int],
) -> Iterator[Ring]:
    """The rings within one run: a stretch that fits a circle, widened as far as it stays on it."""
    tolerance = sameness(moves, inch=moves.states[int(moves.state[pieces.row[first]])].inch)
    turned = _turned(pieces, first, last)
    at = first
    while at < last:
        begin = turned[at - first]
        end = first + int(np.searchsorted(turned, begin + _WINDOW)) + 1
        if end > last or end - at < 2:
            if end > last:
                return
            at += 1
            continue
        found = _widened(pieces, at, end, first, last, tolerance)
        if found is not None:
            low, high, centre, radius = found
            ring = _ring(moves, pieces, low, high, centre, radius, normal, sagitta)
            if ring is not None and not all(row in taken for row in ring.rows):
                yield ring
            at = max(high, at + 1)
        else:
            at = max(at + 1, first + int(np.searchsorted(turned, begin + _STRIDE)))


def _turned(pieces: Pieces, first: int, last: int) -> NDArray[np.float64]:
    """How far a run has turned its own way after each of its pieces, radians, never less than before."""
    heading = np.cumsum(pieces.turn[first:last]) - pieces.turn[first] + pieces.sweep[first]
    back, forth = heading - np.maximum.accumulate(heading), heading - np.minimum.accumulate(heading)
    way = 1.0 if forth.max() >= -back.min() else -1.0
    return np.asarray(np.maximum.accumulate(way * heading))


def _points(pieces: Pieces, low: int, high: int) -> NDArray[np.float64]:
    """The corners of a stretch, and the middles of its arcs."""
    part = slice(low, high)
    curved = pieces.sweep[part] != 0
    return np.concatenate([pieces.start[part], pieces.end[high - 1 : high], pieces.middle[part][curved]])


def _widened(
    pieces: Pieces, low: int, high: int, first: int, last: int, tolerance: float
) -> tuple[int, int, NDArray[np.float64], float] | None:
    """The longest stretch about (low, high) on one circle, with its circle; None where it is not on one."""
    for _ in range(8):
        points = _points(pieces, low, high)
        try:
            x, y, radius = algebraic_circle(points)
            if np.abs(np.hypot(*(points - (x, y)).T) - radius).max() > 4 * tolerance:
                return None
            x, y, radius = geometric_circle(points)
        except np.linalg.LinAlgError:
            return None
        centre = np.array([x, y])
        if np.abs(np.hypot(*(points - centre).T) - radius).max() > 1.5 * tolerance:
            return None
        stretch = _stretch(pieces, (low, high), (first, last), centre, radius, 1.5 * tolerance)
        if stretch == (low, high):
            break
        low, high = stretch
    return low, high, centre, radius


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
    middle = np.abs(np.hypot(*(pieces.middle[part] - centre).T) - radius)
    return np.asarray(np.where(pieces.sweep[part] != 0, np.maximum(off, middle), off))


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
) -> Ring | None:
    """The ring of a stretch, or None where its chords are too long or it does not close."""
    part = slice(low, high)
    spans = _spans(pieces, low, high, centre)
    straight = pieces.sweep[part] == 0
    state = moves.states[int(moves.state[pieces.row[low]])]
    slack = 3 * sameness(moves, inch=state.inch) / radius
    blur = min(1.5 * sameness(moves, inch=state.inch) / radius, _BLUR)
    if not _fine(np.abs(spans[straight]), radius, sagitta, blur, only=straight.all()):
        return None
    if not _closes(pieces, low, high, float(np.abs(spans.sum())), radius, slack):
        return None
    z = pieces.z[part]
    level = np.abs(z[:, 0] - z[:, 1]) <= SAME_DEPTH
    bottom = level & (z[:, 0] <= z.min() + SAME_DEPTH)
    return Ring(
        rows=tuple(int(row) for row in pieces.row[part]),
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
        over_flats=radius * float(np.cos(np.abs(spans[straight]).max() / 2)) if straight.any() else None,
    )


def _forms(straight: NDArray[np.bool_], level: NDArray[np.bool_]) -> tuple[Form, ...]:
    kinds: tuple[tuple[Form, NDArray[np.bool_]], ...] = (
        ("helix", ~straight & ~level),
        ("arc", ~straight & level),
        ("chords", straight),
    )
    return tuple(form for form, which in kinds if which.any())


def _fine(chords: NDArray[np.float64], radius: float, sagitta: float, blur: float, *, only: bool) -> bool:
    """Whether the chords (their spans, radians) are short enough, and enough of them, to mean a circle.

    Rounding may widen a single chord by `blur`, but not all of them.
    """
    if only and len(chords) < _FEWEST:
        return False
    widest, mean = (float(chords.max()), float(chords.mean())) if len(chords) else (0.0, 0.0)
    short = widest <= _WIDEST + max(blur, 1e-3) and mean <= _WIDEST + _FEWER
    return bool(short and radius * (1 - np.cos(max(widest - blur, mean) / 2)) <= sagitta + 1e-6)


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
    return np.asarray(np.where(pieces.sweep[part] != 0, pieces.sweep[part], span))

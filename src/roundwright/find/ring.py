"""Rings: all arcs that lie on one circle and go round it at least once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import hypot
from typing import Any

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find.arcs import ArcColumns, Floats, Index, arc_columns, strays
from roundwright.find.feature import Form, Ring, Turn
from roundwright.find.fit import geometric_circle
from roundwright.find.near import Near, crowded
from roundwright.read.distinct import distinct, one_each
from roundwright.trace.moves import PLANE_AXES, Motion, Moves
from roundwright.units import GRAIN, MICROMETRE

FULL_TURN = 2 * np.pi
#: depths closer than this are one depth (mm): half a thousandth of an inch, as programs round them.
SAME_DEPTH = 13 * MICROMETRE
#: arcs that turn less than this together cannot go round; an R-form semicircle may fall short.
_NEARLY = 0.75 * FULL_TURN
#: noise of floating point on lengths, mm.
_NOISE = 1e-6
#: forms of a ring by whether all and whether any of its arcs are level.
_FORMS: dict[tuple[bool, bool], tuple[Form, ...]] = {
    (True, True): ("arc",),
    (False, True): ("helix", "arc"),
    (False, False): ("helix",),
}
#: arcs of groups that are looked at together.
_TOGETHER = 1 << 14


def find_rings(moves: Moves) -> tuple[Ring, ...]:
    """All rings of the program, in the order of their first moves; the two turns of one circle apart."""
    arcs = arc_columns(moves)
    rings = [ring for members in _circles(arcs) for ring in _on_joint_circles(moves, arcs, members)]
    return tuple(sorted(rings, key=lambda ring: ring.rows[0]))


def _circles(arcs: ArcColumns) -> Iterator[Index]:
    """Groups (r, k) of as many arcs each that lie on one circle, closed or not yet, some at a time."""
    if not len(arcs.row):
        return
    runs = _runs(arcs)
    group = _gathered(arcs, runs)
    # what cannot go round is most of many programs, and is let go before it costs anything
    turned = np.concatenate(([0.0], np.cumsum(np.abs(arcs.sweep))))
    swept = np.bincount(group, weights=turned[runs[:, 1]] - turned[runs[:, 0]])
    some = np.flatnonzero(swept[group] >= _NEARLY)
    some = some[np.argsort(group[some], kind="stable")]
    runs, group = runs[some], group[some]
    size = runs[:, 1] - runs[:, 0]
    begins = np.cumsum(size) - size
    member = np.arange(size.sum()) + np.repeat(runs[:, 0] - begins, size)
    first = np.flatnonzero(np.diff(group, prepend=-1))
    count = np.add.reduceat(size, first) if len(first) else size
    for k in distinct(count).tolist():
        alike, most = begins[first[count == k], None], max(1, _TOGETHER // k)
        for at in range(0, len(alike), most):
            yield member[alike[at : at + most] + np.arange(k)]


def _runs(arcs: ArcColumns) -> Index:
    """First and past the last (n, 2) of arcs in a row that lie on one circle."""
    apart = np.hypot(*(arcs.centre[1:] - arcs.centre[:-1]).T)
    same = (
        (arcs.kind[1:] == arcs.kind[:-1])
        & (apart <= arcs.wander[1:] + arcs.wander[:-1])
        & (np.abs(arcs.radius[1:] - arcs.radius[:-1]) <= 2 * arcs.slack(slice(1, None)))
        & (arcs.known[1:] | (arcs.row[1:] == arcs.row[:-1] + 1))
    )
    bounds = np.flatnonzero(np.concatenate(([True], ~same, [True])))
    stray = _strays_from(arcs, slice(None), np.repeat(bounds[:-1], np.diff(bounds)))
    creep = np.flatnonzero(np.logical_or.reduceat(stray, bounds[:-1]))
    more = [cut for k in creep.tolist() for cut in _creeps(arcs, int(bounds[k]), int(bounds[k + 1]))]
    bounds = np.sort(np.append(bounds, np.array(more, np.intp)))
    return np.stack((bounds[:-1], bounds[1:]), axis=1)


def _creeps(arcs: ArcColumns, first: int, end: int) -> Iterator[int]:
    """Where a run is cut, since it has crept away from its beginning there, as a slow spiral does."""
    while end - first > 1:
        stray = _strays_from(arcs, slice(first, end), first)
        if not stray.any():
            break
        first += int(np.argmax(stray))
        yield first


def _strays_from(arcs: ArcColumns, run: slice, first: Index | int) -> NDArray[np.bool_]:
    """Which arcs of a run (k,) are not on one circle with its first, or each with a first of its own (k,)."""
    apart = np.hypot(*(arcs.centre[run] - arcs.centre[first]).T)
    off = np.abs(arcs.radius[run] - arcs.radius[first])
    return np.asarray((apart > arcs.wander[run] + arcs.wander[first]) | (off > 2 * arcs.slack(run)))


def _gathered(arcs: ArcColumns, runs: Index) -> Index:
    """The first run (n,) on the circle of each, wherever in the program they stand."""
    near = Near()
    home = np.arange(len(runs))
    begin, size = runs[:, 0], runs[:, 1] - runs[:, 0]
    surest = begin.copy()
    for k in np.flatnonzero(size > 1).tolist():
        surest[k] += arcs.wander[slice(*runs[k])].argmin()
    asked = crowded(arcs.kind[surest, None], arcs.centre[surest]) & arcs.known[surest]
    # a run's arcs stand about its first one, and so may the surest of them
    most = 3 * arcs.wander[begin][asked].max(initial=0.0)
    # numbers of Python, made only of those that are looked at
    columns = (arcs.kind, arcs.radius, arcs.wander, arcs.tolerance, *arcs.centre.T)
    views: list[Any] = [memoryview(column) for column in columns]
    kind, radius, wander, tolerance, x, y = views

    def on_one_circle(a: int, b: int) -> bool:
        if abs(radius[a] - radius[b]) > 2 * tolerance[a]:
            return False
        return bool(hypot(x[a] - x[b], y[a] - y[b]) <= wander[a] + wander[b])

    for k in np.flatnonzero(asked).tolist():
        best = int(surest[k])
        circle = x[best], y[best], radius[best]
        places = near(kind[best], circle, wander[best] + most)
        first = next((j for j in places if on_one_circle(best, int(begin[j]))), None)
        if first is None:
            near.add(kind[best], circle, k)
        else:
            home[k] = first
    return home


def _on_joint_circles(moves: Moves, arcs: ArcColumns, members: Index) -> Iterator[Ring]:
    """The rings that groups (r, k) of as many arcs make, less the arcs that do not share the circle."""
    tolerance = arcs.tolerance[members].max(axis=1)
    centre, radius = _joint_circles(arcs, members)
    fits = _fits(arcs, members, centre, radius, tolerance)
    whole = fits.all(axis=1)
    yield from _rings(moves, arcs, members[whole], centre[whole], radius[whole], tolerance[whole])
    for k in np.flatnonzero(~whole & fits.any(axis=1)).tolist():
        one = slice(k, k + 1)
        yield from _rings(moves, arcs, members[one, fits[k]], centre[one], radius[one], tolerance[one])


def _rings(
    moves: Moves, arcs: ArcColumns, members: Index, centre: Floats, radius: Floats, tolerance: Floats
) -> Iterator[Ring]:
    """The rings among groups (r, k) of arcs that lie on one circle each: those that close."""
    sweep = sweeps_about(arcs, members, centre[:, None])
    gap = 2 * tolerance / radius
    closed = np.flatnonzero(covers(arcs, members, sweep, centre, gap))
    members, sweep, gap = members[closed], sweep[closed], gap[closed]
    z = arcs.z[members]
    lowest = z.min(axis=(1, 2))
    level = np.abs(z[..., 0] - z[..., 1]) <= SAME_DEPTH
    bottom = level & (z[..., 0] <= lowest[:, None] + SAME_DEPTH)
    # in place of an arc that is no part of the bottom stands one that is
    own = np.where(bottom, np.arange(members.shape[1]), bottom.argmax(axis=1)[:, None])
    low, turned = np.take_along_axis(members, own, 1), np.take_along_axis(sweep, own, 1)
    flat = bottom.any(axis=1) & (bottom.all(axis=1) | covers(arcs, low, turned, centre[closed], gap))
    passes = np.abs(sweep).sum(axis=1) / FULL_TURN + 0.01
    states = [moves.states[k] for k in moves.state[arcs.row[members[:, 0]]].tolist()]
    columns = (  # in the order of a ring's fields
        map(tuple, arcs.row[members].tolist()),
        map(tuple, centre[closed].tolist()),
        one_each(radius[closed].tolist()),
        ["ccw" if turn > 0 else "cw" for turn in arcs.sweep[members[:, 0]].tolist()],
        one_each(zip(z.max(axis=(1, 2)).tolist(), lowest.tolist(), strict=True)),
        *([getattr(state, name) for state in states] for name in ("normal", "frame", "section")),
        passes.astype(np.int64).tolist(),
        [_FORMS[all_, any_] for all_, any_ in np.stack((level.all(axis=1), level.any(axis=1)), 1).tolist()],
        *(column.tolist() for column in (flat, arcs.known[members].all(axis=1))),
        one_each(tolerance[closed].tolist()),
    )
    yield from (Ring(*fields) for fields in zip(*columns, strict=True))


def _joint_circles(arcs: ArcColumns, members: Index) -> tuple[Floats, Floats]:
    """One circle for each group (r, k): the mean of the written centres, each as sure as its form leaves it.

    It runs through the arcs' ends, at their mean distance from that.
    """
    wander = arcs.wander[members]
    centre = _mean(arcs.centre[members], wander**-2.0)
    loose = wander > 4 * arcs.tolerance[members[:, :1]]
    for k in np.flatnonzero(loose.any(axis=1)).tolist():
        centre[k] = _loose_centre(arcs, members[k], loose[k])
    ends = np.concatenate([arcs.start[members], arcs.end[members]], axis=1)
    return centre, np.asarray(_away(ends, centre).mean(axis=1))


def _loose_centre(arcs: ArcColumns, members: Index, loose: NDArray[np.bool_]) -> Floats:
    """The centre of a group with R-form arcs whose own centres mean nothing, as those of semicircles.

    Semicircles that close each other say best where it is: half way between their ends. Where only loose arcs
    speak otherwise, their ends do.
    """
    tolerance, wander = arcs.tolerance[members[0]], arcs.wander[members]
    middles = (arcs.start[members] + arcs.end[members]) / 2
    chord = np.hypot(*(arcs.end[members] - arcs.start[members]).T)
    halves = loose & (np.hypot(*(arcs.centre[members] - middles).T) <= wander)
    # what is shorter goes less than half round
    halves &= chord >= chord[halves].max(initial=0.0) - tolerance / 2
    if halves.sum() > 1 and _astride((arcs.centre[members] - middles)[halves]):
        return np.asarray(middles[halves].mean(axis=0))
    ends = np.concatenate([arcs.start[members], arcs.end[members]])
    fitted = _through(ends, 2 * tolerance) if loose.all() else None
    return _mean(arcs.centre[members], wander**-2.0) if fitted is None else fitted


def _through(ends: Floats, apart: float) -> Floats | None:
    """The centre of the circle through the ends (k, 2); None where they are two places, or lie in line."""
    if len({(x, y) for x, y in np.round(ends / apart).tolist()}) <= 2:
        return None
    try:
        return np.array(geometric_circle(ends)[:2])
    except np.linalg.LinAlgError:
        return None


def _mean(points: Floats, weight: Floats) -> Floats:
    """The weighted mean of points (…, k, 2)."""
    weight = weight[..., None]
    return np.asarray((points * weight).sum(axis=-2) / weight.sum(axis=-2))


def _away(points: Floats, centre: Floats) -> Floats:
    """Distance of points (r, k, 2) from centres (r, 2)."""
    off = points - centre[:, None]
    return np.hypot(off[..., 0], off[..., 1])


def on_their_rings(moves: Moves, rings: Sequence[Ring]) -> Moves:
    """The moves with R-form arcs of rings lying on those, as if by I and J: their own centres are guesses."""
    arcs = moves.arcs
    if not arcs.r_form.any():
        return moves
    size = [len(ring.rows) for ring in rings]
    row = np.fromiter((row for ring in rings for row in ring.rows), np.int64, sum(size))
    at, is_arc = arcs.at(row)
    loose = np.flatnonzero(is_arc & arcs.r_form[at]) if len(row) else row
    if not len(loose):
        return moves
    of = np.repeat(np.arange(len(rings), dtype=np.int32), size)[loose]
    row, at = row[loose], at[loose]
    circles = np.array([(ring.normal, *ring.centre, ring.radius) for ring in rings])
    centre, radius, sweep = arcs.centre.copy(), arcs.radius.copy(), arcs.sweep.copy()
    r_form = arcs.r_form.copy()
    r_form[at] = False
    for first in range(0, len(row), _TOGETHER):
        part = slice(first, first + _TOGETHER)
        which, circle = at[part], circles[of[part]]
        axes = np.array(PLANE_AXES)[circle[:, 0].astype(np.intp)]
        centre[which], radius[which] = circle[:, 1:3], circle[:, 3]
        begin, end = (
            np.take_along_axis(points[row[part]], axes, 1) * GRAIN - circle[:, 1:3]
            for points in (moves.start, moves.end)
        )
        sweep[which] = _turned(begin, end, arcs.sweep[which])
    return replace(moves, arcs=replace(arcs, centre=centre, radius=radius, sweep=sweep, r_form=r_form))


def _astride(offsets: NDArray[np.float64]) -> bool:
    """Whether centres stand on both sides of their chords' middles: semicircles, whose R was rounded up."""
    # no product of matrices: the first one takes 32 MB
    along = (offsets * offsets[np.argmax((offsets**2).sum(axis=1))]).sum(axis=1)
    return bool(along.min() <= (1e-3 * MICROMETRE) ** 2)  # of an exact half, only rounding is left


def _fits(
    arcs: ArcColumns, members: Index, centre: Floats, radius: Floats, tolerance: Floats
) -> NDArray[np.bool_]:
    """Which arcs (r, k) lie on the joint circle of their group: by their ends, and by centre or R.

    R may be off by what rounding of R and of the ends explains, two units, or by what leaves the arc within
    the tolerance of the circle: a control cuts what is written, of halves two arcs that meet at an angle.
    """
    radius, tolerance = radius[:, None], tolerance[:, None]
    at_start, at_end = (np.abs(_away(p[members], centre) - radius) for p in (arcs.start, arcs.end))
    off = _away(arcs.centre[members], centre)
    wrong = np.abs(arcs.radius[members] - radius)
    explained = wrong <= 2 * arcs.unit[members].min(axis=1, keepdims=True) + _NOISE
    meant = np.where(arcs.r_form[members], explained | (strays(arcs, members, radius) <= tolerance), True)
    return np.asarray(
        (np.maximum(at_start, at_end) <= 1.5 * tolerance)
        & (off <= arcs.wander[members] + tolerance)
        & (wrong <= 2 * np.maximum(tolerance, arcs.slack(members)))
        & meant
    )


def sweeps_about(arcs: ArcColumns, members: Index, centre: Floats) -> Floats:
    """The arcs' sweeps seen from another centre than their own: an R-form semicircle's own is a guess."""
    begin, end = (p[members] - centre for p in (arcs.start, arcs.end))
    return _turned(begin, end, arcs.sweep[members])


def _turned(begin: Floats, end: Floats, sweep: Floats) -> Floats:
    """How far it is round a centre from one offset to another, as near to a sweep as whole turns allow."""
    turned = np.arctan2(end[..., 1], end[..., 0]) - np.arctan2(begin[..., 1], begin[..., 0])
    return np.asarray(turned + FULL_TURN * np.round((sweep - turned) / FULL_TURN))


def turn_of(moves: Moves, row: int, ring: Ring) -> Turn:
    """Which way one move of a ring goes round it."""
    motion = int(moves.motion[row])
    if motion in (Motion.CW, Motion.CCW):
        return "ccw" if motion == Motion.CCW else "cw"
    axes = list(PLANE_AXES[ring.normal])
    a, b = (point[row][axes] * GRAIN - ring.centre for point in (moves.start, moves.end))
    return "ccw" if a[0] * b[1] > a[1] * b[0] else "cw"


def covers(arcs: ArcColumns, members: Index, sweep: Floats, centre: Floats, gap: Floats) -> NDArray[np.bool_]:
    """Whether arcs (r, k) of such sweeps about the centres leave no gap of a circle wider than `gap` (r,)."""
    offset = arcs.start[members] - centre[:, None]
    begin = np.arctan2(offset[..., 1], offset[..., 0])
    begin = np.where(sweep < 0, begin + sweep, begin) % FULL_TURN
    # what runs past a full turn serves the beginning
    low = np.concatenate([begin - FULL_TURN, begin], axis=1)
    order = np.argsort(low, axis=1)
    high = low + np.abs(np.concatenate([sweep, sweep], axis=1))
    low, high = (np.take_along_axis(column, order, 1) for column in (low, high))
    reach = np.maximum.accumulate(high, axis=1)
    joined = (low[:, 1:] <= reach[:, :-1] + gap[:, None]) | (low[:, 1:] <= 0)
    round_ = (reach[:, -1] >= FULL_TURN - gap) & joined.all(axis=1)
    return np.asarray(round_ | (np.abs(sweep).max(axis=1) >= FULL_TURN - gap))

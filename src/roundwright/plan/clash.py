"""What the displaced path would do to its surroundings: walls lost, neighbours met, cuts into air."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from math import hypot

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from roundwright.find import Feature
from roundwright.find.states import by_state
from roundwright.plan.plan import ArcTargets, Reason
from roundwright.plan.shift import Obstacle, Shift
from roundwright.read.distinct import distinct
from roundwright.trace.moves import PLANE_AXES, Arcs, Moves, with_places
from roundwright.units import MICROMETRE, PER_UNIT

Census = Callable[[Moves], tuple[Feature, ...]]
#: of a wall's samples; one sample is 1/180.
_LOST_SHARE = 0.012
#: farther apart than this (mm) no two walls can meet, however they are corrected.
_NEAR = 1.0
#: pairs of walls that are looked at together.
_MOST_PAIRS = 1 << 16


def displaced(moves: Moves, shift: Shift) -> Moves:
    """The moves as they will be: new ends and circles, before any rounding to written decimals."""
    row = shift.row
    step = np.rint(shift.vector * PER_UNIT).astype(np.int64)
    follows = np.minimum(row + 1, len(moves) - 1)
    frames = (by_state(moves, rows, lambda state: state.frame) for rows in (row, follows))
    joined = (follows > row) & np.equal(*frames)
    begins = follows[joined]
    rows = distinct(np.concatenate((row, begins)))
    start, end = moves.start[rows], moves.end[rows]
    end[np.searchsorted(rows, row)] += step
    start[np.searchsorted(rows, begins)] += step[joined]
    start, end = with_places(moves, rows, start, end)
    return replace(moves, start=start, end=end, arcs=_displaced_arcs(moves, shift.arcs, start, end))


def _displaced_arcs(moves: Moves, circles: ArcTargets, start: np.ndarray, end: np.ndarray) -> Arcs:
    arcs = moves.arcs
    centre, radius, sweep = arcs.centre.copy(), arcs.radius.copy(), arcs.sweep.copy()
    row = circles.row
    k, _ = arcs.at(row)
    normal = by_state(moves, row, lambda state: state.normal)
    axes = np.array(PLANE_AXES)[normal.astype(np.intp)]
    centre[k], radius[k] = circles.centre, circles.radius
    old = _angles(moves.end, row, axes, arcs.centre[k]) - _angles(moves.start, row, axes, arcs.centre[k])
    new = _angles(end, row, axes, centre[k]) - _angles(start, row, axes, centre[k])
    sweep[k] += (new - old + np.pi) % (2 * np.pi) - np.pi
    return replace(arcs, centre=centre, radius=radius, radius_end=radius, sweep=sweep)


def _angles(points: np.ndarray, row: np.ndarray, axes: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Direction (k,) in which points of the rows stand from their centres (k, 2), in the plane's axes."""
    offset = points[row[:, None], axes] / PER_UNIT - centre
    return np.asarray(np.arctan2(offset[:, 1], offset[:, 0]))


class Aim(Struct, frozen=True):
    """A corrected feature and the diameter that is planned for it, mm."""

    feature: Feature
    diameter: float


def clashes(
    before: Sequence[Feature],
    after: Sequence[Feature],
    aims: Sequence[Aim],
    touched: Mapping[str, Collection[int]],
) -> list[Obstacle]:
    """Compare the features found on the displaced path with those found before.

    `touched` are the rows that move with each planned feature.
    """
    # a closing pass is sure to be found again; a lead that comes down beside the ring may join it or leave
    found = {row: feature for feature in after for row in feature.wall.rows}
    planned = {aim.feature.id: aim for aim in aims}
    owner = {row: f for f in before for ring in (f.wall, *f.clearing) for row in ring.rows}
    obstacles: list[Obstacle] = []
    for old in before:
        new = found.get(old.wall.rows[-1])
        if old.id in planned:
            obstacles += _kept(planned[old.id], new, owner, touched.get(old.id, ()))
        elif new is None or new.side != old.side:
            obstacles += [_unsettles(aim.feature, old) for aim in aims if _reaches(aim.feature, old)]
        elif old.fault == "" and _cut_into(old, new):
            obstacles += [_meets(aim.feature, old) for aim in aims if _reaches(aim.feature, old)]
    return _meetings(before, planned) + obstacles


def _kept(
    aim: Aim, new: Feature | None, owner: Mapping[int, Feature], own: Collection[int]
) -> list[Obstacle]:
    """Whether the planned ring is still the one that leaves the surface, and as much of it as before.

    `owner` tells whose ring each row was part of.
    """
    old = aim.feature
    if new is None or new.fault or new.side != old.side or new.diameter is None:
        return [Obstacle(old.id, "would-cut-air", "the moved ring would no longer leave the surface")]
    joined = {owner[row].id for row in set(new.wall.rows).difference(old.wall.rows) if row in owner}
    if joined:
        why = f"with the program's decimals the moved ring could no longer be told from one of {min(joined)}"
        return [Obstacle(old.id, "would-cut-air", why)]
    if abs(new.diameter - aim.diameter) > MICROMETRE:
        return [Obstacle(old.id, "would-cut-air", "the moved ring would not come out at the planned size")]
    if _cut_into(old, new, own):
        return [Obstacle(old.id, "would-collide", "another cut would then reach into its wall")]
    return []


def _cut_into(old: Feature, new: Feature, own: Collection[int] = ()) -> bool:
    """Whether less of a wall stands than before, or a move crosses it that did not, its `own` leads aside."""
    return new.survives < old.survives - _LOST_SHARE or bool(set(new.crossed).difference(old.crossed, own))


def _meets(mover: Feature, other: Feature) -> Obstacle:
    return Obstacle(mover.id, "would-collide", f"it would then reach into the wall of {other.id}")


def _unsettles(mover: Feature, other: Feature) -> Obstacle:
    why = f"{other.id} beside it, {other.side} as it is, would no longer be read so"
    settle = f"; settle that one with --side {other.id}=hole or --side {other.id}=boss"
    return Obstacle(mover.id, "would-collide", why + (settle if other.side == "unknown" else ""))


def _reaches(a: Feature, b: Feature) -> bool:
    if a.frame != b.frame or a.wall.normal != b.wall.normal:
        return False
    return _apart(a, b) <= _extent(a) + _extent(b) + _NEAR


def _extent(feature: Feature) -> float:
    return feature.wall.radius + (feature.cutter.diameter if feature.cutter else 0.0)


def _apart(a: Feature, b: Feature) -> float:
    return hypot(a.wall.centre[0] - b.wall.centre[0], a.wall.centre[1] - b.wall.centre[1])


def _meetings(before: Sequence[Feature], planned: Mapping[str, Aim]) -> list[Obstacle]:
    """Walls that met no other before and would meet one now: circles compared exactly."""
    sized = [f for f in before if f.diameter is not None and f.wall.known]
    sized.sort(key=lambda f: f.wall.centre[0] - _extent(f))
    obstacles: list[Obstacle] = []
    for one, other in _neighbours(sized, planned):
        a, b = sized[one], sized[other]
        if _reaches(a, b) and _will_meet(a, b, planned):
            reason: Reason = "would-collide"
            for mine, met in ((a, b), (b, a)):
                if mine.id in planned:
                    why = f"its wall would then meet that of {met.id}"
                    obstacles.append(Obstacle(mine.id, reason, why))
    return obstacles


def _neighbours(features: Sequence[Feature], planned: Mapping[str, Aim]) -> Iterator[tuple[int, int]]:
    """Pairs of features, by place, one of them planned, whose squares come near and whose walls may meet.

    The features are sorted by their least x.
    """
    x, y = np.array([f.wall.centre for f in features]).reshape(-1, 2).T.copy()
    extent = np.array([_extent(f) for f in features])
    wall = np.array(
        [(planned[f.id].diameter if f.id in planned else f.diameter or 0.0) / 2 for f in features]
    )
    moves = np.array([f.id in planned for f in features], np.bool_)
    low = x - extent
    last = np.searchsorted(low, x + extent + _NEAR, side="right")
    behind = last - np.arange(len(features)) - 1  # those that come near in x
    runs = np.flatnonzero(np.diff(np.cumsum(behind) // _MOST_PAIRS)) + 1
    for part in np.split(np.arange(len(features)), runs):
        a = np.repeat(part, behind[part])
        b = np.arange(len(a)) + np.repeat(part + 1 - (np.cumsum(behind[part]) - behind[part]), behind[part])
        close = (np.abs(y[b] - y[a]) <= extent[b] + extent[a] + _NEAR) & (moves[b] | moves[a])
        a, b = a[close], b[close]
        apart = np.hypot(x[b] - x[a], y[b] - y[a])
        meet = np.abs(wall[b] - wall[a]) <= apart + MICROMETRE  # else one lies within the other
        meet &= apart <= wall[b] + wall[a] + MICROMETRE
        yield from zip(a[meet].tolist(), b[meet].tolist(), strict=True)


def _will_meet(a: Feature, b: Feature, planned: Mapping[str, Aim]) -> bool:
    apart = _apart(a, b)
    old = [(f.diameter or 0.0) / 2 for f in (a, b)]
    new = [planned[f.id].diameter / 2 if f.id in planned else r for f, r in zip((a, b), old, strict=True)]
    return not _crossing(apart, *old) and _crossing(apart, *new)


def _crossing(apart: float, r: float, s: float) -> bool:
    return abs(r - s) <= apart <= r + s

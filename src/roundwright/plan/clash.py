"""What the displaced path would do to its surroundings: walls lost, neighbours met, cuts into air."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from math import hypot, isnan
from typing import Protocol

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find import Feature, Ring
from roundwright.find.states import by_state
from roundwright.plan.plan import ArcTargets, Reason
from roundwright.plan.shift import Obstacle, Shift
from roundwright.read.distinct import distinct
from roundwright.trace.moves import PLANE_AXES, Arcs, Moves, with_places
from roundwright.units import MICROMETRE, PER_UNIT

Floats = NDArray[np.float64]
#: of a wall's samples; one sample is 1/180.
_LOST_SHARE = 0.012
#: farther apart than this (mm) no two walls can meet, however they are corrected.
_NEAR = 1.0
#: pairs of walls that are looked at together.
_MOST_PAIRS = 1 << 16


class Census(Protocol):
    """Finds the features of moves, told, feature by feature, whose leads were free of doubt before."""

    def __call__(self, moves: Moves, sided: Sequence[int]) -> Sequence[Feature]:
        """The features in the order of their first moves."""


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


class _Owners(Struct, frozen=True, eq=False):
    """Whose each row of some rings is: `place` (r,) is that of its feature, `row` (r,) ascends."""

    row: NDArray[np.int64]
    place: NDArray[np.int64]

    @classmethod
    def of(cls, rings: Iterable[tuple[int, Ring]]) -> _Owners:
        """Of rings, each with the place of its feature."""
        pairs = np.fromiter((one for k, ring in rings for row in ring.rows for one in (row, k)), np.int64)
        row, place = pairs.reshape(-1, 2).T
        order = np.argsort(row, kind="stable")
        return cls(row[order], place[order])

    def at(self, row: int) -> int | None:
        """The place of the feature that a row belongs to; None where it is nobody's."""
        at = int(self.row.searchsorted(row, side="right")) - 1
        return int(self.place[at]) if at >= 0 and self.row[at] == row else None


def clashes(
    before: Sequence[Feature],
    after: Sequence[Feature],
    planned: Floats,
    touched: Mapping[str, Collection[int]],
) -> list[Obstacle]:
    """Compare the features found on the displaced path with those found before.

    `planned` (f,) are the diameters that those before are corrected to, mm, NaN where they are not; `touched`
    are the rows that move with each of them.
    """
    # a closing pass is sure to be found again; a lead that comes down beside the ring may join it or leave
    found = _Owners.of((k, feature.wall) for k, feature in enumerate(after))
    owner = _Owners.of((k, ring) for k, f in enumerate(before) for ring in (f.wall, *f.clearing))
    obstacles: list[Obstacle] = []
    for old, diameter in zip(before, planned.tolist(), strict=True):
        place = found.at(old.wall.rows[-1])
        new = None if place is None else after[place]
        if not isnan(diameter):
            joined = _joined(old, new, owner)
            obstacles += _kept(old, diameter, new, [before[k].id for k in joined], touched.get(old.id, ()))
        elif new is None or new.side != old.side:
            obstacles += [_unsettles(mover, old) for mover in _movers(before, planned, old)]
        elif old.fault == "" and _cut_into(old, new):
            obstacles += [_meets(mover, old) for mover in _movers(before, planned, old)]
    return _meetings(before, planned) + obstacles


def _movers(before: Sequence[Feature], planned: Floats, old: Feature) -> Iterator[Feature]:
    """The features that are corrected and come near an old one."""
    movers = (before[k] for k in np.flatnonzero(~np.isnan(planned)).tolist())
    return (mover for mover in movers if _reaches(mover, old))


def _joined(old: Feature, new: Feature | None, owner: _Owners) -> list[int]:
    """The places of those whose rows the new wall has, and the old one has not."""
    rows = set(new.wall.rows).difference(old.wall.rows) if new else ()
    places = (owner.at(row) for row in rows)
    return [place for place in places if place is not None]


def _kept(
    old: Feature, diameter: float, new: Feature | None, joined: Collection[str], own: Collection[int]
) -> list[Obstacle]:
    """Whether the planned ring is still the one that leaves the surface, and as much of it as before.

    `joined` are the features whose rings it has become one with.
    """
    if new is None or new.fault or new.side != old.side or new.diameter is None:
        return [Obstacle(old.id, "would-cut-air", "the moved ring would no longer leave the surface")]
    if joined:
        why = f"with the program's decimals the moved ring could no longer be told from one of {min(joined)}"
        return [Obstacle(old.id, "would-cut-air", why)]
    if abs(new.diameter - diameter) > MICROMETRE:
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


class _Walls(Struct, frozen=True, eq=False):
    """Walls (w,) of known sizes and places, by their least x; mm. `place` is that of each one's feature."""

    place: NDArray[np.intp]
    x: Floats
    y: Floats
    extent: Floats
    radius: Floats
    planned: Floats  # the radius that it will have
    moves: NDArray[np.bool_]

    @classmethod
    def of(cls, features: Sequence[Feature], planned: Floats) -> _Walls:
        """Those of some features that have a size."""
        sized = ((k, f) for k, f in enumerate(features) if f.diameter is not None and f.wall.known)
        numbers = (one for k, f in sized for one in (k, *f.wall.centre, _extent(f), f.diameter or 0.0))
        table = np.fromiter(numbers, np.float64).reshape(-1, 5)
        table = table[np.argsort(table[:, 1] - table[:, 3], kind="stable")]
        place = table[:, 0].astype(np.intp)
        _, x, y, extent, diameter = table.T.copy()
        moves = ~np.isnan(planned[place])
        will = np.where(moves, planned[place], diameter)
        return cls(place, x, y, extent, diameter / 2, will / 2, moves)

    def near(self) -> Iterator[tuple[int, int]]:
        """Pairs of which one moves, whose squares come near and whose walls may meet."""
        low = self.x - self.extent
        last = np.searchsorted(low, self.x + self.extent + _NEAR, side="right")
        behind = last - np.arange(len(low)) - 1  # those that come near in x
        runs = np.flatnonzero(np.diff(np.cumsum(behind) // _MOST_PAIRS)) + 1
        for part in np.split(np.arange(len(low)), runs):
            a = np.repeat(part, behind[part])
            past = np.cumsum(behind[part]) - behind[part]
            b = np.arange(len(a)) + np.repeat(part + 1 - past, behind[part])
            close = np.abs(self.y[b] - self.y[a]) <= self.extent[b] + self.extent[a] + _NEAR
            close &= self.moves[b] | self.moves[a]
            a, b = a[close], b[close]
            apart = np.hypot(self.x[b] - self.x[a], self.y[b] - self.y[a])
            # else one lies within the other
            meet = np.abs(self.planned[b] - self.planned[a]) <= apart + MICROMETRE
            meet &= apart <= self.planned[b] + self.planned[a] + MICROMETRE
            yield from zip(a[meet].tolist(), b[meet].tolist(), strict=True)

    def will_meet(self, one: int, other: int) -> bool:
        """Whether two that do not cross will cross, compared exactly."""
        apart = hypot(*(float(at[one] - at[other]) for at in (self.x, self.y)))
        was, becomes = ((float(r[one]), float(r[other])) for r in (self.radius, self.planned))
        return not _crossing(apart, *was) and _crossing(apart, *becomes)


def _meetings(before: Sequence[Feature], planned: Floats) -> list[Obstacle]:
    """Walls that met no other before and would meet one now: circles compared exactly."""
    walls = _Walls.of(before, planned)
    obstacles: list[Obstacle] = []
    for one, other in walls.near():
        a, b = (before[k] for k in walls.place[[one, other]].tolist())
        if _reaches(a, b) and walls.will_meet(one, other):
            reason: Reason = "would-collide"
            for mine, met, moves in ((a, b, walls.moves[one]), (b, a, walls.moves[other])):
                if moves:
                    why = f"its wall would then meet that of {met.id}"
                    obstacles.append(Obstacle(mine.id, reason, why))
    return obstacles


def _crossing(apart: float, r: float, s: float) -> bool:
    return abs(r - s) <= apart <= r + s

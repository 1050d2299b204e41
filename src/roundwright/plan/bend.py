"""What else the displaced path would cut or leave: work beside a circle that is no lead must not bend."""

from __future__ import annotations

from array import array
from collections.abc import Collection, Mapping, Sequence

import numpy as np
from msgspec import Struct, field
from numpy.typing import NDArray

from roundwright.find import Feature, Ring
from roundwright.find.cuts import Cuts, gather_cuts, near, rows_by_frame, swept
from roundwright.find.ring import SAME_DEPTH
from roundwright.find.zone import Zones, moves_near
from roundwright.packed import Packed
from roundwright.plan.shift import Obstacle, Shift
from roundwright.read.distinct import distinct
from roundwright.settings import Cutter
from roundwright.trace.moves import PLANE_AXES, Motion, Moves
from roundwright.units import GRAIN, MICROMETRE

#: points along a move; a turn of a clearing ring may touch a straight wall but briefly.
_SHARE, _CLOSE = np.linspace(0.0, 1.0, 33), np.linspace(0.0, 1.0, 361)
#: an edge that moves by no more stays where it is (mm).
_STILL = 2 * MICROMETRE
#: farther beyond its circle than so many diameters of the cutter no cut is a lead.
_BESIDE = 2.0
#: plain numbers: an enumeration's members are slow to look up, and here it is done move by move.
_LINE = int(Motion.LINE)
_CUTTING = (_LINE, int(Motion.CW), int(Motion.CCW))

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Rows = NDArray[np.intp]


class _Sweep(Struct):
    """The moves of one state of the path, and what they sweep, by frame and plane."""

    moves: Moves
    cutters: Mapping[int, Cutter | None]
    contour: bool  # a compensated path is the contour itself
    touched: NDArray[np.intp]  # the moves (sorted) whose surroundings are asked about
    beyond: float  # how far from them, mm
    cuts: dict[tuple[int, int], Cuts] = field(default_factory=dict)
    rows: dict[int, Mapping[int, NDArray[np.intp]]] = field(default_factory=dict)

    def covers(self, points: Floats, depth: Floats, ring: Ring, without: Collection[int] = ()) -> Bools:
        """Which points (n, 2) in the ring's frame and plane are swept as deep as `depth` (n,)."""
        key = ring.frame, ring.normal
        if key not in self.cuts:
            if ring.normal not in self.rows:
                zones = Zones.along(self.moves, self.touched, ring.normal, self.beyond)
                near_them = moves_near(self.moves, ring.normal, zones)
                self.rows[ring.normal] = rows_by_frame(self.moves, ring.normal, near_them)
            rows = self.rows[ring.normal][ring.frame]
            self.cuts[key] = gather_cuts(self.moves, self.cutters, rows, ring.normal, contour=self.contour)
        cuts = self.cuts[key]
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        which = near(cuts, (float(middle[0]), float(middle[1])), float(np.ptp(points, axis=0).max()) / 2)
        if without:
            which = which[~np.isin(cuts.row[which], list(without))]
        return swept(cuts, which, points, depth)


def bends(
    moves: Moves, after: Moves, shift: Shift, features: Sequence[Feature], *, contour: bool
) -> list[Obstacle]:
    """Features for which the path would change a surface that is not theirs.

    `after` are the moves as `shift` displaces them. Leads and links may sweep waste beside their circles;
    what is farther off is other work, which must neither cut what it did not nor leave what it cut. Clearing
    rings must not reach beyond a surface that another cut leaves. `contour` tells that a compensated path is
    the contour itself.
    """
    cutters = {f.wall.section: f.cutter for f in features}
    moved = Packed(Feature, (f for f in features if f.id in shift.touched))
    if not moved:
        return []
    touched: list[Rows] = []
    normal, walls = array("q"), array("q")
    cleared: dict[int, Ring] = {}
    for feature in moved:
        touched.append(shift.touched[feature.id])
        normal.append(feature.wall.normal)
        walls.extend(feature.wall.rows)
        cleared.update((row, ring) for ring in feature.clearing for row in ring.rows)
    owner, rows, *spans = _owners(touched)
    normals = np.array(normal, np.intp)[owner[spans[0]]]
    asked = _going_aside(moves, after, rows, normals) & ~np.isin(rows, walls)
    asked |= np.isin(rows, list(cleared))
    before, behind = _sweeps(moves, after, rows, cutters, contour=contour)
    obstacles = []
    for row, first, past in zip(*(column[asked].tolist() for column in (rows, *spans)), strict=True):
        own = [moved[k] for k in owner[first:past].tolist()]
        if row in cleared:
            if _reaches_on(before, behind, row, cleared[row], own[0]):
                obstacles += [_obstacle(f, moves, row, clears=True) for f in own]
        elif _bent(before, behind, row, own):
            obstacles += [_obstacle(f, moves, row, clears=False) for f in own]
    return obstacles


def _owners(touched: Sequence[Rows]) -> tuple[Rows, Rows, Rows, Rows]:
    """Whose rows these are (p,), row by row; the rows, and where the owners of each begin and end there."""
    pairs = np.concatenate(touched)
    order = np.argsort(pairs, kind="stable")
    owner = np.repeat(np.arange(len(touched)), [len(rows) for rows in touched])[order]
    rows = distinct(pairs)
    begin, end = np.searchsorted(pairs[order], rows), np.searchsorted(pairs[order], rows, "right")
    return owner, rows, begin, end


def _sweeps(
    moves: Moves, after: Moves, touched: Rows, cutters: Mapping[int, Cutter | None], *, contour: bool
) -> tuple[_Sweep, _Sweep]:
    """What is swept about these moves before and behind their displacement."""
    moved = np.abs(after.end[touched] - moves.end[touched]).max(initial=0) * GRAIN
    # the edge of a compensated cut lies a cutter's diameter beside its contour, as does what else cuts there
    widest = max((cutter.diameter for cutter in cutters.values() if cutter), default=0.0)
    beyond = 2 * widest + float(moved) + 1.0
    before, behind = (_Sweep(m, cutters, contour, touched, beyond) for m in (moves, after))
    return before, behind


def _obstacle(feature: Feature, moves: Moves, row: int, *, clears: bool) -> Obstacle:
    line = int(moves.line[row]) + 1
    why = (
        f"its clearing pass in line {line} would reach into the surface of another cut; say --spread wall"
        if clears
        else f"the cut in line {line} that meets it is other work, which would bend"
    )
    return Obstacle(feature.id, "would-collide", why)


def _bent(before: _Sweep, behind: _Sweep, row: int, own: Sequence[Feature]) -> bool:
    """Whether a lead, a link or other work changes a surface far from its circles."""
    moves, cutter = before.moves, own[0].cutter
    ring = own[0].wall
    if cutter is None:
        return False
    edges = _edges(before, row, cutter.diameter)
    if all(_above(moves, row, feature) for feature in own):
        return False
    old, new = (_path(m, row, ring.normal, _SHARE) for m in (moves, behind.moves))
    aside = np.abs(((new - old) * _normals(old)).sum(axis=1)) > _STILL
    if not aside.any():
        return False
    z = _heights(moves, row, ring.normal, _SHARE)
    for path, other in ((new, before), (old, behind)):
        for off in edges:
            edge = path + off * _normals(path)
            far = aside & ~np.logical_or.reduce([_beside(edge, feature) for feature in own])
            if far.any() and not other.covers(edge[far], z[far], ring).all():
                return True
    return False


def _going_aside(moves: Moves, after: Moves, row: Rows, normal: Rows) -> Bools:
    """Which of these rows (k,), each seen along a normal (k,), are cuts that may go to a side.

    Of straight ones those that do so with either end; most leads only grow or shrink.
    """
    axes = np.array(PLANE_AXES)[normal]
    old, new = (
        [np.take_along_axis(p[row], axes, 1) * GRAIN for p in (m.start, m.end)] for m in (moves, after)
    )
    along = old[1] - old[0]
    steps = (b - a for a, b in zip(old, new, strict=True))
    off = [np.abs(dy * along[:, 0] - dx * along[:, 1]) for dx, dy in (step.T for step in steps)]
    aside = np.maximum(*off) > _STILL * np.hypot(*along.T)
    motion = moves.motion[row]
    return np.asarray(np.isin(motion, _CUTTING) & (aside | (motion != _LINE)))


def _edges(sweep: _Sweep, row: int, diameter: float) -> tuple[float, ...]:
    """How far to the left of its path a move's two edges lie, mm; none where compensation goes on or off."""
    moves = sweep.moves
    states = [moves.states[int(moves.state[k])].compensation for k in (max(row - 1, 0), row)]
    if states[0] != states[1]:
        return ()
    middle = {41: diameter / 2, 42: -diameter / 2}.get(states[1], 0.0) if sweep.contour else 0.0
    reach = diameter / 2 - MICROMETRE
    return middle + reach, middle - reach


def _reaches_on(before: _Sweep, behind: _Sweep, row: int, ring: Ring, feature: Feature) -> bool:
    """Whether a clearing ring's far edge goes on from a surface that another cut leaves as well."""
    moves, cutter = before.moves, feature.cutter
    if cutter is None or feature.side != "boss" or _compensated(moves, row):
        return False
    centre = np.array(ring.centre)
    path, new = (_path(m, row, ring.normal, _CLOSE) - centre for m in (moves, behind.moves))
    length, outwards = np.hypot(*path.T), np.hypot(*new.T) - np.hypot(*path.T)
    reach = cutter.diameter / 2 - MICROMETRE
    edge, beyond = (
        p / length[:, None] * r[:, None] + centre
        for p, r in (
            (path, length + reach),
            (path, length + reach + outwards),
        )
    )
    z = _heights(moves, row, ring.normal, _CLOSE)
    cut = before.covers(beyond, z, ring)
    mine = {r for one in (feature.wall, *feature.clearing) for r in one.rows}
    return bool(((outwards > _STILL) & ~cut & before.covers(edge, z, ring, mine)).any())


def _compensated(moves: Moves, row: int) -> bool:
    return moves.states[int(moves.state[row])].compensation != 40


def _above(moves: Moves, row: int, feature: Feature) -> bool:
    """Whether the move is travel at feed: at the top of the helix, or above the ring."""
    n, rows = feature.wall.normal, list(feature.wall.rows)
    highest = np.maximum(moves.start[rows, n], moves.end[rows, n])
    flat = np.abs(moves.start[rows, n] - moves.end[rows, n]) * GRAIN <= SAME_DEPTH
    top = highest.max() * GRAIN
    begins_flat = bool((flat & (highest * GRAIN >= top - SAME_DEPTH)).any())
    lowest = min(moves.start[row, n], moves.end[row, n]) * GRAIN
    return bool(lowest > top + (SAME_DEPTH if begins_flat else -SAME_DEPTH))


def _beside(points: Floats, feature: Feature) -> Bools:
    """Which points (n, 2) lie where a lead of the feature may run."""
    diameter = feature.cutter.diameter if feature.cutter else 0.0
    most = feature.wall.radius + (_BESIDE + 0.5) * diameter
    return np.asarray(np.hypot(*(points - feature.wall.centre).T) <= most)


def _heights(moves: Moves, row: int, normal: int, share: Floats) -> Floats:
    start, end = moves.start[row, normal] * GRAIN, moves.end[row, normal] * GRAIN
    return np.asarray(start + share * (end - start))


def _path(moves: Moves, row: int, normal: int, share: Floats) -> Floats:
    """Points (n, 2) along a move, mm."""
    axes = list(PLANE_AXES[normal])
    start, end = (p[row][axes] * GRAIN for p in (moves.start, moves.end))
    if int(moves.motion[row]) == _LINE or moves.states[int(moves.state[row])].normal != normal:
        return np.asarray(start + share[:, None] * (end - start))
    k = int(np.searchsorted(moves.arcs.row, row))
    out = start - moves.arcs.centre[k]
    angle = np.arctan2(out[1], out[0]) + share * moves.arcs.sweep[k]
    around = np.column_stack([np.cos(angle), np.sin(angle)])
    return np.asarray(moves.arcs.centre[k] + np.hypot(*out) * around)


def _normals(path: Floats) -> Floats:
    """Unit vectors (n, 2) square to the path."""
    along = np.gradient(path, axis=0)
    length = np.hypot(*along.T)[:, None]
    unit = along / np.where(length > 0, length, 1.0)
    return np.column_stack([-unit[:, 1], unit[:, 0]])

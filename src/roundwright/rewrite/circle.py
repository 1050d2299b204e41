"""One arc as a control will compute it from the numbers that are written, against the planned circle."""

from __future__ import annotations

from math import atan2, hypot, isqrt, pi, radians, sqrt

from msgspec import Struct

from roundwright.plan.plan import ArcTarget
from roundwright.rewrite.round import Grid, scale
from roundwright.units import MICROMETRE

#: how far a written circle may be from the planned one, mm (contract, invariant 2).
TOLERANCE_MM, TOLERANCE_INCH = 1.0 * MICROMETRE, 2.6 * MICROMETRE
#: no arc's sweep may change by more (contract, invariant 3).
LARGEST_TURN = radians(1.0)
#: noise of floating point in lengths, mm.
_NOISE = 1e-8

Point = tuple[float, float]
Counts = tuple[int, int]


class PlannedArc(Struct, frozen=True):
    """A move whose circle is planned. Pairs are in the plane's axes.

    `row` is the first move that is such an arc, where several are: in all else they are the same. `circle`
    is one number for all arcs on the same planned circle. `tolerance` is how far the written circle may be
    from the planned one, mm. `old_start` and `old_end` are counts of 1e-8 mm, `old_centre` mm, as read.
    `aims` are where the plan wants start and end, mm; `mismatch` is how much the radii there differ as
    read, mm; `major` tells whether R is negative.
    """

    row: int
    circle: int
    tolerance: float
    target: ArcTarget
    inch: bool
    axes: tuple[int, int]
    old_start: Counts
    old_end: Counts
    old_centre: Point
    aims: tuple[Point, Point]
    ccw: bool
    sweep: float
    closed: bool
    mismatch: float
    r_form: bool
    major: bool

    def wanted(self, at: int) -> float:
        """Planned distance from the centre at the start (0) or end (1), mm."""
        return hypot(self.aims[at][0] - self.target.centre[0], self.aims[at][1] - self.target.centre[1])

    @property
    def steep(self) -> bool:
        """Whether rounding moves an R form's centre far: the chord is nearly a diameter."""
        if not self.r_form:
            return False
        (a, b), (c, d) = self.aims
        return hypot(c - a, d - b) > 1.9 * self.target.radius

    @property
    def diametral(self) -> bool:
        """Whether the planned ends are opposite each other."""
        (a, b), (c, d) = self.aims
        u, v = self.target.centre
        return hypot(a + c - 2 * u, b + d - 2 * v) <= self.tolerance


def swept(centre: Point, start: Point, end: Point, ccw: bool) -> float:
    """The signed angle from start to end about a centre, of one turn at most."""
    a, b = start[0] - centre[0], start[1] - centre[1]
    c, d = end[0] - centre[0], end[1] - centre[1]
    turn = 1.0 if ccw else -1.0
    angle = turn * atan2(a * d - b * c, a * c + b * d)
    return turn * (angle if angle > 0 else angle + 2 * pi)


class WrittenArc(Struct, frozen=True):
    """An arc's centre and radius as they will be written, in counts of its block's unit."""

    centre: Counts
    radius: int  # R form only; else 0


def write_arc(arc: PlannedArc, grid: Grid, start: Counts, end: Counts, slack: float) -> WrittenArc | str:
    """The arc written on this grid between these ends (counts of its unit), or what promise that breaks.

    `slack` is how much the radii at start and end may differ, mm.
    """
    if (start == end) != arc.closed:
        return "it would begin or cease to be a full circle"
    centre = (grid.nearest(arc.target.centre[0]), grid.nearest(arc.target.centre[1]))
    if arc.r_form:
        radius = _radius(arc, grid, start, end)
        return "its R would put its centre elsewhere" if radius is None else WrittenArc(centre, radius)
    size = scale(arc.inch)
    middle = (centre[0] * size, centre[1] * size)
    ends = [(u * size, v * size) for u, v in (start, end)]
    radii = [hypot(u - middle[0], v - middle[1]) for u, v in ends]
    off = [abs(r - arc.wanted(at)) for at, r in enumerate(radii)]
    apart = hypot(middle[0] - arc.target.centre[0], middle[1] - arc.target.centre[1])
    if max(*off, apart) > arc.tolerance + _NOISE:
        return "its radius or centre would be off"
    if abs(radii[0] - radii[1]) > max(slack, arc.mismatch) + _NOISE:
        return "its radii at start and end would differ"
    if not (arc.closed or _keeps_sweep(arc, swept(middle, ends[0], ends[1], arc.ccw))):
        return "it would turn by a degree more or less than as read: the program gives it too few decimals"
    return WrittenArc(centre, 0)


def _keeps_sweep(arc: PlannedArc, sweep: float) -> bool:
    """Whether the sweep is the old one within bounds, whole turns aside."""
    turns = int((abs(arc.sweep) - 1e-9) / (2 * pi)) * 2 * pi
    return abs(abs(sweep) + turns - abs(arc.sweep)) <= LARGEST_TURN


def _radius(arc: PlannedArc, grid: Grid, start: Counts, end: Counts) -> int | None:
    """The R whose circle through these ends is nearest to the planned one; None where none is near enough.

    R is never shorter than half the chord; which side its centre is on: NIST IR 6556, 3.5.3.1.
    """
    chord = (end[0] - start[0], end[1] - start[1])
    square = chord[0] ** 2 + chord[1] ** 2
    if not square:
        return None
    shortest = -(-(isqrt(square - 1) + 1) // (2 * grid.step)) * grid.step
    nearest = grid.nearest(arc.target.radius)
    near = {max(nearest + k * grid.step, shortest) for k in (-1, 0, 1)} | {shortest}
    size = scale(arc.inch)
    best: tuple[float, int] | None = None
    for radius in sorted(near):
        height = sqrt(max(4 * radius**2 - square, 0)) / 2
        side = (1 if arc.ccw != arc.major else -1) * height / sqrt(square)
        u = ((start[0] + end[0]) / 2 - side * chord[1]) * size
        v = ((start[1] + end[1]) / 2 + side * chord[0]) * size
        apart = hypot(u - arc.target.centre[0], v - arc.target.centre[1])
        off = abs(radius * size - arc.target.radius)
        if max(apart, off) <= arc.tolerance + _NOISE and (best is None or max(apart, off) < best[0]):
            best = (max(apart, off), radius)
    return best[1] if best else None

"""The arcs that rings are made of, in columns, with how far the written numbers leave each open."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.states import by_state
from roundwright.trace.moves import PLANE_AXES, ArcFault, Moves
from roundwright.units import GRAIN, GRAIN_DIGITS, INCH, MICROMETRE

#: what is written more coarsely cannot be told apart safely, mm.
COARSEST = 25 * MICROMETRE
#: the unit of the last of so many decimals.
_UNITS = 10.0 ** -np.arange(GRAIN_DIGITS + 1.0)

Floats = NDArray[np.float64]
Index = NDArray[np.intp]


def sameness(moves: Moves, *, inch: bool) -> float:
    """Tolerance in mm within which two positions are the same: two units of the finest decimal.

    Never under 1 µm nor over 25 µm: what is rounded more coarsely cannot be told apart safely.
    """
    unit = 10.0**-moves.finest * (INCH if inch else 1.0)
    return float(np.clip(2 * unit, MICROMETRE, COARSEST))


def unit_of(moves: Moves, row: NDArray[np.int64]) -> NDArray[np.float64]:
    """The unit of each move's last decimal, mm."""
    decimals = moves.decimals[row]
    same = len(decimals) and not np.ptp(decimals)
    units = _UNITS[decimals[:1]] if same else _UNITS[decimals.astype(np.intp)]
    inches = by_state(moves, row, lambda state: INCH if state.inch else 1.0)
    return np.asarray(np.minimum(units * inches, COARSEST))


class ArcColumns(Struct, frozen=True, eq=False):
    """The sound arcs in their own planes (shape m): mm, radians."""

    row: NDArray[np.int64]
    start: NDArray[np.float64]  # (m, 2)
    end: NDArray[np.float64]  # (m, 2)
    z: NDArray[np.float64]  # (m, 2) height of start and end along the normal
    centre: NDArray[np.float64]  # (m, 2)
    radius: NDArray[np.float64]
    sweep: NDArray[np.float64]
    r_form: NDArray[np.bool_]
    kind: NDArray[np.int64]  # arcs of one kind share plane, frame, section, turn and whether they are placed
    wander: NDArray[np.float64]  # how far the written numbers leave the centre open
    tolerance: NDArray[np.float64]
    unit: NDArray[np.float64]  # of its block's last decimal, at most `COARSEST`
    known: NDArray[np.bool_]

    def slack(self, which: NDArray[np.intp] | slice) -> NDArray[np.float64]:
        """How far the radius that some are written with may be off, mm: R by two units, however coarse."""
        r_form, tolerance, unit = (column[which] for column in (self.r_form, self.tolerance, self.unit))
        return np.where(r_form, np.maximum(tolerance, 2 * unit), tolerance)


def arc_columns(moves: Moves) -> ArcColumns:
    """Gather the arcs that can be taken as written, in the two axes of their planes."""
    arcs = moves.arcs
    sound = np.flatnonzero(arcs.fault == ArcFault.NONE)
    row = arcs.row[sound]
    normal = by_state(moves, row, lambda state: state.normal).astype(np.intp)
    first, second = (np.array([axes[k] for axes in PLANE_AXES])[normal] for k in (0, 1))
    start, end = moves.start[row] * GRAIN, moves.end[row] * GRAIN
    at = np.arange(len(row))

    def plane(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([points[at, first], points[at, second]])

    mask = (1 << first) | (1 << second)
    known = (moves.start_known[row] & moves.end_known[row] & mask) == mask
    begin, finish = plane(start), plane(end)
    radius = (arcs.radius[sound] + arcs.radius_end[sound]) / 2
    r_form = arcs.r_form[sound]
    unit, tolerance = _tolerances(moves, sound)
    turn = (arcs.sweep[sound] > 0).astype(np.int64)
    place = by_state(moves, row, lambda state: state.frame * (len(moves.sections) + 1) + state.section)
    kind = ((place.astype(np.int64) * 3 + normal) * 2 + turn) * 2 + known
    return ArcColumns(
        row=row,
        start=begin,
        end=finish,
        z=np.column_stack([start[at, normal], end[at, normal]]),
        centre=arcs.centre[sound],
        radius=radius,
        sweep=arcs.sweep[sound],
        r_form=r_form,
        kind=kind,
        wander=np.where(r_form, r_form_wander(begin, finish, radius, tolerance), 2 * tolerance),
        tolerance=tolerance,
        unit=unit,
        known=known,
    )


def _tolerances(moves: Moves, sound: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Unit and sameness of each sound arc, mm: the program's sameness, but that of a run that is coarser.

    A program may hold both, as where part of it has been corrected. Few decimals alone prove nothing,
    zeros may be trimmed; radii at start and end that differ by more than the finest decimals do, and so
    does R form, which has no second radius to show it.
    """
    arcs, row = moves.arcs, moves.arcs.row[sound]
    fine = by_state(moves, row, lambda state: sameness(moves, inch=state.inch))
    unit = unit_of(moves, row)
    coarse = np.clip(2 * unit, fine, COARSEST)
    if not len(sound) or (coarse <= fine).all():
        return unit, fine
    shown = (np.abs(arcs.radius[sound] - arcs.radius_end[sound]) > fine) | arcs.r_form[sound]
    apart = np.hypot(*(arcs.centre[sound][1:] - arcs.centre[sound][:-1]).T)
    follows = apart <= 4 * np.minimum(coarse[1:], coarse[:-1])  # holding tabs may stand between
    run = np.cumsum(np.concatenate(([True], ~follows))) - 1
    any_shown = np.bincount(run, weights=shown)[run] > 0
    return unit, np.where(any_shown, coarse, fine)


def r_form_wander(
    start: NDArray[np.float64], end: NDArray[np.float64], radius: NDArray[np.float64], t: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far the centre of an R-form arc may wander when ends and R are off by the tolerance.

    The centre stands sqrt(R² - a²) off a chord of half length a: near a semicircle that is
    ill-conditioned (NIST IR 6556, 3.5.3.1).
    """
    half = np.hypot(*(end - start).T) / 2
    height = np.sqrt(np.clip(radius**2 - half**2, 0, None))
    low = np.sqrt(np.clip((radius - t) ** 2 - (half + t) ** 2, 0, None))
    high = np.sqrt(np.clip((radius + t) ** 2 - np.clip(half - t, 0, None) ** 2, 0, None))
    return np.asarray(np.maximum(height - low, high - height) + t)


def strays(arcs: ArcColumns, members: Index, radius: Floats) -> Floats:
    """How far the middles of R-form arcs stand off circles of other radii through their ends, mm."""
    half = np.hypot(*np.moveaxis(arcs.end[members] - arcs.start[members], -1, 0)) / 2
    way = np.where(np.abs(arcs.sweep[members]) > np.pi, -1.0, 1.0)  # R < 0 goes round the long way
    own, other = (r - way * np.sqrt(np.maximum(r**2 - half**2, 0.0)) for r in (arcs.radius[members], radius))
    return np.asarray(np.abs(own - other))

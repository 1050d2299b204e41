"""Promises on circles: the walls are where the plan wants them, and every arc is still a sound arc."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.plan.plan import Correction
from roundwright.prove.case import NOISE, UNCHANGED, Case, first, tolerance, unit
from roundwright.trace.moves import PLANE_AXES, ArcFault, Arcs, Moves
from roundwright.units import GRAIN

Floats = NDArray[np.float64]
#: no arc's sweep may change by more (contract, invariant 3).
LARGEST_TURN = np.radians(1.0)


class Walls(Struct, frozen=True, eq=False):
    """The moves of the walls of some features (shape w), with each one's circle before and after, mm."""

    feature: tuple[str, ...]  # of each move
    row: NDArray[np.int64]
    axes: NDArray[np.intp]  # (w, 2) the plane's axes
    centre: Floats  # (w, 2)
    radius: Floats  # (w,) as found
    planned: Floats  # (w,) as planned; as found where nothing is to change
    grows: Floats  # (w,) what the diameter's change asks of the radius


def walls_of(corrections: tuple[Correction, ...]) -> Walls:
    """The walls of these features as columns."""
    feature: list[str] = []
    row: list[int] = []
    circle: list[tuple[float, ...]] = []
    for one in corrections:
        wall = one.feature.wall
        path = one.corrected_path if one.corrected_path is not None else np.nan
        was = one.feature.diameter if one.feature.diameter is not None else np.nan
        new = one.corrected if one.corrected is not None else np.nan
        feature += [one.feature.id] * len(wall.rows)
        row += wall.rows
        circle += [(*PLANE_AXES[wall.normal], *wall.centre, wall.radius, path / 2, (new - was) / 2)] * len(
            wall.rows
        )
    table = np.array(circle, dtype=np.float64).reshape(-1, 7)
    return Walls(
        tuple(feature),
        np.array(row, dtype=np.int64),
        table[:, :2].astype(np.intp),
        table[:, 2:4],
        *table[:, 4:].T,
    )


def corrected_walls(case: Case) -> None:
    """Every arc of a corrected wall keeps its centre and plane and has the planned radius.

    Its ends, and so the corners of chords, lie on the planned circle.
    """
    promise = "the planned circles"
    done = tuple(c for c in case.plan.corrections if c.status == "corrected")
    walls = walls_of(done)
    if not len(walls.row):
        return
    allowed = tolerance(case.old)[walls.row]
    half = unit(case.old)[walls.row] / 2

    def demand(holds: NDArray[np.bool_], what: str, expected: Floats, found: Floats) -> None:
        k = first(~holds)
        if k is not None:
            text = f"{walls.feature[k]}: {what}: expected {expected[k]:.5f} mm, found {found[k]:.5f} mm"
            raise case.broken_at(promise, text, int(walls.row[k]))

    asked = walls.radius + walls.grows
    demand(
        np.abs(walls.planned - asked) <= UNCHANGED, "radius that its diameter asks for", asked, walls.planned
    )
    arc, is_arc = arcs_at(case.new, walls.row)
    for what, radius in (("radius", case.new.arcs.radius), ("radius at its end", case.new.arcs.radius_end)):
        found = np.where(is_arc, radius[arc] if len(radius) else np.nan, walls.planned)
        demand(np.abs(found - walls.planned) <= allowed + NOISE, what, walls.planned, found)
    off, was_off = off_centre(case.new, walls), off_centre(case.old, walls)
    # an R word's centre is as sure as the rounding of its ends lets it be, in the input too
    most = np.where(r_form_at(case.new, walls.row), np.maximum(allowed + half, was_off), allowed + half)
    demand(off <= most + NOISE, "distance of its centre from the ring's, at most", most, off)
    for what, found in zip(("start", "end"), corners(case.new, walls), strict=True):
        holds = np.abs(found - walls.planned) <= allowed + half + NOISE
        demand(holds, f"distance of its {what} from the centre", walls.planned, found)


def walls_left_alone(case: Case) -> None:
    """Features that are not corrected keep every arc of their walls."""
    walls = walls_of(tuple(c for c in case.plan.corrections if c.status != "corrected"))
    if not len(walls.row):
        return
    bad = np.zeros(len(walls.row), dtype=bool)
    for old, new in zip(corners(case.old, walls), corners(case.new, walls), strict=True):
        bad |= np.abs(old - new) > UNCHANGED
    bad |= arcs_differ(case.old, case.new, walls.row)
    k = first(bad)
    if k is not None:
        what = f"{walls.feature[k]} was to be left as it is, but its circle has changed"
        raise case.broken_at("features left alone", what, int(walls.row[k]))


def arcs_differ(old: Moves, new: Moves, row: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which of these moves (w,) are arcs whose centre, radii or sweep have changed."""
    arc, is_arc = arcs_at(old, row)
    if not len(old.arcs.row):
        return is_arc
    a, b = old.arcs, new.arcs
    apart = np.abs(a.centre[arc] - b.centre[arc]).max(axis=1)
    for was, now in ((a.radius, b.radius), (a.radius_end, b.radius_end), (a.sweep, b.sweep)):
        apart = np.maximum(apart, np.abs(was[arc] - now[arc]))
    return np.asarray(is_arc & ~((apart <= UNCHANGED) | np.isnan(apart)))


def arcs_at(moves: Moves, row: NDArray[np.int64]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Index into the arcs of each move, and whether it is an arc."""
    rows = moves.arcs.row
    if not len(rows):
        return np.zeros(len(row), dtype=np.intp), np.zeros(len(row), dtype=bool)
    arc = np.minimum(np.searchsorted(rows, row), len(rows) - 1)
    return arc, np.asarray(rows[arc] == row)


def r_form_at(moves: Moves, row: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which of the moves are arcs in R form."""
    arc, is_arc = arcs_at(moves, row)
    return is_arc & moves.arcs.r_form[arc] if len(moves.arcs.row) else is_arc


def off_centre(moves: Moves, walls: Walls) -> Floats:
    """Distance of each wall arc's own centre from its ring's; 0 for a chord."""
    arc, is_arc = arcs_at(moves, walls.row)
    if not len(moves.arcs.row):
        return np.zeros(len(walls.row))
    return np.where(is_arc, np.hypot(*(moves.arcs.centre[arc] - walls.centre).T), 0.0)


def corners(moves: Moves, walls: Walls) -> tuple[Floats, Floats]:
    """Distance of each wall move's start and of its end from the ring's centre."""
    start, end = (
        np.hypot(*(np.take_along_axis(place[walls.row], walls.axes, 1) * GRAIN - walls.centre).T)
        for place in (moves.start, moves.end)
    )
    return start, end


def sound_arcs(case: Case) -> None:
    """Every arc is as sound as before: radii that agree, no new fault, the same sweep, closed or not."""
    promise = "sound arcs"
    old, new = case.old.arcs, case.new.arcs
    sound = old.fault == ArcFault.NONE
    was, now = np.abs(old.radius - old.radius_end), np.abs(new.radius - new.radius_end)
    most = np.maximum(was, np.sqrt(2) * unit(case.old)[old.row])
    turned = np.minimum(np.abs(new.sweep - old.sweep), np.abs(new.sweep - ring_sweeps(case)))
    bad_fault, bad_close = old.fault != new.fault, closed(case.old) != closed(case.new)
    checks: tuple[tuple[NDArray[np.bool_], str, Callable[[int], str]], ...] = (
        (bad_fault, "fault", lambda k: f"{_fault(old, k)}, found {_fault(new, k)}"),
        (
            sound & (now > most + NOISE),
            "radii at start and end differ",
            lambda k: f"{most[k]:.5f} mm at most, found {now[k]:.5f} mm",
        ),
        (sound & (turned > LARGEST_TURN), "sweep", lambda k: f"{_degrees(old, k)}, found {_degrees(new, k)}"),
        (bad_close, "end at its start", lambda k: "as before, found otherwise"),
    )
    for bad, what, text in checks:
        k = first(bad)
        if k is not None:
            raise case.broken_at(promise, f"{what} of an arc: expected {text(k)}", int(old.row[k]))


def ring_sweeps(case: Case) -> Floats:
    """Sweep (m,) of each old arc, radians; of an R-form arc of a corrected ring about the ring's centre.

    Its own centre is ill-conditioned as read (NIST IR 6556, 3.5.3.1): half a unit of an end can turn a
    semicircle by degrees.
    """
    old = case.old.arcs
    sweep = old.sweep.copy()
    for one in case.plan.corrections:
        if one.status != "corrected":
            continue
        for ring in (one.feature.wall, *one.feature.clearing):
            arc, is_arc = arcs_at(case.old, np.array(ring.rows))
            arc = arc[is_arc & r_form_at(case.old, np.array(ring.rows))]
            places = (
                place[old.row[arc]][:, list(PLANE_AXES[ring.normal])]
                for place in (case.old.start, case.old.end)
            )
            (a, b), (c, d) = ((p * GRAIN - ring.centre).T for p in places)
            turn = np.sign(old.sweep[arc])
            angle = turn * np.arctan2(a * d - b * c, a * c + b * d)
            sweep[arc] = turn * np.where(angle > 0, angle, angle + 2 * np.pi)
    return sweep


def _fault(arcs: Arcs, k: int) -> str:
    return ArcFault(int(arcs.fault[k])).name.lower().replace("_", " ")


def _degrees(arcs: Arcs, k: int) -> str:
    return f"{np.degrees(arcs.sweep[k]):.3f} degrees"


def closed(moves: Moves) -> NDArray[np.bool_]:
    """Which arcs (m,) end where they start, in their plane."""
    row = moves.arcs.row
    normal = np.array([state.normal for state in moves.states], dtype=np.intp)[moves.state[row]]
    same = moves.start[row] == moves.end[row]
    same[np.arange(len(row)), normal] = True
    return np.asarray(same.all(axis=1))

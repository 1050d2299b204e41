"""Promises on circles: the walls are where the plan wants them, and every arc is still a sound arc."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from roundwright.find.feature import Ring
from roundwright.prove.case import NOISE, UNCHANGED, Case, first, tolerance, unit
from roundwright.prove.rings import Circles, circles_of, corrected
from roundwright.trace.moves import ArcFault, Arcs, Moves
from roundwright.units import GRAIN

Floats = NDArray[np.float64]
#: no arc's sweep may change by more, however small it is (contract, invariant 3).
LARGEST_TURN = np.radians(1.0)


def corrected_walls(case: Case) -> None:
    """Every arc of a corrected wall keeps its centre and plane and has the planned radius.

    Its ends, and so the corners of chords, lie on the planned circle.
    """
    promise = "the planned circles"

    def walls() -> Iterator[tuple[str, Ring, float]]:
        for one in corrected(case.plan):
            wall = one.feature.wall
            was, new, path = (
                np.nan if length is None else length / 2
                for length in (one.feature.diameter, one.corrected, one.corrected_path)
            )
            asked = wall.radius + new - was
            if not abs(path - asked) <= UNCHANGED:
                what = f"radius that its diameter asks for: expected {asked:.5f} mm, found {path:.5f} mm"
                raise case.broken_at(promise, f"{one.feature.id}: {what}", wall.rows[0])
            yield one.feature.id, wall, path

    _on_their_circles(case, circles_of(walls()), promise, 0.0)


def clearing_rings(case: Case) -> None:
    """Clearing rings of corrected features move in proportion to their wall, or stay, as the plan says."""
    promise, rings = "clearing rings", []
    for one in corrected(case.plan):
        share = (one.change or 0.0) / 2 / one.feature.wall.path if case.plan.spread == "rings" else 0.0
        rings += [(one.feature.id, ring, ring.radius + share * ring.path) for ring in one.feature.clearing]
    circles = circles_of(rings)
    if case.plan.spread == "rings":
        _on_their_circles(case, circles, promise, np.sqrt(2))
    else:
        _as_before(case, circles, promise, "a clearing ring of {} was to stay, but has changed")


def left_alone(case: Case) -> None:
    """Features that are not corrected keep every arc of their walls and clearing rings."""
    left = (one.feature for one in case.plan.corrections if one.status != "corrected")
    rings = ((f.id, ring, ring.radius) for f in left for ring in (f.wall, *f.clearing))
    what = "{} was to be left as it is, but its circle has changed"
    _as_before(case, circles_of(rings), "features left alone", what)


def _on_their_circles(case: Case, circles: Circles, promise: str, steps: float) -> None:
    """Every arc has the planned radius round the ring's centre, every corner is on the planned circle.

    Within the tolerance, and so many steps of the last decimal more.
    """
    if not len(circles.row):
        return
    allowed = tolerance(case.old)[circles.row] + steps * unit(case.old)[circles.row]
    half = unit(case.old)[circles.row] / 2

    def demand(holds: NDArray[np.bool_], what: str, expected: Floats, found: Floats) -> None:
        k = first(~holds)
        if k is not None:
            text = f"{circles.feature(k)}: {what}: expected {expected[k]:.5f} mm, found {found[k]:.5f} mm"
            raise case.broken_at(promise, text, int(circles.row[k]))

    planned = circles.planned
    arc, is_arc = case.new.arcs.at(circles.row)
    for what, radius in (("radius", case.new.arcs.radius), ("radius at its end", case.new.arcs.radius_end)):
        found = np.where(is_arc, radius[arc] if len(radius) else np.nan, planned)
        demand(np.abs(found - planned) <= allowed + NOISE, what, planned, found)
    off, was_off = off_centre(case.new, circles), off_centre(case.old, circles)
    # an R word's centre is as sure as the rounding of its ends lets it be, in the input too
    most = np.where(r_form_at(case.new, circles.row), np.maximum(allowed + half, was_off), allowed + half)
    demand(off <= most + NOISE, "distance of its centre from the ring's, at most", most, off)
    for what, found in zip(("start", "end"), corners(case.new, circles), strict=True):
        holds = np.abs(found - planned) <= allowed + half + NOISE
        demand(holds, f"distance of its {what} from the centre", planned, found)


def _as_before(case: Case, circles: Circles, promise: str, what: str) -> None:
    """No corner is at another distance from its ring's centre, and no arc has changed; else `what`."""
    if not len(circles.row):
        return
    bad = np.zeros(len(circles.row), dtype=bool)
    for old, new in zip(corners(case.old, circles), corners(case.new, circles), strict=True):
        bad |= np.abs(old - new) > UNCHANGED
    bad |= arcs_differ(case.old, case.new, circles.row)
    k = first(bad)
    if k is not None:
        raise case.broken_at(promise, what.format(circles.feature(k)), int(circles.row[k]))


def arcs_differ(old: Moves, new: Moves, row: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which of these moves (w,) are arcs whose centre, radii or sweep have changed."""
    arc, is_arc = old.arcs.at(row)
    if not len(old.arcs.row):
        return is_arc
    a, b = old.arcs, new.arcs
    apart = np.abs(a.centre[arc] - b.centre[arc]).max(axis=1)
    for was, now in ((a.radius, b.radius), (a.radius_end, b.radius_end), (a.sweep, b.sweep)):
        apart = np.maximum(apart, np.abs(was[arc] - now[arc]))
    return np.asarray(is_arc & ~((apart <= UNCHANGED) | np.isnan(apart)))


def r_form_at(moves: Moves, row: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which of the moves are arcs in R form."""
    arc, is_arc = moves.arcs.at(row)
    return is_arc & moves.arcs.r_form[arc] if len(moves.arcs.row) else is_arc


def off_centre(moves: Moves, circles: Circles) -> Floats:
    """Distance of each arc's own centre from its ring's; 0 for a chord."""
    arc, is_arc = moves.arcs.at(circles.row)
    if not len(moves.arcs.row):
        return np.zeros(len(circles.row))
    return np.where(is_arc, np.hypot(*(moves.arcs.centre[arc] - circles.centre).T), 0.0)


def corners(moves: Moves, circles: Circles) -> tuple[Floats, Floats]:
    """Distance of each move's start and of its end from the ring's centre."""
    start, end = (
        np.hypot(*(np.take_along_axis(place[circles.row], circles.axes, 1) * GRAIN - circles.centre).T)
        for place in (moves.start, moves.end)
    )
    return start, end


def sound_arcs(case: Case) -> None:
    """Every arc is as sound as before: radii that agree, no new fault, the same sweep, closed or not."""
    promise, which = "sound arcs", altered_arcs(case)
    old, new = (some_arcs(moves.arcs, which) for moves in (case.old, case.new))
    sound = old.fault == ArcFault.NONE
    was, now = np.abs(old.radius - old.radius_end), np.abs(new.radius - new.radius_end)
    most = np.maximum(was, np.sqrt(2) * unit(case.old)[old.row])
    turned = np.fmin(np.abs(new.sweep - old.sweep), np.abs(new.sweep - ring_sweeps(case)[which]))
    far = turned > most_turn(case, old)
    bad_fault = old.fault != new.fault
    bad_close = closed(case.old, old.row) != closed(case.new, old.row)
    checks: tuple[tuple[NDArray[np.bool_], str, Callable[[int], str]], ...] = (
        (bad_fault, "fault", lambda k: f"{_fault(old, k)}, found {_fault(new, k)}"),
        (
            sound & (now > most + NOISE),
            "radii at start and end differ",
            lambda k: f"{most[k]:.5f} mm at most, found {now[k]:.5f} mm",
        ),
        (sound & far, "sweep", lambda k: f"{_degrees(old, k)}, found {_degrees(new, k)}"),
        (bad_close, "end at its start", lambda k: "as before, found otherwise"),
    )
    for bad, what, text in checks:
        k = first(bad)
        if k is not None:
            raise case.broken_at(promise, f"{what} of an arc: expected {text(k)}", int(old.row[k]))


def altered_arcs(case: Case) -> NDArray[np.intp]:
    """The arcs, by index, that have changed by a bit, start or end elsewhere, or are of corrected rings.

    Nothing can be wrong with the others.
    """
    rows = np.concatenate((case.displaced, case.circles.row))
    altered = np.zeros(len(case.old.arcs.row), np.bool_)
    arc, is_arc = case.old.arcs.at(rows)
    altered[arc[is_arc]] = True
    for name in Arcs.__struct_fields__:
        was, now = getattr(case.old.arcs, name), getattr(case.new.arcs, name)
        if was is not now:
            unlike = (was != now) & ~((was != was) & (now != now))  # two that are nan are the same
            altered |= unlike.any(axis=1) if unlike.ndim > 1 else unlike
    return np.flatnonzero(altered)


def some_arcs(arcs: Arcs, which: NDArray[np.intp]) -> Arcs:
    """Some of the arcs."""
    return Arcs(**{name: getattr(arcs, name)[which] for name in Arcs.__struct_fields__})


def most_turn(case: Case, old: Arcs) -> Floats:
    """How far the sweep of some old arcs (m,) may change, radians: what rounding leaves, at most 1 degree.

    An arc that travels or links keeps its sweep (geometry, 4): each end, and the centre as seen from it, are
    off by a step's diagonal at most. Corners and centres of a ring may be off its circle besides. In R form
    the sweep is 2 arcsin(c / 2R) of the chord c, ill-conditioned near a semicircle (NIST IR 6556, 3.5.3.1).
    """
    fine, most = unit(case.old)[old.row], tolerance(case.old)[old.row]
    on_ring = np.isin(old.row, case.circles.row)
    with np.errstate(divide="ignore", invalid="ignore"):
        room = 4 * np.sqrt(2) * fine / old.radius
        room += on_ring * 2 * (1 + np.sqrt(2)) * most / old.radius
        share = np.abs(np.sin(old.sweep / 2))
        off = (np.sqrt(2) * fine + (most + fine) * share) / old.radius
        low, high = (np.arcsin(np.clip(share + by, 0, 1)) for by in (-off, off))
    return np.asarray(np.fmin(np.where(old.r_form, 2 * (high - low), room), LARGEST_TURN))


def ring_sweeps(case: Case) -> Floats:
    """Sweep (m,) of each old arc, radians; of an arc of a corrected ring about the ring's centre.

    Single centres wander by what they are rounded to, those in R form far more (NIST IR 6556, 3.5.3.1).
    """
    old = case.old.arcs
    sweep = old.sweep.copy()
    circles = case.circles
    arc, is_arc = case.old.arcs.at(circles.row)
    arc = arc[is_arc]
    (a, b), (c, d) = (
        (np.take_along_axis(place[circles.row], circles.axes, 1) * GRAIN - circles.centre)[is_arc].T
        for place in (case.old.start, case.old.end)
    )
    turn = np.sign(old.sweep[arc])
    angle = turn * np.arctan2(a * d - b * c, a * c + b * d)
    angle = np.where(angle > 0, angle, angle + 2 * np.pi)
    whole = np.round((np.abs(old.sweep[arc]) - angle) / (2 * np.pi))
    sweep[arc] = turn * (angle + 2 * np.pi * whole)
    return sweep


def _fault(arcs: Arcs, k: int) -> str:
    return ArcFault(int(arcs.fault[k])).name.lower().replace("_", " ")


def _degrees(arcs: Arcs, k: int) -> str:
    return f"{np.degrees(arcs.sweep[k]):.3f} degrees"


def closed(moves: Moves, row: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which moves (m,) end where they start, in their plane."""
    normal = np.array([state.normal for state in moves.states], dtype=np.intp)[moves.state[row]]
    same = moves.start[row] == moves.end[row]
    same[np.arange(len(row)), normal] = True
    return np.asarray(same.all(axis=1))

"""Plans that are wrong, written in all good faith: the proof must refuse what bytes and plan agree about.

Each wrong plan is made from that of a sound run, goes through the rewriter, and is proven against itself.
All shifts are smaller than the correction, so that no bound on their size catches them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from math import cos, radians, sin

import numpy as np
import pytest
from msgspec.structs import replace

from captured import Captured, captured
from cases import CASES, Case
from roundwright.errors import CannotWrite, ProofError
from roundwright.find import Ring
from roundwright.plan import ArcTarget, Correction, Plan
from roundwright.trace import PLANE_AXES, Motion

OFF = 0.02  # mm
NAMES = (
    "clearing-rings",
    "chords-lead-arc",
    "spread-wall",
    "chords-throughout",
    "lead-line-and-arc",
    "lead-arc-outside",
    "both-ways",
    "incremental-throughout",
    "odd-angle-r-halves",
    "r-quarters-inch",
    "helix-flat-turn",
    "compensated-hole",
    "two-frames",
    "subprogram-between",
    "inverse-time-feed",
    "spiral-pocket",
    "spindle-along-x",
    "sample-bearing-block",
    "sample-jig-plate",
)
Place = tuple[float, float, float]


class Absent(Exception):
    """This program has nothing that could go wrong in this way."""


@cache
def run_of(name: str) -> Captured:
    case = Case(CASES / name)
    return captured(case.data, "program.nc", case.table, case.settings())


def first_corrected(run: Captured) -> Correction:
    """The first corrected feature that changes by more than what is put wrong."""
    done = (c for c in run.plan.corrections if c.status == "corrected" and abs(c.change or 0) > 2 * OFF)
    found = next(done, None)
    if found is None:
        raise Absent
    return found


def corners(run: Captured, ring: Ring) -> set[int]:
    return {row for row in (*ring.rows, *(row - 1 for row in ring.rows)) if row in run.plan.ends}


def moved(run: Captured, rows: Mapping[int, Place], arcs: Mapping[int, ArcTarget] | None = None) -> Plan:
    """The plan with some ends displaced by so much more, and other circles."""
    ends = dict(run.plan.ends)
    for row, by in rows.items():
        here = ends.get(row) or (run.moves.end[row] * 1e-8).tolist()
        ends[row] = (here[0] + by[0], here[1] + by[1], here[2] + by[2])
    return replace(run.plan, ends=ends, arcs={**run.plan.arcs, **(arcs or {})})


def in_plane(ring: Ring, along: tuple[float, float]) -> Place:
    by = [0.0, 0.0, 0.0]
    for axis, value in zip(PLANE_AXES[ring.normal], along, strict=True):
        by[axis] = value
    return by[0], by[1], by[2]


def with_feature(plan: Plan, old: Correction, **changes: object) -> Plan:
    new = replace(old, feature=replace(old.feature, **changes))  # type: ignore[arg-type]
    return replace(plan, corrections=tuple(new if c == old else c for c in plan.corrections))


def rings_of(plan: Plan) -> set[int]:
    rings = [ring for c in plan.corrections for ring in (c.feature.wall, *c.feature.clearing)]
    return {row for ring in rings for row in (*ring.rows, *(row - 1 for row in ring.rows))}


# ---- the ways to be wrong ------------------------------------------------------------------------------


def other_work_moves(run: Captured) -> Plan:
    """A straight end that no circle has to do with."""
    first_corrected(run)
    taken = rings_of(run.plan) | set(run.plan.ends)
    taken |= {row + k for row in taken for k in (-1, 1)}
    moves = run.moves
    for row in range(1, len(moves) - 1):
        plain = moves.motion[row] in (Motion.LINE, Motion.RAPID) and moves.motion[row + 1] != Motion.OTHER
        if row not in taken and plain and int(moves.end_known[row]) == 7:
            return moved(run, {row: (OFF, 0.0, 0.0)})
    raise Absent


def whole_feature_aside(run: Captured) -> Plan:
    """Ring, clearing rings and leads a little to the side, all together."""
    one = first_corrected(run)
    by = in_plane(one.feature.wall, (OFF, 0.0))
    rows = {row for row in run.plan.touched[one.feature.id] if row in run.plan.ends}
    for ring in (one.feature.wall, *one.feature.clearing):
        rows |= corners(run, ring)
    arcs = {
        row: replace(
            run.plan.arcs[row], centre=(run.plan.arcs[row].centre[0] + OFF, run.plan.arcs[row].centre[1])
        )
        for row in run.plan.arcs
        if row in rows or row - 1 in rows
    }
    plan = moved(run, dict.fromkeys(rows, by), arcs)
    wall = one.feature.wall
    aside = replace(wall, centre=(wall.centre[0] + OFF, wall.centre[1]))
    return with_feature(plan, one, wall=aside)


def ring_turned(run: Captured) -> Plan:
    """All corners of a wall a little round its centre: closed still, and on the planned circle."""
    one = first_corrected(run)
    ring = one.feature.wall
    axes, angle = list(PLANE_AXES[ring.normal]), OFF / ring.radius
    rows = {}
    for row in corners(run, ring):
        offset = np.array(run.plan.ends[row])[axes] - ring.centre
        x = offset[0] * cos(angle) - offset[1] * sin(angle)
        y = offset[0] * sin(angle) + offset[1] * cos(angle)
        rows[row] = in_plane(ring, (x - offset[0], y - offset[1]))
    return moved(run, rows)


def deeper(run: Captured) -> Plan:
    """Every planned end a little deeper."""
    one = first_corrected(run)
    by = [0.0, 0.0, 0.0]
    by[one.feature.wall.normal] = -OFF
    return moved(run, dict.fromkeys(run.plan.ends, (by[0], by[1], by[2])))


def clearing_scaled(share: float) -> Callable[[Captured], Plan]:
    """The clearing rings go by another share of what they should."""

    def wrong(run: Captured) -> Plan:
        one = first_corrected(run)
        rows: dict[int, Place] = {}
        arcs: dict[int, ArcTarget] = {}
        wall = corners(run, one.feature.wall)
        for ring in one.feature.clearing:
            more = (share - 1) * (one.change or 0) / 2 * ring.radius / one.feature.wall.radius
            for row in corners(run, ring) - wall:
                at = (run.moves.end[row] * 1e-8)[list(PLANE_AXES[ring.normal])] - ring.centre
                rows[row] = in_plane(ring, tuple(more * at / np.hypot(*at)))
            for row in ring.rows:
                if row in run.plan.arcs:
                    arcs[row] = replace(run.plan.arcs[row], radius=run.plan.arcs[row].radius + more)
        if not rows or max(abs(b) for by in rows.values() for b in by) < 0.004:
            raise Absent
        return moved(run, rows, arcs)

    return wrong


def travelling(run: Captured) -> list[int]:
    """Ends off the rings that travel with them."""
    first_corrected(run)
    off = [row for row in run.plan.ends if row not in rings_of(run.plan)]
    if not off:
        raise Absent
    return off


def follow_move_missed(run: Captured) -> Plan:
    """A traverse to the plunge beside a ring is left where it was: the plunge would go aslant."""
    rows, moves = travelling(run), run.moves
    upright = (moves.start[:, :2] == moves.end[:, :2]).all(axis=1) & (moves.motion <= Motion.LINE)
    row = next((row for row in rows if not upright[row] and upright[row + 1]), None)
    if row is None:
        raise Absent
    return replace(run.plan, ends={k: place for k, place in run.plan.ends.items() if k != row})


def follow_move_too_far(run: Captured) -> Plan:
    """A move that travels with the ring goes further than that."""
    row = travelling(run)[0]
    return moved(run, {row: (OFF, OFF, 0.0)})


def travel_goes_on(run: Captured) -> Plan:
    """The path does not rejoin: one end more is displaced as if it were on the ring's spot, and lower."""
    row = max(run.plan.ends)
    if row + 2 >= len(run.moves) or run.moves.motion[row + 1] not in (Motion.LINE, Motion.RAPID):
        raise Absent
    return moved(run, {row + 1: (OFF, 0.0, -OFF)})


def a_pass_left_out(run: Captured) -> Plan:
    """The last turn of a wall is not in the plan, and stays."""
    one = first_corrected(run)
    wall = one.feature.wall
    if wall.passes < 2 or len(wall.rows) < 2:
        raise Absent
    gone = {wall.rows[-1]}
    arcs = {row: target for row, target in run.plan.arcs.items() if row not in gone}
    plan = replace(run.plan, arcs=arcs)
    return with_feature(plan, one, wall=replace(wall, rows=wall.rows[:-1]))


def grown_by(share: float) -> Callable[[Captured], Plan]:
    """Path and arcs grow by another share than the correction says."""

    def wrong(run: Captured) -> Plan:
        one = first_corrected(run)
        ring = one.feature.wall
        more = (share - 1) * (one.change or 0) / 2
        rows = {}
        for row in corners(run, ring):
            at = (run.moves.end[row] * 1e-8)[list(PLANE_AXES[ring.normal])] - ring.centre
            rows[row] = in_plane(ring, tuple(more * at / np.hypot(*at)))
        arcs = {
            row: replace(run.plan.arcs[row], radius=run.plan.arcs[row].radius + more)
            for row in ring.rows
            if row in run.plan.arcs
        }
        return moved(run, rows, arcs)

    return wrong


def figures(**off: float) -> Callable[[Captured], Plan]:
    """A correction whose figures do not belong together, or to the path."""

    def wrong(run: Captured) -> Plan:
        one = first_corrected(run)
        new = replace(one, **{key: getattr(one, key) + by for key, by in off.items()})
        return replace(run.plan, corrections=tuple(new if c == one else c for c in run.plan.corrections))

    return wrong


def called(status: str) -> Callable[[Captured], Plan]:
    """A feature that moves is called left."""

    def wrong(run: Captured) -> Plan:
        one = first_corrected(run)
        new = replace(one, status=status)  # type: ignore[arg-type]
        return replace(run.plan, corrections=tuple(new if c == one else c for c in run.plan.corrections))

    return wrong


def dropped(run: Captured) -> Plan:
    """A feature that moves is not in the list."""
    one = first_corrected(run)
    return replace(run.plan, corrections=tuple(c for c in run.plan.corrections if c != one))


def a_feature(**changes: object) -> Callable[[Captured], Plan]:
    """A feature that is not the one found."""

    def wrong(run: Captured) -> Plan:
        return with_feature(run.plan, first_corrected(run), **changes)

    return wrong


def another_diameter(run: Captured) -> Plan:
    """The feature is taken for a wider one, and corrected by as much."""
    one = first_corrected(run)
    assert one.feature.diameter is not None and one.corrected is not None
    plan = with_feature(run.plan, one, diameter=one.feature.diameter + OFF)
    wider = next(c for c in plan.corrections if c.feature.id == one.feature.id)
    new = replace(wider, corrected=one.corrected + OFF)
    return replace(plan, corrections=tuple(new if c == wider else c for c in plan.corrections))


def wall_and_clearing_swapped(run: Captured) -> Plan:
    """The wrong ring is called the wall."""
    one = first_corrected(run)
    if not one.feature.clearing:
        raise Absent
    ring = one.feature.clearing[0]
    return with_feature(run.plan, one, wall=ring, clearing=(one.feature.wall,))


def lead_arc_bulges(run: Captured) -> Plan:
    """An arc off the rings gets another circle through the same ends."""
    first_corrected(run)
    rings = {
        row for c in run.plan.corrections for r in (c.feature.wall, *c.feature.clearing) for row in r.rows
    }
    row = next((row for row in run.plan.arcs if row not in rings), None)
    if row is None:
        raise Absent
    target = run.plan.arcs[row]
    return replace(run.plan, arcs={**run.plan.arcs, row: replace(target, radius=target.radius + 5 * OFF)})


def lead_arc_bent(degrees: float) -> Callable[[Captured], Plan]:
    """An arc off the rings goes through the same ends on a circle that makes its sweep so much larger."""

    def wrong(run: Captured) -> Plan:
        rings = {
            row for c in run.plan.corrections for r in (c.feature.wall, *c.feature.clearing) for row in r.rows
        }
        moves = run.moves
        for row in sorted(set(run.plan.arcs) - rings):
            k, target = int(np.searchsorted(moves.arcs.row, row)), run.plan.arcs[row]
            first, second = PLANE_AXES[moves.states[int(moves.state[row])].normal]
            sweep = float(moves.arcs.sweep[k])
            way = np.array(run.plan.ends.get(row, moves.end[row] * 1e-8))
            way = way - np.array(run.plan.ends.get(row - 1, moves.start[row] * 1e-8))
            chord = complex(way[first], way[second])
            turn = abs(sweep) + radians(degrees)
            low, high = (abs(chord) / 2 / np.tan(angle / 2) for angle in (abs(sweep), turn))
            by = chord / abs(chord) * 1j * np.sign(sweep) * (high - low)
            if abs(by) < 0.004:
                continue
            centre = complex(*target.centre) + by
            circle = ArcTarget((centre.real, centre.imag), abs(chord) / 2 / sin(turn / 2))
            return replace(run.plan, arcs={**run.plan.arcs, row: circle})
        raise Absent

    return wrong


def spread_otherwise(run: Captured) -> Plan:
    """The clearing rings move where they were to stay, or stay where they were to move along."""
    one = first_corrected(run)
    if not one.feature.clearing:
        raise Absent
    return replace(run.plan, spread="wall" if run.plan.spread == "rings" else "rings")


def stamped(text: str | None) -> Callable[[Captured], Plan]:
    """A stamp that a second run would not take for one, or none."""
    return lambda run: replace(run.plan, stamp=text)


WAYS: dict[str, Callable[[Captured], Plan]] = {
    "other work moves": other_work_moves,
    "the whole feature aside": whole_feature_aside,
    "a ring turned round its centre": ring_turned,
    "deeper": deeper,
    "clearing rings the wrong way": clearing_scaled(-1.0),
    "clearing rings too far": clearing_scaled(2.0),
    "clearing rings stay": clearing_scaled(0.0),
    "clearing rings go along, or not, against the plan": spread_otherwise,
    "a follow move missed": follow_move_missed,
    "a follow move too far": follow_move_too_far,
    "travel that goes on": travel_goes_on,
    "a pass left out": a_pass_left_out,
    "grown the wrong way": grown_by(-1.0),
    "grown by half": grown_by(0.5),
    "grown twice": grown_by(2.0),
    "another change": figures(change=OFF),
    "another corrected diameter": figures(corrected=OFF),
    "another corrected path": figures(corrected_path=OFF),
    "figures that agree among themselves": figures(change=OFF, corrected=OFF, corrected_path=OFF),
    "called left alone": called("left-alone"),
    "called on size": called("on-size"),
    "a feature dropped": dropped,
    "a boss for a hole, or a groove": a_feature(side="groove"),
    "another plane's wall": a_feature(frame="G59"),
    "a feature with a fault": a_feature(fault="cut-away", why="as others cut it"),
    "another diameter": another_diameter,
    "wall and clearing ring swapped": wall_and_clearing_swapped,
    "a lead arc that bulges": lead_arc_bulges,
    "a lead arc bent by half a degree": lead_arc_bent(0.5),
    "a lead arc straightened by half a degree": lead_arc_bent(-0.5),
    "no stamp": stamped(None),
    "a stamp in capitals": stamped("Roundwright 0.1.0: circles corrected"),
    "a stamp with another name": stamped("circles corrected by roundwright 0.1.0"),
    "a stamp behind a bracket": stamped("(roundwright 0.1.0: circles corrected)"),
    "an empty stamp": stamped(""),
}


def refused(run: Captured, plan: Plan) -> bool:
    """Whether the plan cannot be written, or what is written of it is not handed out."""
    try:
        new = run.written(plan)
    except CannotWrite:
        return True
    try:
        run.prove(new, plan)
    except ProofError:
        return True
    return False


@pytest.mark.parametrize("name", NAMES)
def test_what_the_run_wrote_is_proven(name: str) -> None:
    run = run_of(name)
    assert run.written(run.plan) == run.new
    run.prove()


@pytest.mark.parametrize("way", WAYS)
def test_no_wrong_plan_is_proven(way: str) -> None:
    through, tried = [], 0
    for name in NAMES:
        run = run_of(name)
        try:
            plan = WAYS[way](run)
        except Absent:
            continue
        tried += 1
        if not refused(run, plan):
            through.append(name)
    assert not through and tried >= 1, (tried, through)

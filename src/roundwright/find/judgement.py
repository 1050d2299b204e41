"""Judgement: rings by their edges, all those of one frame and plane together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, Floats, rows_by_frame
from roundwright.find.feature import Ring
from roundwright.find.kerf import bored_before, widened_later
from roundwright.find.meeting import Circles, tiles
from roundwright.find.side import COVERED, Witness, cleared
from roundwright.find.stack import Judged
from roundwright.find.surroundings import Surroundings
from roundwright.find.turn import Turns
from roundwright.find.wall import Edges, edges_of
from roundwright.find.zone import Zones, moves_near
from roundwright.settings import Cutter, Machine
from roundwright.trace.moves import PLANE_NAMES, Moves
from roundwright.units import MICROMETRE

#: room round a ring for what rounding may add, mm.
_MARGIN = 1.0
#: rings that are judged together: where there are more, all the cuts about them would take much room.
_TOGETHER = 1 << 12


def judged_rings(
    rings: Sequence[Ring], moves: Moves, cutters: Mapping[int, Cutter | None], machine: Machine
) -> list[Judged]:
    """Judge rings, in their order. What cannot be judged has no edges."""
    judged: list[Judged] = []
    sound: dict[int, dict[int, list[int]]] = {}
    for ring in rings:
        one, can_be_judged = _as_run(ring, moves, cutters, machine)
        if can_be_judged:
            sound.setdefault(ring.normal, {}).setdefault(ring.frame, []).append(len(judged))
        judged.append(one)
    for normal, frames in sound.items():
        here = [judged[k] for places in frames.values() for k in places]
        rows = rows_by_frame(moves, normal, moves_near(moves, normal, _zones(here, cutters)))
        for frame, places in frames.items():
            surroundings = Surroundings(moves, cutters, rows[frame], normal, machine.contour)
            _judge(judged, places, surroundings)
    return judged


def _judge(judged: list[Judged], places: Sequence[int], surroundings: Surroundings) -> None:
    """Judge the rings in these places, which share a frame and plane, of many some at a time."""
    moves = surroundings.moves
    parts = list(_strips(np.array([judged[k].path.centre[0] for k in places])))
    seen: dict[Edges, Edges] = {}  # most have the same
    for part in parts:
        own = [places[k] for k in part.tolist()]
        zones = _zones([judged[k] for k in own], surroundings.cutters) if len(parts) > 1 else None
        cuts = surroundings.near(zones) if zones else surroundings.cuts
        for k, edges, witness in _verdicts(cuts, own, judged):
            one = judged[k]
            bored = _may_be_thread(one, edges) and bored_before(cuts, moves, one.path, one.reach)
            edges = seen.setdefault(edges, edges)
            judged[k] = replace(one, edges=edges, witness=witness, surroundings=surroundings, bored=bored)


def _strips(x: Floats) -> Iterator[NDArray[np.intp]]:
    """Places (m,) in parts, by index: strips, each in order, that begin where none stands just before."""
    order = np.argsort(x, kind="stable")
    apart = np.flatnonzero(np.diff(x[order]) > _MARGIN) + 1
    begins = apart[np.flatnonzero(np.diff(apart // _TOGETHER, prepend=0))]
    yield from (np.sort(part) for part in np.split(order, begins))


def _zones(judged: Sequence[Judged], cutters: Mapping[int, Cutter | None]) -> Zones:
    """Where a cutter's centre may run that has to do with any of the rings."""
    widest = max(cutter.diameter for cutter in cutters.values() if cutter)
    # a compensated path lies beside its contour by a cutter's radius, and cuts as far again
    half = np.array([one.path.radius + 2 * one.reach + _gap(one) + widest for one in judged])
    return Zones.of(np.array([one.path.centre for one in judged]), half + _MARGIN)


def _gap(one: Judged) -> float:
    """How far beyond an edge material is looked for, mm."""
    return max(3 * one.ring.tolerance, 10 * MICROMETRE)


def _may_be_thread(one: Judged, edges: Edges) -> bool:
    return "helix" in one.ring.forms and not one.ring.flat and edges.inner == 0.0


def _verdicts(
    cuts: Cuts, places: Sequence[int], judged: Sequence[Judged]
) -> Iterator[tuple[int, Edges, Witness | None]]:
    """Edges and witness of each of the rings in these places, which share a frame and plane."""
    some = [judged[k] for k in places]
    gaps = np.array([_gap(one) for one in some])
    circles = Circles.of(tuple(one.path for one in some), np.array([one.reach for one in some]), gaps)
    # beside a compensated contour cuts do not meet at its corners
    plain = np.flatnonzero([not one.contour for one in some])
    turns = Turns.of(cuts, circles.take(plain))
    for tile, part in tiles(cuts, circles):
        edges = list(edges_of(cuts, part, turns))
        witnesses = [cleared(*each) for each in zip(edges, part.rings, part.reach.tolist(), strict=True)]
        for k in _roughed(cuts, part, witnesses, turns):
            witnesses[k] = None
        yield from zip((places[k] for k in tile), edges, witnesses, strict=True)


def _roughed(cuts: Cuts, circles: Circles, witnesses: Sequence[Witness | None], turns: Turns) -> list[int]:
    """The rings whose witness tells nothing: they are roughing, widened afterwards."""
    asked = [k for k, witness in enumerate(witnesses) if witness and witness.words != COVERED]
    if not asked:
        return []
    outwards = np.array([getattr(witnesses[k], "side", "") == "boss" for k in asked])
    later = widened_later(cuts, circles.take(np.array(asked)), outwards, turns)
    return [asked[k] for k in np.flatnonzero(later)]


def _as_run(
    ring: Ring, moves: Moves, cutters: Mapping[int, Cutter | None], machine: Machine
) -> tuple[Judged, bool]:
    """The ring as its cutter runs it, and whether its edges can be judged."""
    cutter = cutters.get(ring.section)
    compensation = moves.states[int(moves.state[ring.rows[0]])].compensation
    contour = compensation != 40 and machine.contour
    path = _beside(ring, cutter, compensation) if contour and cutter else ring
    if path is not None and path is not ring:
        ring = replace(ring, aside=path.radius - ring.radius)
    square = machine.spindle_axis not in PLANE_NAMES[ring.normal]
    if path is None or cutter is None or not (cutter.cylindrical and ring.known and square):
        return Judged(ring, ring, cutter, contour=contour), False
    return Judged(ring, path, cutter, contour=contour), True


def _beside(ring: Ring, cutter: Cutter, compensation: int) -> Ring | None:
    """The circle that the tool's centre runs beside a contour; None where it has no place there."""
    if ring.turn == "both":
        return None
    inside = (compensation == 41) == (ring.turn == "ccw")
    aside = -cutter.diameter / 2 if inside else cutter.diameter / 2
    flats = None if ring.over_flats is None else ring.over_flats + aside
    radius = ring.radius + aside
    return replace(ring, radius=radius, over_flats=flats) if radius > 0 else None

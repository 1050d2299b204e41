"""The planner: corrections, the path for them, and another look at what that path would do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import nan

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find import Feature, Ring, free_of_doubt
from roundwright.packed import Packed
from roundwright.plan.bend import bends
from roundwright.plan.clash import Census, clashes, displaced
from roundwright.plan.context import context_warnings
from roundwright.plan.correction import correct_features, hold_back_corrected, refused
from roundwright.plan.feed import wall_feeds
from roundwright.plan.held import RingShift, ring_shifts
from roundwright.plan.plan import ArcTargets, Correction, Decimals, Ends, Plan
from roundwright.plan.request import Request
from roundwright.plan.shift import Obstacle, Shift, shift_path
from roundwright.trace.moves import Moves
from roundwright.units import INCH

#: changed numbers have at least so many decimals: half a unit is 0.5 µm, in inches 1.3 µm.
LEAST_MM, LEAST_INCH, MOST = 3, 4, 8


class Writing(Struct, frozen=True):
    """How the corrected program is written: the most decimals that the control reads, and the stamp."""

    most_decimals: int = MOST
    stamp: str | None = None


def plan_corrections(
    moves: Moves,
    features: Sequence[Feature],
    request: Request,
    census: Census,
    writing: Writing,
    barred: Sequence[Obstacle] = (),
) -> Plan:
    """The plan for a program: a correction or a reason for every feature, and where the path goes.

    `census` finds the features of displaced moves with the same tools and settings; `barred` are
    features that an earlier plan could not be written for. Raises SettingsError for a target that cannot
    be meant.
    """
    corrections = correct_features(features, request)
    finest = 10.0**-moves.finest * (INCH if request.inch else 1.0)
    corrections, warnings = hold_back_corrected(corrections, finest, again=request.settings.again)
    corrections = _bar(corrections, barred)
    path = _Path()
    while any(c.status == "corrected" for c in corrections):
        path, obstacles = _try(moves, features, corrections, request, census)
        if not obstacles:
            break
        corrections = _bar(corrections, obstacles)
        path = _Path()
    feeds = wall_feeds(features, moves)
    return Plan(
        corrections=Packed(Correction, (_with_lines(c, path, moves) for c in corrections)),
        ends=path.ends,
        arcs=path.arcs,
        decimals=Decimals(LEAST_MM, LEAST_INCH, min(MOST, writing.most_decimals)),
        stamp=writing.stamp if path.ends else None,
        warnings=(*warnings, *context_warnings(corrections, feeds, request)),
        touched=path.touched,
        feeds=feeds,
        spread=request.settings.spread,
    )


class _Path(Struct, frozen=True, eq=False):
    """Where the path goes: what is kept of a `Shift`."""

    ends: Ends = Ends.of({})
    arcs: ArcTargets = ArcTargets.of({})
    touched: Mapping[str, NDArray[np.int64]] = {}


def _path(moves: Moves, shift: Shift) -> _Path:
    return _Path(shift.ends(moves), shift.arcs, shift.touched)


def _try(
    moves: Moves,
    features: Sequence[Feature],
    corrections: Sequence[Correction],
    request: Request,
    census: Census,
) -> tuple[_Path, Sequence[Obstacle]]:
    """Displace the path for the corrections as they stand, and see what that would do."""
    path, after, obstacles = _displaced(moves, features, corrections, request)
    if obstacles:
        return path, obstacles
    found = census(after, free_of_doubt(features))
    planned = [c.corrected if c.status == "corrected" and c.corrected else nan for c in corrections]
    return path, clashes(features, found, np.array(planned), path.touched)


def _displaced(
    moves: Moves, features: Sequence[Feature], corrections: Sequence[Correction], request: Request
) -> tuple[_Path, Moves, Sequence[Obstacle]]:
    """The path for the corrections, the moves along it, and what by itself stands in its way."""
    spread = request.settings.spread == "rings"
    moving = Packed(RingShift, _moving(corrections, spread=spread))
    fixed = Packed(Ring, _fixed(corrections, spread=spread))
    shift = shift_path(moves, moving, fixed)
    if shift.obstacles:
        return _path(moves, shift), moves, shift.obstacles
    after = displaced(moves, shift)
    contour = request.table is None or request.table.machine.contour
    return _path(moves, shift), after, bends(moves, after, shift, features, contour=contour)


def _moving(corrections: Iterable[Correction], *, spread: bool) -> Iterator[RingShift]:
    """The rings that move, and how far."""
    for one in corrections:
        if one.status == "corrected" and one.change:
            yield from ring_shifts(one.feature, one.change / 2, spread=spread)


def _fixed(corrections: Iterable[Correction], *, spread: bool) -> Iterator[Ring]:
    """The rings that stay."""
    for one in corrections:
        moves = one.status == "corrected" and one.change
        if not moves:
            yield one.feature.wall
        if not (moves and spread):
            yield from one.feature.clearing


def _bar(corrections: Sequence[Correction], obstacles: Sequence[Obstacle]) -> Sequence[Correction]:
    if not obstacles:
        return corrections
    first: Mapping[str, Obstacle] = {o.feature: o for o in reversed(obstacles)}
    return Packed(Correction, (_barred(c, first.get(c.feature.id)) for c in corrections))


def _barred(correction: Correction, obstacle: Obstacle | None) -> Correction:
    """The same correction, not made where something stands in its way."""
    if obstacle is None or correction.status != "corrected":
        return correction
    return refused(correction, obstacle.reason, obstacle.why)


def _with_lines(correction: Correction, path: _Path, moves: Moves) -> Correction:
    """The first and last line that changes, where any does."""
    rows = path.touched.get(correction.feature.id)
    if rows is None or not len(rows):
        return correction
    lines = (int(moves.line[max(0, rows[0])]), int(moves.line[rows[-1]]))
    return replace(correction, feature=replace(correction.feature, lines=lines))

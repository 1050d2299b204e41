"""What only looks like a hole or boss, and what must not be touched: faults with what would settle them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import inf

import numpy as np
from msgspec import Struct

from roundwright.find.feature import Fault, Ring
from roundwright.find.ring import SAME_DEPTH
from roundwright.find.stack import Judged
from roundwright.read.distinct import distinct
from roundwright.settings import Machine
from roundwright.trace.moves import PLANE_NAMES, Motion, Moves
from roundwright.units import GRAIN

#: a sweep (radians) that no rounding of a half circle reaches.
_LONG_WAY = np.radians(200)


class Doubt(Struct, frozen=True):
    """Why a circle is left alone, and what would settle it."""

    fault: Fault
    why: str


def doubt_of(moves: Moves, machine: Machine, one: Judged) -> Doubt | None:
    """The first thing, if any, that speaks against correcting a single ring."""
    for look in (_mode, _clean, _placed, _tool, _thread):
        doubt = look(moves, machine, one)
        if doubt is not None:
            return doubt
    return None


def _mode(moves: Moves, machine: Machine, one: Judged) -> Doubt | None:
    ring = one.ring
    if machine.spindle_axis in PLANE_NAMES[ring.normal]:
        return Doubt(
            "unsupported-mode",
            f"its plane {PLANE_NAMES[ring.normal]} is not square to the spindle ({machine.spindle_axis})",
        )
    states = {int(moves.state[row]) for row in ring.rows}
    mode = next((moves.states[s].unsupported for s in states if moves.states[s].unsupported), "")
    return Doubt("unsupported-mode", f"{mode} is in force here, which is not read") if mode else None


def _clean(moves: Moves, _: Machine, one: Judged) -> Doubt | None:
    """Three arcs in a row that each go far more than half way round: most likely the wrong way round."""
    if len(one.ring.rows) < 3 or not len(moves.arcs.row):
        return None
    rows, arcs = np.array(one.ring.rows), moves.arcs
    arc = np.minimum(np.searchsorted(arcs.row, rows), len(arcs.row) - 1)
    sweep = np.where(arcs.row[arc] == rows, np.abs(arcs.sweep[arc]), 0.0)
    long = rows[(sweep > _LONG_WAY) & (sweep < 2 * np.pi - 1e-3)].tolist()
    if any(b == a + 1 and c == b + 1 for a, b, c in zip(long, long[1:], long[2:], strict=False)):
        return Doubt(
            "not-clean",
            "its arcs each go the long way round; check G2 against G3 and the signs of I, J, R",
        )
    return None


def _placed(moves: Moves, _: Machine, one: Judged) -> Doubt | None:
    ring = one.ring
    if not ring.known:
        return Doubt("position-unknown", "where the tool stands before it cannot be read from the program")
    rows = np.array(ring.rows)
    bit = np.uint8(1 << ring.normal)
    blind = ((moves.start_known[rows] & moves.end_known[rows] & bit) == 0).any()
    if blind and (moves.end_known & bit).any():
        return Doubt("position-unknown", "its depth cannot be read; give the depth axis before it")
    return None


def _tool(moves: Moves, _: Machine, one: Judged) -> Doubt | None:
    place = one.ring.section
    section = moves.sections[place]
    if section.doubtful:
        return Doubt("tool-doubtful", section.doubtful)
    if one.cutter is None:
        if section.tool is None:
            why = f"the program does not say which tool cuts here; name it with --tool @{place + 1}=TOOL"
        else:
            why = (
                f"the diameter of tool {section.tool} is not known; add it to the table "
                f"or say --diameter {section.tool}=DIAMETER"
            )
        return Doubt("tool-unknown", why)
    if not one.cutter.cylindrical:
        return Doubt("tool-shape", f"{one.cutter.name} is not cylindrical, its circles have no one diameter")
    if one.contour and one.edges is None and one.ring.known and one.ring.turn != "both":
        return Doubt(
            "tool-doubtful",
            f"{one.cutter.name} does not fit inside its compensated contour; "
            "check the tool, and `compensation` in the table",
        )
    if one.edges is not None and one.edges.blind:
        return Doubt(
            "tool-unknown", "a tool of unknown diameter cuts here too; name the tool of every section"
        )
    return None


def _thread(moves: Moves, _: Machine, one: Judged) -> Doubt | None:
    """A helix without a flat closing turn that climbs out as it cuts, or widens what another tool bored."""
    if one.ring.flat:
        return None
    rows = np.array(one.ring.rows)
    rise = (moves.end[rows, one.ring.normal] - moves.start[rows, one.ring.normal]) * 1e-8
    if (rise >= -SAME_DEPTH / 10).all() and rise.sum() > SAME_DEPTH:
        return Doubt("thread", "the helix climbs out as it cuts and has no flat turn: most likely a thread")
    if one.bored:
        why = (
            "a helix without a flat turn, in a hole that another tool has bored as deep: it may be a thread; "
            "if it is a plain hole, end its helix with a flat turn"
        )
        return Doubt("thread", why)
    return None


def highest_rapids(moves: Moves) -> dict[tuple[int, int], float]:
    """The greatest height (mm) that a rapid ends at, by frame and normal, where it is known."""
    rapid = np.flatnonzero(moves.motion == Motion.RAPID)
    frame = np.array([state.frame for state in moves.states], dtype=np.int64)[moves.state[rapid]]
    highest: dict[tuple[int, int], float] = {}
    for normal in range(3):
        known = (moves.end_known[rapid] & (1 << normal)) != 0
        for k in distinct(frame[known]).tolist():
            highest[k, normal] = float(moves.end[rapid[known & (frame == k)], normal].max() * GRAIN)
    return highest


def upside_down(ring: Ring, highest: Mapping[tuple[int, int], float]) -> Doubt | None:
    """A ring that is cut higher up than any rapid goes: then depths count downwards, which is not read."""
    if highest.get((ring.frame, ring.normal), inf) >= ring.z[1] - SAME_DEPTH:
        return None
    return Doubt(
        "unsupported-mode",
        "it is cut higher up than any rapid goes, so depths seem to be written as positive numbers",
    )


def is_taper(walls: Sequence[Ring]) -> bool:
    """Four or more wall rings on one centre whose radius changes monotonically with depth."""
    if len(walls) < 4:
        return False
    levels = sorted(walls, key=lambda ring: -ring.z[1])
    steps = [(b.radius - a.radius, a.z[1] - b.z[1]) for a, b in pairwise(levels)]
    down = all(dz > SAME_DEPTH for _, dz in steps)
    return down and (all(dr > 0 for dr, _ in steps) or all(dr < 0 for dr, _ in steps))

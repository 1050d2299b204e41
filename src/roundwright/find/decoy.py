"""What only looks like a hole or boss, and what must not be touched: faults with what would settle them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import inf

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.feature import Fault, Ring
from roundwright.find.ring import SAME_DEPTH
from roundwright.find.stack import Judged
from roundwright.read.distinct import distinct
from roundwright.settings import Machine
from roundwright.trace.moves import PLANE_NAMES, Motion, Moves
from roundwright.units import GRAIN

#: a sweep (radians) that no rounding of a half circle reaches.
_LONG_WAY = np.radians(200)
#: moves that are looked at together.
_PORTION = 1 << 16


class Doubt(Struct, frozen=True):
    """Why a circle is left alone, and what would settle it."""

    fault: Fault
    why: str


class _Marks(Struct, frozen=True):
    """What the moves of a ring say against it: see where each is asked for."""

    unread: bool
    wrong_way: bool
    blind: bool


def doubts_of(moves: Moves, machine: Machine, judged: Sequence[Judged]) -> list[Doubt | None]:
    """The first thing, if any, that speaks against correcting each single ring."""
    looks = (_mode, _clean, _placed, _tool, _thread)
    marks = _marks_of(moves, [one.ring for one in judged])
    return [
        next((doubt for look in looks if (doubt := look(moves, machine, one, mark)) is not None), None)
        for one, mark in zip(judged, marks, strict=True)
    ]


def _marks_of(moves: Moves, rings: Sequence[Ring]) -> list[_Marks]:
    """What the moves of each ring say, of all rings at once."""
    if not rings:
        return []
    size = np.array([len(ring.rows) for ring in rings])
    ring, begins = np.repeat(np.arange(len(rings)), size), np.cumsum(size) - size
    row = np.array([row for one in rings for row in one.rows], np.int64)
    read = np.array([not state.unsupported for state in moves.states], np.bool_)
    anywhere = np.bitwise_or.reduce(moves.end_known, initial=0)  # depths that the program says somewhere
    depth = (1 << np.array([one.normal for one in rings]))[ring] & anywhere
    long = _long_way(moves, row)
    three = np.zeros(len(row), np.bool_)
    three[2:] = long[2:] & long[1:-1] & long[:-2] & (row[2:] == row[:-2] + 2) & (ring[2:] == ring[:-2])
    blind = depth & ~(moves.start_known[row] & moves.end_known[row]) != 0
    columns = (~read[moves.state[row]], three, blind)
    marks = (np.logical_or.reduceat(column, begins).tolist() for column in columns)
    return [_Marks(*each) for each in zip(*marks, strict=True)]


def _long_way(moves: Moves, rows: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which rows are arcs that go far more than half way round, and not all the way."""
    arcs = moves.arcs
    if not len(arcs.row):
        return np.zeros(len(rows), np.bool_)
    arc, is_arc = arcs.at(rows)
    sweep = np.where(is_arc, np.abs(arcs.sweep[arc]), 0.0)
    return np.asarray((sweep > _LONG_WAY) & (sweep < 2 * np.pi - 1e-3))


def _mode(moves: Moves, machine: Machine, one: Judged, marks: _Marks) -> Doubt | None:
    ring = one.ring
    if machine.spindle_axis in PLANE_NAMES[ring.normal]:
        return Doubt(
            "unsupported-mode",
            f"its plane {PLANE_NAMES[ring.normal]} is not square to the spindle ({machine.spindle_axis})",
        )
    if not marks.unread:
        return None
    states = {int(moves.state[row]) for row in ring.rows}
    mode = next(moves.states[s].unsupported for s in states if moves.states[s].unsupported)
    return Doubt("unsupported-mode", f"{mode} is in force here, which is not read")


def _clean(_: Moves, __: Machine, ___: Judged, marks: _Marks) -> Doubt | None:
    """Three arcs in a row that each go far more than half way round: most likely the wrong way round."""
    if not marks.wrong_way:
        return None
    return Doubt(
        "not-clean",
        "its arcs each go the long way round; check G2 against G3 and the signs of I, J, R",
    )


def _placed(_: Moves, __: Machine, one: Judged, marks: _Marks) -> Doubt | None:
    """Where the ring is; how deep is not asked in a program that never says a depth."""
    if not one.ring.known:
        return Doubt("position-unknown", "where the tool stands before it cannot be read from the program")
    if marks.blind:
        return Doubt("position-unknown", "its depth cannot be read; give the depth axis before it")
    return None


def _tool(moves: Moves, _: Machine, one: Judged, __: _Marks) -> Doubt | None:
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


def _thread(moves: Moves, _: Machine, one: Judged, __: _Marks) -> Doubt | None:
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
    highest: dict[tuple[int, int], float] = {}
    frames = np.array([state.frame for state in moves.states], dtype=np.int64)
    for first in range(0, len(moves), _PORTION):
        rapid = first + np.flatnonzero(moves.motion[first : first + _PORTION] == Motion.RAPID)
        frame = frames[moves.state[rapid]]
        for normal in range(3):
            known = (moves.end_known[rapid] & (1 << normal)) != 0
            for k in distinct(frame[known]).tolist():
                height = float(moves.end[rapid[known & (frame == k)], normal].max() * GRAIN)
                highest[k, normal] = max(height, highest.get((k, normal), height))
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

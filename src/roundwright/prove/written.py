"""What a line says by the second reader, held against what the trace made of it."""

from __future__ import annotations

from decimal import Decimal

from roundwright.prove.blocks import PlainBlock
from roundwright.trace.moves import CENTRE_LETTERS, PLANE_AXES, ArcFault, Moves, State
from roundwright.units import GRAIN, INCH

#: the exact length of an inch in mm (NIST SP 811, B.8), and a unit of positions, 1e-8 mm, both as decimals.
_INCH, _GRAIN = Decimal("25.4"), Decimal("1e-8")
#: how far figures may be apart for their rounding in the trace: counts of a position, 1e-8 of its unit,
#: and mm of a centre.
COUNTS, APART = 2, 1e-6


def misread(moves: Moves, row: int, block: PlainBlock) -> str:
    """What a traced move has otherwise than its block says, which holds no other move; empty where nothing.

    The block is read with nothing but the exact values of its words and the move's modal state: a position
    is said or stays, a centre is counted from the start or from zero, a radius is as written.
    """
    state = moves.states[int(moves.state[row])]
    said = [word.name for word in block.words if word.name in "XYZIJKR"]
    if state.unsupported or len(set(said)) < len(said) or _shared(moves, row):
        return ""
    return _end(moves, row, block, state) or _circle(moves, row, block, state)


def _shared(moves: Moves, row: int) -> bool:
    """Whether another move stands on the line."""
    lines = moves.line[max(row - 1, 0) : row + 2].tolist()
    return bool(lines.count(int(moves.line[row])) > 1)


def _end(moves: Moves, row: int, block: PlainBlock, state: State) -> str:
    """What is wrong with where the move ends."""
    start, end = moves.start[row].tolist(), moves.end[row].tolist()
    for axis, name in enumerate("XYZ"):
        written = block.value(name)
        goes = end[axis] - start[axis]
        if written is None:
            due, found = 0, goes
        else:
            due = int(_mm(written, state) / _GRAIN)
            found = goes if state.incremental else end[axis]
        if abs(found - due) > (COUNTS * INCH if state.inch else COUNTS):
            return f"{name} is {due * GRAIN:.5f} mm as written, {found * GRAIN:.5f} mm as traced"
    return ""


def _circle(moves: Moves, row: int, block: PlainBlock, state: State) -> str:
    """What is wrong with the circle of the move, where it is a sound arc."""
    k = moves.arcs.number(row)
    if k is None or moves.arcs.fault[k] != ArcFault.NONE:
        return ""
    radius = block.value("R")
    if moves.arcs.r_form[k]:
        due = 0.0 if radius is None else float(abs(_mm(radius, state)))
        found = float(moves.arcs.radius[k])
        return "" if abs(due - found) <= APART else f"R is {due:.5f} mm as written, {found:.5f} mm as traced"
    for axis, name, centre in zip(
        PLANE_AXES[state.normal], CENTRE_LETTERS[state.normal], moves.arcs.centre[k].tolist(), strict=True
    ):
        written = block.value(name)
        start = int(moves.start[row, axis]) * GRAIN
        due = 0.0 if written is None else float(_mm(written, state))
        meant = {True: (due,), False: (start + due,), None: (due, start + due)}[state.arc_absolute]
        if written is None:
            meant = (start,)
        if min(abs(centre - place) for place in meant) > APART:
            return f"{name} is {due:.5f} mm as written, the centre {centre:.5f} mm as traced"
    return ""


def _mm(number: Decimal, state: State) -> Decimal:
    return number * _INCH if state.inch else number

"""pygcode, an independent reader, agrees with the trace on every end point and centre of the samples.

Authority: the library pygcode (its own grammar, modal groups and machine).
"""

from math import hypot, sqrt

import pytest
from pygcode import Line, Machine
from pygcode.gcodes import GCodeArcMove, GCodeArcMoveCCW, GCodeCannedCycle, GCodeMotion

from cases import all_cases
from roundwright.read import read_program
from roundwright.trace import trace_moves
from roundwright.trace.moves import Motion

pytestmark = pytest.mark.published

SAMPLES = [case for case in all_cases() if case.name.startswith("sample-")]
GRAIN = 1e-8


def pygcode_moves(text, unit):
    """Line, end point, and centre of an arc, as pygcode has them; mm, the units of the program as given."""
    machine = Machine()
    moves = []
    for number, line in enumerate(text.splitlines()):
        if line.strip() == "%":
            continue
        block = Line(line).block
        motions = [g for g in block.gcodes if isinstance(g, GCodeMotion | GCodeCannedCycle)]
        if block.modal_params and not motions:
            motions = [machine.modal_gcode(block.modal_params)]
        start = machine.pos
        machine.process_block(block)
        for motion in motions:
            if not motion.params:
                continue
            end = machine.pos
            point = tuple(unit * getattr(end, axis) for axis in "XYZ")
            centre = _centre(motion, start, end, unit) if isinstance(motion, GCodeArcMove) else None
            moves.append((number, point, centre, isinstance(motion, GCodeCannedCycle)))
    return moves


def _centre(arc, start, end, unit):
    given = arc.get_param_dict("IJR")
    if "R" not in given:
        return unit * (start.X + given.get("I", 0)), unit * (start.Y + given.get("J", 0))
    dx, dy = end.X - start.X, end.Y - start.Y
    chord = hypot(dx, dy)
    up = sqrt(max(0.0, given["R"] ** 2 - (chord / 2) ** 2)) * (1 if given["R"] > 0 else -1)
    up *= 1 if isinstance(arc, GCodeArcMoveCCW) else -1
    return unit * ((start.X + end.X) / 2 - up * dy / chord), unit * ((start.Y + end.Y) / 2 + up * dx / chord)


@pytest.mark.parametrize("which", ["input", "output"])
@pytest.mark.parametrize("case", SAMPLES, ids=lambda case: case.name)
def test_every_end_point_and_centre_agrees(case, which):
    data = case.data if which == "input" else case.outcome.output
    moves = trace_moves(read_program(data, case.program.name))
    unit = 25.4 if moves.states[-1].inch else 1.0
    theirs = pygcode_moves(data.decode(), unit)
    assert [line for line, *_ in theirs] == moves.line.tolist()
    centres = dict(zip(moves.arcs.row.tolist(), moves.arcs.centre.tolist(), strict=True))
    arcs = 0
    for row, (_, point, centre, cycle) in enumerate(theirs):
        for axis in range(2 if cycle else 3):
            if moves.end_known[row] >> axis & 1:
                assert moves.end[row, axis] * GRAIN == pytest.approx(point[axis], abs=1e-6)
        assert (row in centres) == (centre is not None)
        if centre is not None:
            assert centres[row] == pytest.approx(centre, abs=1e-6)
            arcs += 1
        assert cycle == (moves.motion[row] == Motion.CYCLE)
    assert arcs >= 20

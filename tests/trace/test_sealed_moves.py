"""What a trace hands out is read-only: the proof is given the same old moves that the rewriter has seen."""

import numpy as np

from roundwright.read import read_program
from roundwright.trace import trace_moves


def test_no_column_of_program_or_moves_can_be_written_to():
    program = read_program(b"G21 G90 G17\nG0 X57 Y40\nG1 Z-3 F300\nG3 I-7\nM30\n")
    moves = trace_moves(program)
    for value in (program, moves, moves.program, moves.arcs):
        columns = [getattr(value, name) for name in type(value).__struct_fields__]
        arrays = [column for column in columns if isinstance(column, np.ndarray)]
        assert arrays and not any(array.flags.writeable for array in arrays)

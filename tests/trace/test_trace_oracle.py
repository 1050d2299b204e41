"""The columns against a plain interpreter, block by block, on generated and on real programs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from corpus import FOLDER
from plain_interpreter import Plain
from roundwright.errors import ProgramError
from roundwright.read import Program, read_program
from roundwright.read.program import PROGRAM_NUMBER
from roundwright.trace import ArcFault, Moves, trace_moves


def agree(program: Program, moves: Moves, *, absolute: bool) -> None:
    """Every row, position, known bit and centre-form arc is what the plain interpreter finds."""
    rows = Plain(arcs_absolute=absolute).run(program)
    assert moves.line.tolist() == [row.line for row in rows]
    arc_of = {int(row): index for index, row in enumerate(moves.arcs.row)}
    for index, row in enumerate(rows):
        text = program.line_text(row.line)
        assert moves.motion[index] == row.motion, text
        assert tuple(moves.start[index].tolist()) == row.start, text
        assert tuple(moves.end[index].tolist()) == row.end, text
        assert moves.start_known[index] == row.start_known, text
        assert moves.end_known[index] == row.end_known, text
        state = moves.states[moves.state[index]]
        assert (state.inch, state.incremental, state.normal) == (row.inch, row.incremental, row.normal)
        if row.centre is not None:
            same_arc(moves, arc_of[index], row)


def same_arc(moves: Moves, arc: int, row) -> None:
    arcs = moves.arcs
    if arcs.fault[arc] == ArcFault.UNKNOWN:
        return
    assert arcs.centre[arc] == pytest.approx(row.centre, abs=1e-9)
    assert arcs.radius[arc] == pytest.approx(row.radius, abs=1e-9)
    assert arcs.radius_end[arc] == pytest.approx(row.radius_end, abs=1e-9)
    if min(row.radius, row.radius_end) > 1e-6:
        turn = arcs.sweep[arc] - row.sweep
        assert min(abs(turn), abs(abs(turn) - math.tau)) < 1e-6
        assert np.sign(arcs.sweep[arc]) == np.sign(row.sweep)


numbers = st.one_of(
    st.integers(-50, 50).map(str),
    st.decimals(-50, 50, places=3).map(str),
    st.decimals(-9, 9, places=7).map(lambda d: f"{d:f}"),
)
axis_word = st.tuples(st.sampled_from("XYZ"), numbers).map("".join)
centre_word = st.tuples(st.sampled_from("IJKIJKR"), numbers).map("".join)
MODES = "G0 G1 G2 G3 G0 G1 G2 G3 G17 G18 G19 G20 G21 G90 G91 G80 G81 G83 G38.2 G40 G41 G94 F100 S900 M3"
mode_word = st.sampled_from(MODES.split())
words = st.lists(st.one_of(mode_word, axis_word, axis_word, centre_word), min_size=1, max_size=6)
special = st.sampled_from(
    [
        "G92 X1 Y2.5",
        "G28 X0",
        "G30",
        "G53 Z-1",
        "G4 P1",
        "G4 X2",
        "M6",
        "G43 H1",
        "G49",
        "G55",
        "G54",
        "T2 M6",
        "G28",
        "G92 Z0",
        "G91 G81 X1.5 Y-2 Z-3 R1 L4",
        "G81 X7 L2",
        "X1 L0",
    ]
)
block = st.one_of(
    words.map(" ".join),
    words.map(" ".join),
    words.map(" ".join),
    special,
    words.map(lambda w: "/" + " ".join(w)),
)
programs = st.lists(block, max_size=30).map(lambda blocks: "\n".join([*blocks, "M30", "G1 X99", ""]))


@settings(max_examples=200, deadline=None)
@example("G0\nG91 G81 X1.5 Y-2 Z-3 R1 L4\nX0\nG92 Z0\nG17\nG28 X0\nM30\nG1 X99\n")
@given(programs)
def test_columns_equal_the_plain_interpreter(text: str) -> None:
    program = read_program(text.encode(), "made.nc")
    agree(program, trace_moves(program, "incremental"), absolute=False)


@settings(max_examples=100, deadline=None)
@given(programs)
def test_absolute_centres_equal_the_plain_interpreter(text: str) -> None:
    program = read_program(text.encode(), "made.nc")
    agree(program, trace_moves(program, "absolute"), absolute=True)


def plain_enough(program: Program) -> bool:
    """Whether the plain interpreter can read the whole program."""
    letters = {chr(c) for c in set(program.letter.tolist())}
    codes = program.value[program.letter == ord("G")]
    strange = {10, 52, 5, 12, 13, 6, 50, 68, 74, 76, 29, 31, 71, 65, 16, 15, 7, 8}
    calls = np.isin(program.value[program.letter == ord("M")], np.array([97, 98, 99]) * 10**8).any()
    numbers = np.flatnonzero(program.flags & PROGRAM_NUMBER)
    moved = program.line[np.isin(program.letter, [ord(c) for c in "XYZ"])]
    bodies = len(moved) and (numbers > moved[0]).any()
    fractions = np.isin(codes % 10**8, [0]).all() or set((codes % 10**8).tolist()) <= {0, 10**7}
    return not (
        program.unread
        or letters & set("UVWE")
        or set((codes // 10**8).tolist()) & strange
        or calls
        or bodies
        or not fractions
        or len(program.data) > 600_000
    )


@pytest.mark.skipif(not FOLDER.is_dir(), reason="the folder of real programs is not here")
def test_real_programs_equal_the_plain_interpreter() -> None:
    compared = 0
    for path in sorted(FOLDER.iterdir()):
        if path.suffix in (".md", ".tsv"):
            continue
        program = read_program(path.read_bytes(), path.name)
        if not plain_enough(program):
            continue
        try:
            moves = trace_moves(program)
        except ProgramError:
            continue
        absolute = "absolute" in moves.arc_centres or any(s.arc_absolute for s in moves.states)
        agree(program, moves, absolute=absolute)
        compared += 1
    assert compared > 50

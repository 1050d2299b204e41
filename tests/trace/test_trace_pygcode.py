"""Positions against pygcode's machine, an independent interpreter (a general-purpose library)."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pygcode import Line, Machine

from roundwright.read import Program, read_program, words_of
from roundwright.trace import Moves, trace_moves

#: what pygcode's machine does not follow: other coordinates, cycles, anything that is no plain motion.
FOLLOWED = {f"G{n}" for n in (0, 1, 2, 3, 17, 18, 19, 20, 21, 40, 41, 42, 54, 64, 80, 90, 91, 90.1, 91.1, 94)}

pytestmark = pytest.mark.published


def block_text(program: Program, line: int) -> str:
    """The words of a block, written so that pygcode can read them."""
    words = []
    for word in words_of(program, line):
        letter, value = chr(word.letter), word.value / 1e8
        if letter == "G" and f"G{value:g}" not in FOLLOWED:
            raise LookupError(letter)
        if letter in "GXYZIJKRF":
            words.append(f"{letter}{value:.8f}" if letter != "G" else f"G{value:g}")
        elif letter not in "NSMTHD":
            raise LookupError(letter)
    return " ".join(words)


def compare(program: Program, moves: Moves) -> int:
    """How many end positions pygcode's machine and the trace both know; they must be the same."""
    machine = Machine()
    row_of = {int(line): row for row, line in enumerate(moves.line)}
    scale = 25.4 if any(state.inch for state in moves.states) else 1.0
    compared = 0
    for line in range(min(program.lines, 400)):
        try:
            machine.process_block(Line(block_text(program, line)).block)
        except Exception:  # pygcode raises what it likes; from here on it has lost the thread
            break
        row = row_of.get(line)
        if row is None:
            continue
        known = [axis for axis in range(3) if moves.end_known[row] >> axis & 1]
        there = [getattr(machine.pos, "XYZ"[axis]) * scale for axis in known]
        assert moves.end[row, known] / 1e8 == pytest.approx(there, abs=1e-6), program.line_text(line)
        compared += len(known)
    return compared


length = st.decimals(-80, 80, places=3).map(str)
move = st.tuples(
    st.sampled_from(["G0", "G1", "", "G90 G1", "G91 G0"]),
    st.dictionaries(st.sampled_from("XYZ"), length, min_size=1),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(move, max_size=15), st.sampled_from(["G20", "G21"]))
def test_made_programs(blocks: list[tuple[str, dict[str, str]]], unit: str) -> None:
    lines = [f"{unit} G90 G0 X0 Y0 Z0"]
    lines += [
        f"{code} " + " ".join(f"{axis}{value}" for axis, value in words.items()) for code, words in blocks
    ]
    program = read_program("\n".join(lines).encode(), "made.nc")
    assert compare(program, trace_moves(program)) == 3 * len(lines)

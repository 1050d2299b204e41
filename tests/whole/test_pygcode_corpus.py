"""pygcode, an independent reader, agrees with the trace on the real programs: end points and centres of arcs.

Authority: the library pygcode (its own grammar, modal groups and machine). What it does not follow is left
out block by block and counted: behind such a block its machine is set to where the trace is.
Of each program the first `LINES` lines are compared, for pygcode takes milliseconds a line. Skips where the
folder is absent.
"""

from collections import Counter

import pytest
from pygcode import Line, Machine

import corpus
from roundwright.errors import ProgramError
from roundwright.read import read_program, words_of
from roundwright.trace import trace_moves
from roundwright.trace.moves import PLANE_AXES, ArcFault

pytestmark = [
    pytest.mark.published,
    corpus.needed,
]

LINES = 300
GRAIN = 1e-8
#: codes that pygcode's machine follows, and those that leave positions alone, which it is not shown.
FOLLOWED = {f"G{n}" for n in (0, 1, 2, 3, 17, 18, 19, 20, 21, 90, 91, 90.1, 91.1)}
HARMLESS = {f"G{n}" for n in (40, 43, 49, 61, 64, 80, 94, 98, *range(54, 60))}
#: shares that the comparison must reach: of all programs, and of the moves and arcs of the lines looked at.
PROGRAMS, MOVES, ARCS = 0.9, 0.93, 0.93


def block_text(program, line):
    """A block's words as pygcode can read them, and its I and J; LookupError for what it does not follow."""
    words, centre = [], {}
    for word in words_of(program, line):
        letter, value = chr(word.letter), word.value / 1e8
        code = f"G{value:g}"
        if letter == "G" and code not in FOLLOWED | HARMLESS:
            raise LookupError(code)
        if letter == "G":
            words += [code] if code in FOLLOWED else []
        elif letter in "XYZIJKRF":
            words.append(f"{letter}{value:.8f}")
        elif letter not in "NSMTHDO":
            raise LookupError(letter)
        if letter in "IJKR":
            centre[letter] = value
    return " ".join(words), centre


def compare(path, seen):
    """Hold one program's first lines against pygcode's machine; `seen` counts what was compared."""
    program = read_program(path.read_bytes(), path.name)
    moves = trace_moves(program)
    rows = {}
    for row, line in enumerate(moves.line.tolist()):
        rows[line] = None if line in rows else row  # several moves in one block: not followed
    arcs = {int(row): k for k, row in enumerate(moves.arcs.row)}
    machine, before = Machine(), seen["moves"]
    for line in range(min(program.lines, LINES)):
        row = rows.get(line, -1)
        seen["all moves"] += row != -1
        seen["all arcs"] += row in arcs
        try:
            text, centre = block_text(program, line)
            start = machine.pos
            machine.process_block(Line(text).block)
        except Exception as lost:  # pygcode raises what it likes
            seen[f"left out: {lost}" if isinstance(lost, LookupError) else "left out: pygcode"] += row != -1
            row = None if row is not None and row >= 0 else row
        if row is not None and row >= 0:
            seen["moves"] += _agrees(moves, row, machine)
            seen["arcs"] += row in arcs and _centre_agrees(moves, row, arcs[row], start, centre)
        last = row if row is not None and row >= 0 else rows.get(line)
        if last is not None and last >= 0:
            _follow(machine, moves, last)
    seen["programs"] += seen["moves"] > before


def _unit(moves, row):
    return 25.4 if moves.states[int(moves.state[row])].inch else 1.0


def _agrees(moves, row, machine):
    """Whether there was something to compare; what is known must be the same."""
    known = [axis for axis in range(3) if moves.end_known[row] >> axis & 1]
    there = [getattr(machine.pos, "XYZ"[axis]) * _unit(moves, row) for axis in known]
    assert moves.end[row, known] * GRAIN == pytest.approx(there, abs=1e-6), (moves.line[row] + 1, there)
    return bool(known)


def _centre_agrees(moves, row, arc, start, centre):
    """Whether the centre was compared: of an arc with I, J, K, from a place that is known."""
    state = moves.states[int(moves.state[row])]
    if "R" in centre or moves.arcs.fault[arc] != ArcFault.NONE:
        return False
    axes = PLANE_AXES[state.normal]
    if any(not moves.start_known[row] >> axis & 1 for axis in axes):
        return False
    from_start, from_zero = (
        [
            (base * getattr(start, "XYZ"[axis]) + centre.get("IJK"[axis], 0.0)) * _unit(moves, row)
            for axis in axes
        ]
        for base in (1, 0)
    )
    found = moves.arcs.centre[arc].tolist()
    meant = {False: (from_start,), True: (from_zero,), None: (from_start, from_zero)}[state.arc_absolute]
    assert any(found == pytest.approx(there, abs=1e-6) for there in meant), (moves.line[row] + 1, meant)
    return True


def _follow(machine, moves, row):
    """Set pygcode's machine to where the trace is, so that one block left out spoils no other."""
    at = machine.pos
    for axis in range(3):
        if moves.end_known[row] >> axis & 1:
            setattr(at, "XYZ"[axis], float(moves.end[row, axis] * GRAIN / _unit(moves, row)))
    machine.pos = at


def test_every_end_point_and_centre_agrees_and_how_much_is_compared(capsys):
    seen: Counter[str] = Counter()
    for entry in corpus.entries().values():
        try:
            compare(entry.path, seen)
        except ProgramError:
            seen["refused"] += 1
    with capsys.disabled():
        print("\npygcode:", ", ".join(f"{count} {what}" for what, count in seen.most_common()))
    assert seen["programs"] >= PROGRAMS * len(corpus.entries())
    assert seen["moves"] >= MOVES * seen["all moves"]
    assert seen["arcs"] >= ARCS * seen["all arcs"]

"""What is spared when the new program is read: nothing that the whole of it would say otherwise."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from program_soup import programs as soup
from roundwright.errors import RoundwrightError
from roundwright.prove.reread import held_once, lines_of, reread
from roundwright.prove.untouched import changed_lines
from roundwright.read import read_program
from roundwright.read.lines import line_starts
from roundwright.trace import Moves, trace_moves

HEAD = ["G21 G90 G17", "T1 M6", "M3 S16000", "G0 X0 Y0 Z5 F300"]
RING = ["G1 X10.5 Y10 F900", "G3 X9.5 I-.5 J0", "G3 X10.5 I.5 J0", "G1 X10 Y10"]
#: blocks that a stretch may be made of, and blocks that end one.
SIMPLE = [
    "X1",
    "Y2.5",
    "G0 Z5",
    "G1 Z-1",
    "X7 Y7",
    "g1 x3 y4 f500",
    "N10 X4 (go on)",
    "F800 X2",
    "G00 X1. Y1.",
    "",
    "G2 X3 Y4 I1 J2",
    "G3 X5. Y5. R4",
    "G3 I-2",
    "G2 X2 Y2 I0.5 J1 F200",
    "G2 X9 Y9 Z-1 R9.5",
    "G3 X1 Y1",
]
OTHER = [
    "G91",
    "G90",
    "G20",
    "G21",
    "G55",
    "G92 X0",
    "T2 M6",
    "M5",
    "M0",
    "S9000",
    "G41 D1",
    "G40",
    "G18",
    "G17",
    "G28",
    "G4 P1",
    "G93",
    "G94",
    "M98 P5",
    "M30",
    "O5",
    "%",
    "X#1",
    "/X5",
    "G81 X1 Z-1 R1",
    "G80",
    "G53 X0",
    *RING,
]
COLUMNS = [
    name
    for name in Moves.__struct_fields__
    if name not in ("program", "arcs", "arc_centres", "sections", "warnings")
]


@st.composite
def programs(draw: st.DrawFn) -> list[str]:
    """Stretches of simple blocks with others between them."""
    lines = list(HEAD)
    for _ in range(draw(st.integers(1, 4))):
        pattern = draw(st.lists(st.sampled_from(SIMPLE), min_size=1, max_size=5))
        lines += (pattern * 40)[: draw(st.sampled_from([3, 30, 60]))]
        lines += draw(st.lists(st.sampled_from(OTHER + RING), max_size=4))
    return lines


def moves_of(text: bytes) -> Moves | None:
    try:
        return trace_moves(read_program(text))
    except RoundwrightError:
        return None


def agree(old: bytes, new: bytes) -> bool:
    """Reading only what changed gives the moves that reading everything gives; False where all is read."""
    before, whole = moves_of(old), moves_of(new)
    if before is None or whole is None:
        return False
    lines = lines_of(new, before.program)
    changed = changed_lines(before.program, lines, None)
    after = reread(before, lines, changed, None, "auto", least=6)
    if after is None:
        return False
    for name in COLUMNS:
        found, expected = getattr(after, name), getattr(whole, name)
        if name in ("states", "seal", "finest"):  # the proof judges by the old program's finest decimals
            continue
        if name == "state":
            found, expected = ([moves.states[k] for k in moves.state] for moves in (after, whole))
        if name == "decimals":  # the finest may stand in what is not read again
            found, expected = (np.minimum(part, before.finest) for part in (found, expected))
        np.testing.assert_array_equal(found, expected, err_msg=name)
    for name in after.arcs.__struct_fields__:
        np.testing.assert_array_equal(getattr(after.arcs, name), getattr(whole.arcs, name), err_msg=name)
    tools = [
        [(section.tool, bool(section.doubtful)) for section in moves.sections] for moves in (after, whole)
    ]
    assert tools[0] == tools[1]
    return True


@settings(max_examples=300)
@given(programs(), st.data())
def test_says_what_the_whole_program_says(lines: list[str], data: st.DataObject) -> None:
    new = list(lines)
    for at in data.draw(st.lists(st.integers(0, len(lines) - 1), max_size=3)):
        new[at] = data.draw(st.sampled_from([*SIMPLE, *OTHER, "X10.25", "G3 X9.25 I-.75 J0"]))
    end = data.draw(st.sampled_from(["\n", "\r\n"]))
    assume(agree(*(end.join((*part, "")).encode() for part in (lines, new))))


def test_says_of_centres_what_the_arcs_say_that_are_read() -> None:
    head, arc = ["G21 G90 G17", "T1 M6", "M3 S16000", "G0 X0 Y0 Z5 F300"], "G2 X2 Y2 I0.5 J1 F200"
    rest = [arc, arc, *["X1"] * 6, *["G0 Z5"] * 30, ""]
    assert agree(*("\n".join((*head, first, *rest)).encode() for first in (arc, "G2 X3 Y4 I1 J2")))


def test_a_long_stretch_is_not_read_again() -> None:
    stretch = "X1 Y2\nX2 Y1\n" * 600
    text = "\n".join((*HEAD, *RING, stretch, *RING, "M30", ""))
    before = trace_moves(read_program(text.encode()))
    new = text.replace("X10.5", "X10.6")
    changed = changed_lines(before.program, lines_of(new.encode(), before.program), None)
    assert len(changed) == 4
    # told that the stretch is the same it does not look: whether it is, `changed_lines` tells
    other = new.replace(stretch, "X1 Y2\nX2 Y1\n" * 10 + "X3 Y3\nX4 Y4\n" * 580 + "X1 Y2\nX2 Y1\n" * 10)
    spoiled = lines_of(other.encode(), before.program)
    seen, whole = (reread(before, spoiled, changed, None, "auto", least=least) for least in (900, 2000))
    assert whole is None
    assert seen is not None
    assert 3 * 100_000_000 not in seen.end[:, 0]
    assert 1060_000_000 in seen.end[:, 0]


@given(soup)
@example(b"")
@example(b"\r\n\r\r\n\n")
@example(b"G1\rX1")
def test_lines_begin_where_the_reader_has_them(data: bytes) -> None:
    try:
        expected = read_program(data).line_start
    except RoundwrightError:
        assume(False)
    assert line_starts(data).tolist() == expected.tolist()


def test_what_both_programs_have_is_held_once() -> None:
    text = "\n".join((*HEAD, *RING, "M30", ""))
    before, after = (trace_moves(read_program(one.encode())) for one in (text, text.replace("F900", "F901")))
    once = held_once(before, after)
    assert all(getattr(once, name) is getattr(before, name) for name in ("line", "motion", "state", "speed"))
    assert all(getattr(once.arcs, name) is getattr(before.arcs, name) for name in once.arcs.__struct_fields__)
    assert (before.feed != after.feed).any()
    for name in COLUMNS:
        np.testing.assert_array_equal(getattr(once, name), getattr(after, name), err_msg=name)

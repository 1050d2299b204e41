"""Modes, frames, tools and sections, and what makes a position unknown."""

from __future__ import annotations

import math

import numpy as np
import pytest

from roundwright.errors import ProgramError
from roundwright.trace import Motion
from tracing import ends, on_line, state_of, traced


@pytest.mark.parametrize(
    ("block", "known"),
    [
        ("G28", 0),
        ("G28 X0", 6),
        ("G91 G28 Z0", 3),
        ("G30 Y0 Z0", 1),
        ("G53 G0 Z0", 3),
        ("G38.2 Z-5", 3),
        ("M98 P5", 0),
        ("M97 P5", 0),
        ("G65 P9010 A1", 0),
        ("G1 X[#1] Y2", 6),
        ("G1 X#1", 6),
        ("WHILE [#1 LT 5] DO1", 0),
        ("o100 call [1] [2]", 0),
        ("G1 X=5 Y=2", 0),
        ("#5=12", 7),
        ("#<depth> = [3 * SIN[30]]", 7),
        ("#1=2 G1 X#1", 0),
        ("/G1 X5", 6),
        ("X1 X2", 6),
        ("G0 G1 X5", 6),
        ("G17 G18 X5", 6),
        ("G5 X1 Y1 I0 J1", 4),
        ("G13 I5", 4),
        ("G123", 0),
        ("U5", 6),
        ("M6", 0),
        ("G43 H1", 3),
        ("G43 H1 Z5", 7),
        ("G49", 3),
        ("G54", 7),
        ("G55", 0),
        ("G55 X1", 1),
        ("G92 X0", 7),
        ("G92.1", 0),
        ("G52 X5", 6),
        ("G10 L20 P1 X0", 7),
        ("G10 L20 P0 X0", 7),
        ("G10 L20 P2 X0", 0),
        ("G10 L2 P1 X0", 0),
        ("G68 X0 Y0 R30", 4),
        ("G69", 7),
        ("G4 P5", 7),
        ("G4 X2", 7),
        ("T5", 7),
        ("G81 X1 Y1 Z-2 R1", 3),
        ("G18 G81 X1 Y1 Z-2 R1", 5),
        ("G66 P9010", 0),
    ],
)
def test_what_is_known_after_a_block(block: str, known: int) -> None:
    moves = traced(f"G21 G17 G90\nG0 X1 Y1 Z1\n{block}\nG0 F1\nG91 X0\n")
    assert moves.start_known[on_line(moves, 5)] == known


@pytest.mark.parametrize(
    "block", ["M98 P5", "M99", "WHILE [#1 LT 5] DO1", "G65 P1 X5", "G123", "G28", "G13 I5"]
)
def test_no_link_leads_across_what_may_move(block: str) -> None:
    moves = traced(f"G21 G90\nG0 X1 Y1 Z1\n{block}\nX5\n")
    assert moves.motion[on_line(moves, 3)] == Motion.OTHER


def test_a_frame_is_renamed_where_it_is_moved() -> None:
    moves = traced("G21 G90 G54\nG0 X5 Y5 Z5\nG92 X0\nX1\nG55\nX1 Y1\nG92.1\nX1\n")
    labels = [moves.frames[state_of(moves, row).frame] for row in range(4)]
    assert labels == ["G54", "G54+1", "G55+1", "G55+2"]
    assert ends(moves)[1] == (1.0, 5.0, 5.0)
    assert moves.start_known.tolist() == [0, 7, 0, 0]


def test_a_frame_that_is_plain_again_is_the_same_frame() -> None:
    moves = traced("G21 G55\nG0 X5\nG54\nX1\nG55\nX2\n")
    assert [moves.frames[state_of(moves, row).frame] for row in range(3)] == ["G55", "G54", "G55"]


def test_cancels_before_the_first_move_change_no_frame() -> None:
    moves = traced("G21 G92.1 G69 G52 X0 Y0\nG54 G10 L2 P1 X5\nG0 X5\nG69\nX6\n")
    assert [state_of(moves, row).frame for row in range(2)] == [0, 0]
    assert moves.frames == ("G54",)


def test_an_extruder_reset_is_no_shift() -> None:
    moves = traced("G21\nG0 X5\nG92 E0\nG1 X6 E1\n")
    assert moves.frames == ("G54",)
    assert state_of(moves, -1).unsupported == "extruder words"


def test_inches_in_an_origin_and_mid_program() -> None:
    moves = traced("G20 G90\nG92 X1 Y0\nG1 X1.5\nG21\nX1\n")
    assert [end[0] for end in ends(moves)] == [38.1, 1.0]


def test_an_incremental_program_does_not_drift() -> None:
    moves = traced("G20 G90 G0 X0 Y0\nG91\n" + "G1 X0.0001 Y-.1\n" * 3000)
    assert ends(moves)[-1][:2] == (7.62, -7620.0)


@pytest.mark.parametrize(
    ("words", "phrase"),
    [
        ("G51 X0 Y0 P2", "scaling"),
        ("G16", "polar coordinates"),
        ("G7", "diameter mode"),
        ("G51.1 X0", "mirroring"),
        ("G110", "a G code that is not known"),
        ("G#5", "a mode that cannot be read"),
    ],
)
def test_modes_that_make_a_circle_something_else(words: str, phrase: str) -> None:
    moves = traced(f"G21\n{words}\nG1 X5 Y5\n")
    assert state_of(moves, -1).unsupported == phrase


def test_modes_end_with_their_cancel() -> None:
    moves = traced("G21\nG51 P2\nG16\nG8 P1\nG1 X1\nG50\nG15\nG1 X5 Y5\nG1 X4 A20\nG1 X3\n")
    phrases = [state_of(moves, row).unsupported for row in range(4)]
    assert phrases == ["scaling, polar coordinates", "", "rotary axis words", ""]


def test_state_columns() -> None:
    moves = traced("G20 G91 G18 G93 G41 G90.1 M4\nF2 S5\nG1 X1\nX1 F3 M3 M5\nG40 G94 G91.1 G90 G17 G21 X1\n")
    first, last = state_of(moves, 0), state_of(moves, 2)
    assert (first.normal, first.inch, first.incremental, first.arc_absolute) == (1, True, True, True)
    assert (first.feed_mode, first.compensation, first.spindle) == (93, 41, 4)
    assert (last.normal, last.inch, last.incremental, last.arc_absolute) == (2, False, False, False)
    assert (last.feed_mode, last.compensation, last.spindle) == (94, 40, 5)
    assert moves.feed.tolist() == [2.0, 3.0, 3.0]
    assert moves.speed.tolist() == [5.0] * 3


def test_no_feed_before_the_first() -> None:
    moves = traced("G21 G0 X1\nG1 X2 F5\n")
    assert math.isnan(moves.feed[0])
    assert moves.feed[1] == 5


def sections(text: str) -> list[tuple[int | None, bool]]:
    return [(section.tool, bool(section.doubtful)) for section in traced(text).sections]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("G1 X1", [(None, False)]),
        ("T3\nG1 X1", [(3, False)]),
        ("T1 M6\nG1 X1\nT2\nG1 X2\nM6\nG1 X3", [(1, False), (2, False)]),
        ("M6\nG1 X1\nM6 T7\nG1 X2", [(None, False), (7, False)]),
        ("T1 M6\nG1 X1\nM6\nG1 X2", [(1, False), (None, False)]),
        ("T0 M6\nG1 X1", [(0, False)]),
        ("M3\nG1 X1\nM5\nM0\nM3\nG1 X2", [(None, False), (None, False)]),
        ("T1\nM3 G1 X1\nM0\nG1 X2", [(1, False)]),
        ("T1\nG1 X1\nM1\nG1 X2", [(1, False), (1, True)]),
        ("T1 M6\nM3\nG1 X1\nM5\nM1\nT2 M6\nG1 X2", [(1, False), (2, False)]),
        ("G0 X1\nT4 M6\nG1 X2", [(4, False)]),
        ("T1\nG1 X1\n/T2\nG1 X2", [(1, False), (2, True)]),
        ("T1 M6\nG1 X1\nT=5 M6\nG1 X2", [(1, False), (None, True)]),
        ("T#1 M6\nG1 X1", [(None, False)]),
    ],
)
def test_sections(text: str, found: list[tuple[int | None, bool]]) -> None:
    assert sections("G21\n" + text + "\n") == found


def test_a_stop_acts_after_the_motion_of_its_block() -> None:
    moves = traced("G21 M5\nG1 X1\nX2 M0\nX3\n")
    assert [state_of(moves, row).section for row in range(3)] == [0, 0, 1]


def test_a_subprogram_body_is_read_on_its_own() -> None:
    moves = traced("O1\nG20 G18 G91 T1 M6\nG1 X1 Y1 Z1\nM98 P2\nM30\nX5\nO2\nG1 X1 Y2\nG91 G3 I1 K0\nM99\n")
    body = on_line(moves, 8)
    assert moves.line.tolist() == [2, 3, 6, 7, 8, 9]
    state = state_of(moves, body)
    assert (state.inch, state.normal, state.incremental, state.spindle) == (True, 1, False, 0)
    assert (moves.start_known[body], moves.end_known[body]) == (0, 3)
    assert moves.sections[state.section].tool is None
    assert any("line 7: a subprogram body" in warning for warning in moves.warnings)
    assert any("line 6: moves behind the end" in warning for warning in moves.warnings)


@pytest.mark.parametrize(
    ("main", "body", "known"),
    [
        ("M98 P7\nG1 X1 Y2 Z3\n", "G90\nG1 X4 Y5 Z6\n", (7, 7)),
        ("M98 P7\nG1 X1 Y2 Z3\n", "G1 X4 Y5 Z6\n", (7, 7)),  # all in one mode
        ("G91\nM98 P7\nG90\nG1 X1 Y2 Z3\n", "G1 X4 Y5 Z6\n", (7, 0)),  # called in increments
        ("G91\nM98 P7\nG90\nG1 X1 Y2 Z3\n", "G90\nG1 X4 Y5 Z6\n", (7, 7)),
        ("M98 P7\nG1 X1 Y2 Z3\n", "G91\nG1 X4\nG90\nG1 X4 Y5 Z6\n", (7, 7)),
        ("M98 P7\nG1 X1 Y2 Z3\n", "G90\nG1 X4 Y5 Z6\nG91\n", (0, 7)),  # comes back in increments
        ("M98 P7\nG90\nG1 X1 Y2 Z3\n", "G90\nG1 X4 Y5 Z6\nG91\n", (7, 7)),
        ("M98 P7\nG1 X1 Y2 Z3\n", "G1 X4 Y5 Z6\nG20\n", (0, 0)),  # comes back in inches
        ("M98 P7\nG21\nG1 X1 Y2 Z3\n", "G21 G90\nG1 X4 Y5 Z6\nG20\n", (7, 7)),
        ("M98 P7\nG1 X1 Y2 Z3\n", "G18\nG1 X4 Y5 Z6\nG17\n", (7, 7)),
        ("M98 P7\nG1 X1 Y2 Z3\n", "G18\nG1 X4 Y5 Z6\n", (0, 7)),  # comes back in another plane
    ],
)
def test_distance_mode_across_a_call(main: str, body: str, known: tuple[int, int]) -> None:
    moves = traced(f"G21 G90\nG0 X0 Y0 Z0\n{main}M30\nO7\n{body}M99\n")
    found = tuple(
        int(moves.end_known[row])
        for row in range(len(moves))
        if moves.program.line_text(int(moves.line[row])).strip() in (b"G1 X1 Y2 Z3", b"G1 X4 Y5 Z6")
    )
    assert found == known
    assert any("no G90 or G91" in warning for warning in moves.warnings) == (0 in known)


@pytest.mark.parametrize(("end", "known"), [("G90\n", 7), ("", 0)])
def test_distance_mode_behind_a_named_body(end: str, known: int) -> None:
    """The body is defined where it stands, and runs where it is called."""
    body = f"O<part> sub\nG91\nG1 X1\n{end}O<part> endsub\n"
    moves = traced(f"G21\n{body}G0 X1 Y2 Z3\nG90\nO<part> call\nG90\nG0 X4 Y5 Z6\n")
    assert moves.end_known.tolist()[-1] == 7
    assert moves.end_known[on_line(moves, 6 if not end else 7)] == known


def test_nothing_is_read_behind_the_end_mark() -> None:
    assert len(traced("%\nG21 G0 X1\n%\nG0 X2\n")) == 1


def test_words_before_any_motion_code_end_where_they_say() -> None:
    moves = traced("G21\nX1 Y2\nG80 Z3\n")
    assert moves.motion.tolist() == [Motion.OTHER] * 2
    assert ends(moves)[-1] == (1.0, 2.0, 3.0)
    assert moves.end_known.tolist() == [3, 7]


def test_a_switched_block_leaves_the_motion_in_doubt() -> None:
    moves = traced("G21 G0 X1 Y1\n/G1 X5\nY2\nG1 Y3\n")
    assert moves.motion.tolist() == [Motion.RAPID, Motion.OTHER, Motion.OTHER, Motion.LINE]
    warned = traced("G21 G0 X1\n/G91\nX2\n").warnings
    assert any("line 2" in warning and "switch" in warning for warning in warned)


def test_the_units_are_doubted_where_no_word_says_them() -> None:
    assert any("G20" in warning for warning in traced("G0 X1\nG21\n").warnings)
    assert not any("G20" in warning for warning in traced("G21 G0 X1\n").warnings)


@pytest.mark.parametrize(
    ("text", "finest"),
    [
        ("G0 X1", 0),
        ("G0 X1.", 0),
        ("G0 X1.25 F0.12345", 2),
        ("G0 X1.2\nG2 X3 R1.2345", 4),
        ("G0 X1.1234567890", 8),
        ("G4 P1.234\nG81 X1.1 R2.345", 1),
    ],
)
def test_finest(text: str, finest: int) -> None:
    assert traced(f"G21\n{text}\n").finest == finest


def test_implied_decimal_points_are_refused() -> None:
    with pytest.raises(ProgramError, match="decimal point"):
        traced("G21 G0 X50000 Y20000\nG1 X60000 F200\nY30000\n")
    assert len(traced("G21 G0 X50 Y20\nG1 X60 F20000\nY30\n")) == 3


def test_positions_out_of_all_reason_are_refused() -> None:
    with pytest.raises(ProgramError, match="10 km"):
        traced("G21 G91 G0 X9000000\nX9000000.5\n")
    moves = traced("G21 G0 X99999999999 Y1\n")
    assert moves.end_known.tolist() == [2]


def test_an_empty_program_has_no_moves() -> None:
    for text in ("", "%\n%\n", "(nothing)\n", "M30\nG1 X5\n", "G4 P1\n"):
        moves = traced(text)
        assert len(moves) == 0
        assert len(moves.sections) == 1
        assert np.isin(moves.state, [0]).all()


def test_a_call_behind_a_place_that_is_set_ends_it_though_a_call_stands_before():
    moves = traced("G21 G90\nG0 X1 Y2 Z3\nM98 P1\nG92 X3\nM98 P2\nM98 P3\nG91\nG1 Y5\nM30\n")
    assert moves.line.tolist() == [1, 2, 4, 7]
    assert moves.start_known.tolist() == [0, 7, 1, 0]
    assert moves.end_known.tolist() == [7, 0, 0, 0]

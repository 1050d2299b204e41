"""Arcs: both forms, faults, turns, and how I J K are meant."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from roundwright.errors import ProgramError
from roundwright.trace import ArcFault, Motion
from tracing import degrees, ends, state_of, traced

HEAD = "G21 G90 G17\nG0 X10 Y0 Z0\n"


@pytest.mark.parametrize(
    ("block", "centre", "sweep"),
    [
        ("G3 I-5", (5, 0), 360),
        ("G2 I0 J-5", (10, -5), -360),
        ("G3 J5 P3", (10, 5), 1080),
        ("G3 X0 Y0 I-5 P2", (5, 0), 540),
        ("G2 X0 I-5 K3", (5, 0), -180),
        ("G3 X5 Y5 R5", (5, 0), 90),
        ("G3 X5 Y5 R-5", (10, 5), 270),
        ("G2 X5 Y5 R5", (10, 5), -90),
        ("G2 X5 Y5 R-5", (5, 0), -270),
        ("G3 X0 R5.", (5, 0), 180),
        ("G3 X0 R4.999", (5, 0), 180),
        ("G3 I-5 Z-2", (5, 0), 360),
    ],
)
def test_forms(block: str, centre: tuple[float, float], sweep: float) -> None:
    moves = traced(HEAD + block + "\n")
    assert moves.arcs.fault.tolist() == [ArcFault.NONE]
    assert moves.arcs.centre[0] == pytest.approx(centre, abs=1e-9)
    assert degrees(moves) == pytest.approx([sweep])


@pytest.mark.parametrize(
    ("block", "fault"),
    [
        ("G3 X5 Y5", ArcFault.NO_CENTRE),
        ("G3 Z-1", ArcFault.NO_CENTRE),
        ("G3 K5", ArcFault.NO_CENTRE),
        ("G3 X5 Y5 I-5.1", ArcFault.RADII),
        ("G3 X5 Y5 R3", ArcFault.SHORT_R),
        ("G3 X10 R3", ArcFault.SAME_POINT),
        ("G3 Y0 R3", ArcFault.SAME_POINT),
        ("G3 I0 J0", ArcFault.ZERO),
        ("G3 X5 R0", ArcFault.ZERO),
    ],
)
def test_faults(block: str, fault: ArcFault) -> None:
    moves = traced(HEAD + block + "\n", "incremental")
    assert moves.arcs.fault.tolist() == [fault]


@pytest.mark.parametrize(
    "block", ["G3 X5 Y5 I-5 R5", "G3 I-5 P0", "G3 I-5 P1.5", "G3 I-5 L2", "G3 I-5 P#1", "G3 X5 Y5 I#2"]
)
def test_arcs_that_mean_two_things_are_no_arcs(block: str) -> None:
    moves = traced(HEAD + block + "\n")
    assert moves.motion[-1] == Motion.OTHER
    assert moves.end_known[-1] == 7


@pytest.mark.parametrize(
    ("block", "fault"),
    [
        ("G91 G3 I-5", ArcFault.NONE),
        ("G3 I-5 J2", ArcFault.NONE),
        ("G91 G3 X-10 I-5", ArcFault.NONE),
        ("G91 G3 X-5 Y5 R5", ArcFault.NONE),
        ("G3 X0 Y0 I-5", ArcFault.UNKNOWN),
        ("G3 X0 R5", ArcFault.UNKNOWN),
        ("G90.1 G3 I5 J0", ArcFault.UNKNOWN),
    ],
)
def test_arcs_from_an_unknown_start(block: str, fault: ArcFault) -> None:
    """Where the differences are known the arc is, its place is relative to an assumed start."""
    moves = traced(HEAD + "M98 P1\n" + block + "\n", "incremental")
    assert moves.start_known[-1] == 0
    assert moves.arcs.fault.tolist() == [fault]
    if fault == ArcFault.NONE:
        assert moves.arcs.radius[0] == pytest.approx(math.hypot(5, 2 if "J2" in block else 0))


def test_quarters_of_a_body_keep_one_centre() -> None:
    moves = traced("G21 G91 G1 X5\nG3 X-5 Y5 I-5\nX-5 Y-5 J-5\nX5 Y-5 I5\nX5 Y5 J5\n")
    assert not moves.arcs.fault.any()
    assert np.ptp(moves.arcs.centre, axis=0).max() < 1e-9


@pytest.mark.parametrize(
    ("program", "tolerated", "refused"),
    [
        ("G21 G0 X{}0 Y0\nG2 X-10 Y0 I-10.000 J0", "10.00", "10.01"),
        ("G20 G0 X{} Y0\nG2 X-1 Y0 I-1.0000 J0", "1.0004", "1.0007"),
        ("G21 G0 X{} Y0\nG2 X-10 Y0 I-10 J0", "10.02", "10.04"),
    ],
)
def test_radii_may_differ_by_what_the_decimals_leave(program: str, tolerated: str, refused: str) -> None:
    """Two units of the finest decimal in each axis; at least 5 µm in mm, 0.0005 in in inches."""
    assert traced(program.format(tolerated) + "\n", "incremental").arcs.fault.tolist() == [ArcFault.NONE]
    assert traced(program.format(refused) + "\n", "incremental").arcs.fault.tolist() == [ArcFault.RADII]


def test_an_arc_of_whole_numbers_is_not_excused_by_a_millimetre() -> None:
    moves = traced("G21 G0 X10 Y0\nG3 X0 Y9 I-10\n", "incremental")
    assert moves.arcs.fault.tolist() == [ArcFault.RADII]


ABSOLUTE = HEAD + "G3 X5 Y5 I5 J0\nX0 Y0 I5 J0\n"


def test_centres_that_agree_only_as_absolute_are_taken_so() -> None:
    moves = traced(ABSOLUTE)
    assert "absolute" in moves.arc_centres
    assert moves.arcs.centre.tolist() == [[5.0, 0.0]] * 2
    assert degrees(moves) == pytest.approx([90, 90])
    assert state_of(moves, -1).arc_absolute is None


def test_centres_that_nothing_can_tell_are_incremental_by_default() -> None:
    moves = traced(HEAD + "G3 I5 J0\n")
    assert "by default" in moves.arc_centres
    assert moves.arcs.centre.tolist() == [[15.0, 0.0]]
    forced = traced(HEAD + "G3 I5 J0\n", "absolute")
    assert forced.arcs.centre.tolist() == [[5.0, 0.0]]
    assert "as asked" in forced.arc_centres


def test_the_programs_own_word_wins() -> None:
    moves = traced(HEAD + "G90.1 G3 I5 J0\nG91.1 G3 I5 J0\n", "incremental")
    assert moves.arcs.centre.tolist() == [[5.0, 0.0], [15.0, 0.0]]
    assert "as the program says" in moves.arc_centres


@pytest.mark.parametrize("words", ["I5", "J0", "Z-1 I5"])
def test_an_absolute_centre_of_which_a_word_is_missing_is_told_by_nobody(words: str) -> None:
    moves = traced(HEAD + f"G90.1 G3 {words}\nG3 I5 J0\n")
    assert moves.arcs.fault.tolist() == [ArcFault.HALF_CENTRE, ArcFault.NONE]
    assert np.isnan(moves.arcs.centre[0]).all()
    assert any("line 3" in warning and "missing" in warning for warning in moves.warnings)


def test_an_arc_without_one_of_its_centre_words_does_not_speak_for_absolute() -> None:
    moves = traced("G21 G0 X23 Y0\nG2 X23 Y0 J0\nG0 X5\nG3 X0 Y5 I-5\n")
    assert "from the start" in moves.arc_centres
    assert moves.arcs.fault.tolist() == [ArcFault.ZERO, ArcFault.NONE]
    alone = traced("G21 G0 X5 Y0\nG3 X0 Y5 I0\n")
    assert "by default" in alone.arc_centres
    assert alone.arcs.fault.tolist() != [ArcFault.NONE]


def test_arcs_that_contradict_each_other_are_refused() -> None:
    with pytest.raises(ProgramError, match=r"line 5.*line 3") as caught:
        traced(ABSOLUTE.replace("X0 Y0 I5 J0", "G0 X20 Y0\nG3 X15 Y5 I-5 J0"))
    assert "--arc-centres" in caught.value.cure
    assert caught.value.place is not None


def test_unsigned_centres_are_left_alone_and_said() -> None:
    unsigned = traced("G21 G0 X30 Y20\nG3 X20 Y30 I10 J0\nX10 Y20 I0 J10\n")
    assert unsigned.arcs.fault.tolist() == [ArcFault.RADII] * 2
    assert any("without signs" in warning for warning in unsigned.warnings)


def test_one_wrong_sign_is_said_and_the_others_are_read() -> None:
    moves = traced(HEAD + "G3 X0 Y10 I-10\nX-10 Y0 J10\nX0 Y-10 I10\nX10 Y0 J10\n")
    assert np.count_nonzero(moves.arcs.fault) == 1
    assert any("line 4" in warning and "other signs" in warning for warning in moves.warnings)


def test_a_full_circle_of_a_program_without_signs_has_no_centre() -> None:
    moves = traced("G21 G0 X30 Y20\nG3 X20 Y30 I10 J0\nX10 Y20 I0 J10\nG3 I10\n")
    assert moves.arcs.fault.tolist() == [ArcFault.RADII] * 3
    asked = traced("G21 G0 X30 Y20\nG3 X20 Y30 I10 J0\nX10 Y20 I0 J10\nG3 I10\n", "incremental")
    assert asked.arcs.fault.tolist()[-1] == ArcFault.NONE


@pytest.mark.parametrize(
    ("path", "asks"),
    [
        ("G0 X5 Y5\nG1 X9\nG3 I5 J5\n", True),  # in from the absolute centre
        ("G0 X9 Y5\nG3 I5 J5\nG1 X5\n", True),  # out to it
        ("G0 X5 Y5\nG1 X9\nG3 I-4 J0\n", False),
        ("G0 X9 Y5\nG3 I-4 J0\nG0 X-4 Y0\nG0 X5 Y5\n", False),  # both: the default
        ("G0 X9 Y5\nG3 I5 J5\nG0 Z5\n", False),  # nothing goes anywhere
        ("G0 X4 Y0\nG3 I-4\nG0 Z5\n", False),
    ],
)
def test_full_circles_whose_centres_look_absolute_are_asked_about(path: str, asks: bool) -> None:
    text = "G21 G90\n" + path
    if not asks:
        assert "by default" in traced(text).arc_centres
        return
    with pytest.raises(ProgramError, match="absolute") as caught:
        traced(text)
    assert "--arc-centres" in caught.value.cure


whole = st.integers(-9_000, 9_000)


@settings(max_examples=150, deadline=None)
@given(whole, whole, st.integers(200, 9_000), st.floats(0, 359), st.floats(20, 340), st.booleans())
def test_radius_and_centre_form_tell_the_same_arc(
    x: int, y: int, r: int, at: float, turn: float, ccw: bool
) -> None:
    """With ends written to 1e-6 mm the R form has the centre of the I J form, within what R leaves."""
    assume(abs(turn - 180) > 10)
    cx, cy, radius = x / 100, y / 100, r / 100
    a, b = math.radians(at), math.radians(at + (turn if ccw else -turn))
    start = (round(cx + radius * math.cos(a), 6), round(cy + radius * math.sin(a), 6))
    end = (round(cx + radius * math.cos(b), 6), round(cy + radius * math.sin(b), 6))
    head = (
        f"G21 G90\nG0 X{start[0]:.6f} Y{start[1]:.6f}\n{'G3' if ccw else 'G2'} X{end[0]:.6f} Y{end[1]:.6f} "
    )
    by_centre = traced(head + f"I{cx - start[0]:.6f} J{cy - start[1]:.6f}\n", "incremental")
    by_radius = traced(head + f"R{radius if turn < 180 else -radius:.6f}\n")
    assert not by_centre.arcs.fault.any()
    assert not by_radius.arcs.fault.any()
    assert by_radius.arcs.centre == pytest.approx(by_centre.arcs.centre, abs=5e-5)
    assert degrees(by_radius) == pytest.approx(degrees(by_centre), abs=1e-2)
    assert degrees(by_centre)[0] == pytest.approx(turn if ccw else -turn, abs=1e-3)


points = st.lists(st.tuples(whole, whole, whole), min_size=2, max_size=12)


def program_of(points: list[tuple[int, ...]], arcs: list[bool], *, incremental: bool) -> str:
    """Lines, and full circles where `arcs` says so, with two decimals."""
    lines = ["G21 G90 G0 X{:.2f} Y{:.2f} Z{:.2f}".format(*(v / 100 for v in points[0]))]
    lines.append("G91" if incremental else "G90")
    for last, point, arc in zip(points, points[1:], arcs, strict=False):
        to = [(v - w if incremental else v) / 100 for v, w in zip(point, last, strict=True)]
        lines.append("G1 X{:.2f} Y{:.2f} Z{:.2f}".format(*to))
        lines += ["G3 I1.5 J-2"] if arc else []
    return "\n".join(lines) + "\n"


@settings(max_examples=60, deadline=None)
@given(points, st.lists(st.booleans(), min_size=12, max_size=12))
def test_incremental_and_absolute_programs_go_the_same_way(
    points: list[tuple[int, ...]], arcs: list[bool]
) -> None:
    one = traced(program_of(points, arcs, incremental=False))
    other = traced(program_of(points, arcs, incremental=True))
    assert np.array_equal(one.end, other.end)
    assert np.array_equal(one.end_known, other.end_known)
    assert np.allclose(one.arcs.centre, other.arcs.centre)


@settings(max_examples=60, deadline=None)
@given(points, st.lists(st.booleans(), min_size=12, max_size=12))
def test_inches_are_millimetres_times_25_4(points: list[tuple[int, ...]], arcs: list[bool]) -> None:
    text = program_of(points, arcs, incremental=False)
    mm, inch = traced(text), traced(text.replace("G21", "G20"))
    assert np.array_equal(mm.end * 254, inch.end * 10)
    assert np.allclose(mm.arcs.centre * 25.4, inch.arcs.centre)
    assert np.allclose(mm.arcs.radius * 25.4, inch.arcs.radius)


def test_ends_are_exact() -> None:
    assert ends(traced("G20 G0 X0.1234567 Y-.3\n")) == [(3.13580018, -7.62, 0.0)]


def test_an_arc_keeps_the_slack_of_its_own_decimals_beside_finer_ones() -> None:
    coarse = "G21 G0 X10.01 Y0\nG3 X0 Y9.99 I-10.01 J0\n"
    assert not traced(coarse, "incremental").arcs.fault.any()
    fine = coarse + "G0 X50.00125 Y0\nG3 X50.00125 Y0 I-5.00125 J0\n"
    assert not traced(fine, "incremental").arcs.fault.any()
    finely_wrong = fine.replace("I-10.01 J0", "I-10.010 J0.000")
    assert traced(finely_wrong, "incremental").arcs.fault.tolist() == [ArcFault.RADII, ArcFault.NONE]


def test_an_arc_that_misses_the_announced_reading_narrowly_contradicts_nothing() -> None:
    """Its radii differ by 0.001 in as increments; as absolute centre they happen to agree."""
    sure = "G20 G0 X6.641 Y-0.1\nG3 X4.18 Y1.321 I-1.641 J0\nG3 X4.18 Y-1.521 I0.82 J-1.421\n"
    moves = traced(sure + "G0 X15.3740 Y15.5136\nG3 X15.2040 Y15.6826 I-0.1700 J0\n")
    assert "from the start" in moves.arc_centres
    assert moves.arcs.fault.tolist() == [ArcFault.NONE, ArcFault.NONE, ArcFault.RADII]

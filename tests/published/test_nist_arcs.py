"""Arcs, order of execution and canned cycles as NIST IR 6556 has them.

Source: T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NIST IR 6556,
17 August 2000. Programs are as printed there; centres and sweeps that it does not print were worked out by
hand from them. Two listings come from public issue threads about arcs, with figures worked out by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from roundwright.trace import ArcFault, Motion
from tracing import degrees, ends, state_of, traced

pytestmark = pytest.mark.published

#: NIST IR 6556, appendix C.1; comments left out.
HELLO_WORLD = """
n0010 g21 g0 x0 y0 z50
n0020 t1 m6 m3 f20 s4000
n0030 g0 x0 y0 z2
n0040 g1 z-0.5
n0050 y10
n0060 g0 z2
n0070 y5
n0080 g1 z-0.5
n0090 x 7
n0100 g0 z2
n0110 y0
n0120 g1 z-0.5
n0130 y10
n0140 g0 z2
n0150 x11 y2.5
n0160 g1 z-0.5
n0170 x16
n0190 g3 x13.5 y0 i-2.5
n0200 g1 x16
n0210 g0 z2
n0220 x20 y0
n0230 g1 z-0.5
n0240 y9
n0250 g0 z2
n0260 x26
n0270 g1 z-0.5
n0280 y0
n0290 g0 z2
n0300 x32.5
n0310 g1 z-0.5
n0320 g2 x32.5 j2.5
n0330 g0 z2
n0340 x45 y5
n0350 g1 z-0.5
n0360 x47 y0
n0370 x48.5 y3
n0380 x50 y0
n0390 x52 y5
n0400 g0 z2
n0410 x57.5 y0
n0420 g1 z-0.5
n0430 g2 x57.5 j2.5
n0440 g0 z2
n0450 x64
n0460 g1 z-0.5
n0470 y5
n0480 y4
n0490 g2 x69 r4
n0500 g0 z2
n0510 x73 y0
n0520 g1 z-0.5
n0530 y9
n0540 g0 z2
n0550 x81
n0560 g1 z-0.5
n0570 y0
n0580 x79.5
n0590 g2 j2.5 y5
n0600 g1 x81
n0610 g0 z50
n0620 m2
"""


def test_hello_world_has_five_arcs_two_of_them_full() -> None:
    moves = traced(HELLO_WORLD)
    assert not moves.arcs.fault.any()
    assert moves.arcs.centre == pytest.approx(
        np.array([[13.5, 2.5], [32.5, 2.5], [57.5, 2.5], [66.5, 0.8775010], [79.5, 2.5]]), abs=5e-8
    )
    assert moves.arcs.radius.tolist() == [2.5, 2.5, 2.5, 4.0, 2.5]
    assert degrees(moves) == pytest.approx([270.0, -360.0, -360.0, -77.36437, -180.0], abs=5e-6)


def test_hello_world_positions() -> None:
    moves = traced(HELLO_WORLD)
    blocks = HELLO_WORLD.splitlines()
    at = {blocks[line][:5]: end for line, end in zip(moves.line, ends(moves), strict=True)}
    assert len(moves) == 59
    assert at["n0190"] == (13.5, 0.0, -0.5)
    assert at["n0320"] == (32.5, 0.0, -0.5)
    assert at["n0370"] == (48.5, 3.0, -0.5)
    assert at["n0480"] == (64.0, 4.0, -0.5)
    assert at["n0490"] == (69.0, 4.0, -0.5)
    assert at["n0590"] == (79.5, 5.0, -0.5)
    assert at["n0610"] == (81.0, 5.0, 50.0)
    assert moves.end_known[2:].min() == 7


def test_radius_format_helix() -> None:
    """3.5.3.1: from X10 Y15 Z5, "a clockwise circular or helical arc … radius 20"; the start is ours."""
    moves = traced("g21 g0 x 30 y 15 z 5\nG17 G2 x 10 y 15 r 20 z 5\n")
    assert moves.motion[-1] == Motion.CW
    assert ends(moves)[-1] == (10.0, 15.0, 5.0)
    assert moves.arcs.radius.tolist() == [20.0]
    assert np.hypot(*(moves.arcs.centre[0] - [10, 15])) == pytest.approx(20)
    assert abs(degrees(moves)[0]) <= 180


def test_centre_format_from_seven_seven() -> None:
    """3.5.3.2: `G17 G2 x 10 y 16 i 3 j 4 z 9` from (7, 7) has its centre at (10, 11) and radius 5."""
    moves = traced("g21 g0 x7 y7 z0\nG17 G2 x 10 y 16 i 3 j 4 z 9\n")
    assert moves.arcs.centre.tolist() == [[10.0, 11.0]]
    assert (moves.arcs.radius[0], moves.arcs.radius_end[0]) == (5.0, 5.0)
    assert degrees(moves)[0] == pytest.approx(-143.1301024, abs=1e-7)
    length = 5 * abs(moves.arcs.sweep[0])
    assert length == pytest.approx(12.4904577, abs=1e-7)
    assert math.hypot(length, 9) == pytest.approx(15.3951789, abs=1e-7)


@pytest.mark.parametrize(
    ("end", "centre"),
    [
        ("20", (10.0, 0.0)),
        ("19.9995", (9.99975, -0.070710)),
        ("19.999", (9.9995, -0.099999)),
        ("19.99", (9.995, -0.316188)),
    ],
)
def test_semicircles_in_radius_format_are_very_bad(end: str, centre: tuple[float, float]) -> None:
    """Illustrates 3.5.3.1, worked out by hand: half a micron of the end moves the centre by 71."""
    moves = traced(f"g21 g0 x0 y0 z0\ng2 x{end} y0 r10\n")
    assert moves.arcs.centre[0] == pytest.approx(centre, abs=1e-6)


#: table 12 (contour, radius 1 corners) and table 13 (path of a 1 mm cutter's centre).
MATERIAL_EDGE = """g21 g0 x1 y4
n0040 g3 x2 y3 i1
n0050 g2 x3 y2 j-1
n0060 g1 y-1
n0070 g2 x2 y-2 i-1
g1 x-2
g2 x-2.6 y-0.2 j1
g1 x1.4 y2.8
n0100 g2 x2 y3 i0.6 j-0.8
"""


def test_material_edge_of_table_12() -> None:
    moves = traced(MATERIAL_EDGE)
    assert not moves.arcs.fault.any()
    centres = np.array([[2, 4], [2, 2], [2, -1], [-2, -1], [2, 2]])
    assert moves.arcs.centre == pytest.approx(centres, abs=1e-12)
    assert moves.arcs.radius == pytest.approx(np.ones(5))
    assert degrees(moves) == pytest.approx([90, -90, -90, -143.1301024, -36.8698976], abs=1e-6)


def test_nominal_path_of_table_13() -> None:
    """The centres of table 12 with radii 0.5 inside and 1.5 outside; end points worked out by hand."""
    moves = traced(
        """g21 g0 x1.5 y4
g3 x2 y3.5 i0.5
g2 x3.5 y2 j-1.5
g1 y-1
g2 x2 y-2.5 i-1.5
g1 x-2
g2 x-2.9 y0.2 j1.5
g1 x1.1 y3.2
g2 x2 y3.5 i0.9 j-1.2
"""
    )
    assert not moves.arcs.fault.any()
    centres = np.array([[2, 4], [2, 2], [2, -1], [-2, -1], [2, 2]])
    assert moves.arcs.centre == pytest.approx(centres, abs=1e-12)
    assert moves.arcs.radius == pytest.approx([0.5, 1.5, 1.5, 1.5, 1.5])
    assert degrees(moves) == pytest.approx([90, -90, -90, -143.1301024, -36.8698976], abs=1e-6)


def test_plane_units_feed_and_distance_on_the_own_line_apply() -> None:
    """Table 8: F, G17-19, G20/21, G90/91 are executed before the motion, wherever they stand."""
    moves = traced("g21 g90 g0 x1 y2 z3\nG2 X2. I0.5 G18 F250\ng1 x1 y1 g20 g91 f10\n")
    assert state_of(moves, 1).normal == 1
    assert moves.feed[1:].tolist() == [250.0, 10.0]
    assert moves.arcs.centre.tolist() == [[3.0, 1.5]]  # Z, X
    assert abs(degrees(moves)[0]) == 180
    assert ends(moves)[-1] == (27.4, 27.4, 3.0)


def test_counter_clockwise_goes_from_z_to_x_in_the_zx_plane() -> None:
    """3.5.3: seen from the positive end of Y; the in-plane order follows from the right-hand rule."""
    moves = traced("g21 g18 g0 x0 y0 z5\ng3 x5 z0 k-5\n")
    assert degrees(moves) == pytest.approx([90.0])
    assert moves.arcs.centre.tolist() == [[0.0, 0.0]]


def test_words_of_canned_cycles_are_no_arc_words() -> None:
    """3.5.16 and the sample of C.3: R, I, J, K belong to the cycle."""
    moves = traced(
        "g21 g17 g0 x0 y0 z5\ng2 x4 i2\ng81 x5 y0 z-1 r0.2\nx6\n"
        "n0130 g87 x9 y10 r0.2 z-1.1 i0.231 j-0 k-3\ng80\n"
    )
    assert moves.motion.tolist() == [Motion.RAPID, Motion.CW, *[Motion.CYCLE] * 3]
    assert len(moves.arcs.row) == 1
    assert [end[:2] for end in ends(moves)[2:]] == [(5, 0), (6, 0), (9, 10)]
    assert not (moves.end_known[2:] & 4).any()


@pytest.mark.parametrize("block", ["g4 p2", "g10 l2 p1 x5 y0", "g28 x4 y0", "g30", "g53 g1 x0", "g92 x0 y0"])
def test_group_zero_blocks_under_a_modal_arc_are_no_arcs(block: str) -> None:
    """3.4: the codes of group 0 that use axis words suspend the motion mode for their block."""
    moves = traced(f"g21 g0 x0 y0 z5\ng2 x4 i2\n{block}\n")
    assert len(moves.arcs.row) == 1
    assert set(moves.motion[2:].tolist()) <= {Motion.OTHER}


def test_words_after_the_end_are_not_executed() -> None:
    """3.6.1: nothing after M2 or M30 is executed; but its own block is."""
    moves = traced("g21 g0 x1\nx2 m2\nx3\n")
    assert [end[0] for end in ends(moves)] == [1.0, 2.0]


def test_full_circles_with_a_radius_are_an_error() -> None:
    """3.5.3.1: in radius format the end must differ from the start."""
    moves = traced("g21 g0 x1 y0\ng2 x1 y0 r5\n")
    assert moves.arcs.fault.tolist() == [ArcFault.SAME_POINT]


def test_an_arc_radius_too_small_to_reach_the_end() -> None:
    """3.5.3.1, error 7 of the report's list."""
    moves = traced("g21 g0 x0 y0\ng2 x10 y0 r4.9\n")
    assert moves.arcs.fault.tolist() == [ArcFault.SHORT_R]


#: a public issue thread about arcs that all go the long way round.
LONG_WAY = """G90 G21
G0 X74.8256 Y50.6748
G03 X67.5646 Y33.145 I-24.7909 J0.
G03 X50.0348 Y25.8839 I-17.5298 J17.5298
G03 X32.5049 Y33.145 I-0. J24.7909
G03 X25.2439 Y50.6748 I17.5298 J17.5298
G03 X27.131 Y60.1619 I24.7909 J0.
G03 X32.5049 Y68.2046 I22.9038 J-9.4871
G03 X40.5477 Y73.5786 I17.5298 J-17.5298
G03 X50.0348 Y75.4657 I9.4871 J-22.9038
G03 X67.5646 Y68.2046 I-0. J-24.7909
G03 X74.8256 Y50.6748 I-17.5298 J-17.5298
"""


def test_arcs_that_go_the_long_way_round() -> None:
    moves = traced(LONG_WAY)
    assert not moves.arcs.fault.any()
    assert moves.arcs.centre == pytest.approx(np.tile([50.0348, 50.6748], (10, 1)), abs=1.01e-4)
    assert np.abs(moves.arcs.radius - moves.arcs.radius_end).max() <= 0.000085
    assert sum(degrees(moves)) == pytest.approx(3240, abs=1e-3)
    clockwise = traced(LONG_WAY.replace("G03", "G02"))
    assert sum(degrees(clockwise)) == pytest.approx(-360.00005, abs=5e-5)


def test_four_modal_quarters_in_inches() -> None:
    """A listing from a public issue thread: one full clockwise circle of radius 0.5 inch."""
    moves = traced(
        "G17 G20 G90 G94 G54\nG0 X-0.5 Y0\nG02 X0. Y0.5 I0.5 J0. F5\nX0.5 Y0. I0. J-0.5\n"
        "X0. Y-0.5 I-0.5 J0.\nX-0.5 Y0. I0. J0.5\n"
    )
    assert moves.arcs.radius.tolist() == [12.7] * 4
    assert moves.arcs.centre == pytest.approx(np.zeros((4, 2)), abs=1e-12)
    assert degrees(moves) == pytest.approx([-90] * 4)

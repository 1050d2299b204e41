"""Which circles are features, which side they are, and which are left alone: small programs by hand.

All with a 6 mm cutter as tool 1 unless said otherwise; the spindle turns clockwise.
"""

from itertools import pairwise

import pytest

from roundwright.find import find_features
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM6 T1\nM3 S16000\nG0 Z5\n"
SIX = Cutter("six", 6.0, 1)


def features(body, *, cutters=None, machine=None, head=HEAD, **settings):
    moves = trace_moves(read_program((head + body).encode(), "test.nc"))
    known = cutters if cutters is not None else dict.fromkeys(range(len(moves.sections)), SIX)
    return find_features(moves, known, machine or Machine(), Settings(**settings))


def one(body, **kwargs):
    found = features(body, **kwargs)
    assert len(found) == 1, found
    return found[0]


def ring(x, y, r, z, turn="G3", feed=" F600"):
    """A lap from the ring's right-hand point; the tool stands above it."""
    return f"G0 X{x + r} Y{y}\nG1 Z{z} F200\n{turn} X{x + r} Y{y} I{-r} J0{feed}\nG0 Z5\n"


def pocket(x, y, radii, z, turn="G3"):
    """Rings from the middle outwards at one depth, joined by straights."""
    text = f"G0 X{x} Y{y}\nG1 Z{z} F200\n"
    for r in radii:
        text += f"G1 X{x + r} Y{y} F600\n{turn} X{x + r} Y{y} I{-r} J0\n"
    return text + f"G1 X{x} Y{y}\nG0 Z5\n"


def test_cleared_pocket_is_one_hole():
    hole = one(pocket(50, 40, (2, 4.5, 7), -3))
    assert (hole.side, hole.diameter, hole.fault) == ("hole", 20.0, "")
    assert hole.wall.centre == (50.0, 40.0)
    assert [r.radius for r in hole.clearing] == [2.0, 4.5]
    assert "inside cleared by other cuts" in hole.evidence
    assert hole.cut == "climb"


def test_clockwise_hole_is_conventional():
    assert one(pocket(50, 40, (2, 4.5, 7), -3, "G2")).cut == "conventional"


def test_left_hand_spindle_turns_the_cut_round():
    head = HEAD.replace("M3", "M4")
    assert one(pocket(50, 40, (2, 4.5, 7), -3), head=head).cut == "conventional"


def test_small_circle_is_a_hole_because_the_cutter_covers_it():
    hole = one(ring(0, 0, 2.5, -3))
    assert (hole.side, hole.diameter) == ("hole", 11.0)


def test_single_kerf_with_plunge_on_the_ring_is_unknown():
    circle = one(ring(0, 0, 20, -3))
    assert (circle.side, circle.fault, circle.diameter) == ("unknown", "side-unknown", None)
    assert "--side C1=hole" in circle.why


@pytest.mark.parametrize(("start", "side", "diameter"), [(12, "hole", 46.0), (25, "boss", 34.0)])
def test_lead_in_tells_the_side_of_a_kerf(start, side, diameter):
    body = f"G0 X{start} Y0\nG1 Z-3 F200\nG1 X20 Y0 F600\nG3 I-20\nG0 Z5\n"
    found = one(body)
    assert (found.side, found.diameter) == (side, diameter)
    assert "lead-in from" in found.evidence


@pytest.mark.parametrize(("end", "side"), [(12, "hole"), (25, "boss")])
def test_lead_out_tells_the_side_of_a_kerf(end, side):
    body = f"G0 X20 Y0\nG1 Z-3 F200\nG3 I-20 F600\nG1 X{end} Y0\nG0 Z5\n"
    assert one(body).side == side


def test_a_piece_that_rounding_put_beside_the_ring_is_no_lead():
    body = "G0 X12 Y0\nG1 Z-3 F200\nG1 X20 F600\nG3 I-20\nG3 X19.345 Y5.19 R20.012\nG0 Z5\n"
    found = one(body)
    assert (found.side, found.evidence) == ("hole", "lead-in from inside")


def test_contradicting_leads_are_unknown_and_both_are_named():
    body = "G0 X12 Y0\nG1 Z-3 F200\nG1 X20 F600\nG3 I-20\nG1 X28\nG0 Z5\n"
    circle = one(body)
    assert (circle.side, circle.fault) == ("unknown", "side-unknown")
    assert "inside" in circle.why and "outside" in circle.why


@pytest.mark.parametrize(
    ("comp", "turn", "side"),
    [("G41", "G3", "hole"), ("G41", "G2", "boss"), ("G42", "G2", "hole"), ("G42", "G3", "boss")],
)
def test_compensation_with_turn_tells_the_side(comp, turn, side):
    body = f"G0 X20 Y0\n{comp} D1\nG1 Z-3 F200\n{turn} I-20 F600\nG0 Z5\nG40\n"
    found = one(body)
    assert (found.side, found.diameter) == (side, 40.0)


def test_said_side_fills_silence_but_never_outvotes():
    assert one(ring(0, 0, 20, -3), side="boss").side == "boss"
    assert one(pocket(0, 0, (2, 4.5, 7), -3), side="boss").side == "hole"


def test_said_cut_fills_silence_by_the_turn():
    assert one(ring(0, 0, 20, -3), cut="climb").side == "hole"
    assert one(ring(0, 0, 20, -3, "G2"), cut="climb").side == "boss"


def test_side_by_id_overrides_all():
    found = one(pocket(0, 0, (2, 4.5, 7), -3), sides={"C1": "groove"})
    assert (found.side, found.diameter, found.cut) == ("groove", 14.0, "both")


def test_boss_in_a_cleared_square():
    square = "G0 X23 Y23\nG1 Z-3 F200\nG1 X-23 F600\nY-23\nX23\nY23\nX28 Y28\nX-28\nY-28\nX28\nY28\nG0 Z5\n"
    boss = one(square + ring(0, 0, 23, -3, "G2") + ring(0, 0, 18, -3, "G2"))
    assert (boss.side, boss.diameter, boss.cut) == ("boss", 30.0, "climb")
    assert [r.radius for r in boss.clearing] == [23.0]


def test_annulus_has_a_hole_wall_and_a_boss_wall():
    found = features("".join(ring(0, 0, r, -3) for r in (15, 19, 23)))
    assert sorted((f.side, f.diameter) for f in found) == [("boss", 24.0), ("hole", 52.0)]


def test_counterbore_and_through_hole_are_two_features():
    found = features(pocket(0, 0, (2, 4.5, 7), -5) + pocket(0, 0, (2,), -12))
    assert {(f.side, f.diameter, f.wall.z[1]) for f in found} == {("hole", 20.0, -5.0), ("hole", 10.0, -12.0)}


def test_washer_is_a_hole_and_an_outside():
    outside = "G0 X32 Y0\nG1 Z-3 F200\nG1 X23 F600\nG2 I-23\nG1 X32\nG0 Z5\n"
    found = features(ring(0, 0, 2.5, -3) + outside)
    assert [(f.side, f.diameter, f.clearing) for f in found] == [("hole", 11.0, ()), ("boss", 40.0, ())]


def test_roughing_with_stock_left_is_no_wall():
    rough = "".join(pocket(0, 0, (2, 4.5, 6.8), z) for z in (-2, -4, -6))
    hole = one(rough + pocket(0, 0, (7,), -6))
    assert (hole.diameter, hole.wall.radius) == (20.0, 7.0)


def test_depth_and_spring_passes_are_one_feature():
    hole = one("".join(ring(0, 0, 2.5, z) for z in (-1, -2, -3, -3)))
    assert (hole.wall.passes, hole.wall.z) == (4, (-1.0, -3.0))


def test_roughing_of_a_square_pocket_is_cut_away():
    square = "G0 X-7 Y-7\nG1 Z-3 F200\nG1 X7 F600\nG1 Y7\nG1 X-7\nG1 Y-7\nG0 Z5\n"
    found = features(pocket(0, 0, (2, 4), -3) + square)
    assert {f.fault for f in found} == {"cut-away"}


def test_keyhole_keeps_a_part_of_its_wall():
    slot = "G0 X0 Y0\nG1 Z-3 F200\nG1 X30 F600\nG0 Z5\n"
    hole = one(pocket(0, 0, (2, 4.5, 7), -3) + slot)
    assert (hole.side, hole.fault) == ("hole", "")
    assert 0.8 < hole.survives < 0.95
    assert "survives" in hole.notes[0]


def test_four_rings_that_shrink_with_depth_are_a_taper():
    found = features("".join(pocket(0, 0, (2, r), z) for r, z in ((6, -1), (5.5, -2), (5, -3), (4.5, -4))))
    assert {f.fault for f in found} == {"taper"}


def test_helix_that_climbs_out_is_a_thread():
    body = "G0 X5 Y0\nG1 Z-12 F200\nG3 X5 Y0 Z-10.5 I-5 F300\nG3 X5 Y0 Z-9 I-5\nG0 Z5\n"
    assert one(body).fault == "thread"


def test_helix_down_with_a_flat_turn_is_a_hole():
    body = "G0 X2.5 Y0\nG1 Z0 F200\nG3 X2.5 Y0 Z-3 I-2.5 F300\nG3 X2.5 Y0 Z-6 I-2.5\nG3 I-2.5\nG0 Z5\n"
    hole = one(body)
    assert (hole.side, hole.wall.forms, hole.wall.flat, hole.wall.passes) == (
        "hole",
        ("helix", "arc"),
        True,
        3,
    )


def test_helix_by_turns_word():
    body = "G0 X2.5 Y0\nG1 Z0 F200\nG3 X2.5 Y0 Z-6 I-2.5 P4 F300\nG3 I-2.5\nG0 Z5\n"
    assert one(body).wall.passes == 5


def test_holding_tabs_do_not_break_the_ring():
    body = (
        "G0 X2.5 Y0\nG1 Z-3 F200\nG3 X0 Y2.5 I-2.5 J0 F600\nG1 Z-2\nG3 X-2.5 Y0 I0 J-2.5\nG1 Z-3\n"
        "G3 X2.5 Y0 I2.5 J0\nG0 Z5\n"
    )
    assert one(body).diameter == 11.0


def test_pieces_joined_by_rapids_make_a_ring():
    half = "G0 X2.5 Y0\nG1 Z-3 F200\nG3 X-2.5 Y0 I-2.5 F600\nG0 Z5\n"
    other = "G0 X-2.5 Y0\nG1 Z-3 F200\nG3 X2.5 Y0 I2.5 F600\nG0 Z5\n"
    slot = "G0 X30 Y0\nG1 Z-3\nG1 X40\nG0 Z5\n"
    assert one(half + slot + other).diameter == 11.0


@pytest.mark.parametrize(
    "body",
    [
        "G3 X-2.5 Y0 R2.5\nG3 X2.5 Y0 R2.5\n",
        "G3 X0 Y-2.5 R-2.5\nG3 X2.5 Y0 R2.5\n",
        "G3 X0 Y2.5 I-2.5\nX-2.5 Y0 J-2.5\nX0 Y-2.5 I2.5\nX2.5 Y0 J2.5\n",
        "G3 X0 Y2.5 R2.5\nX-2.5 Y0 I0 J-2.5\nX2.5 I2.5\n",
    ],
    ids=["R halves", "R of both signs", "quarters", "mixed"],
)
def test_ways_to_write_one_circle(body):
    hole = one("G0 X2.5 Y0\nG1 Z-3 F200\n" + body + "G0 Z5\n")
    assert (hole.side, hole.diameter) == ("hole", pytest.approx(11.0, abs=1e-9))
    assert hole.wall.centre == pytest.approx((0, 0), abs=1e-9)


@pytest.mark.parametrize(
    "body",
    [
        # a slot: two half circles on two centres
        "G0 X2.5 Y0\nG1 Z-3\nG3 X-2.5 Y0 I-2.5\nG1 Y-10\nG3 X2.5 Y-10 I2.5\nG1 Y0\nG0 Z5\n",
        # a three-quarter arc
        "G0 X2.5 Y0\nG1 Z-3\nG3 X0 Y-2.5 I-2.5\nG0 Z5\n",
        # a spiral of half circles
        "G0 X0 Y0\nG1 Z-3\nG3 X-1 Y0 I-0.5\nG3 X2 Y0 I1.5\nG3 X-3 Y0 I-2.5\nG3 X4 Y0 I3.5\nG0 Z5\n",
        # there and back again
        "G0 X2.5 Y0\nG1 Z-3\nG3 X-2.5 Y0 I-2.5\nG2 X2.5 Y0 I2.5\nG0 Z5\n",
        # drilling
        "G81 X10 Y10 Z-5 R2 F100\nX20 Y10\nG80\n",
        # a hexagon
        "G0 X10 Y0\nG1 Z-3\nG1 X5 Y8.66\nX-5\nX-10 Y0\nX-5 Y-8.66\nX5\nX10 Y0\nG0 Z5\n",
    ],
    ids=["slot", "three quarters", "spiral", "there and back", "drill", "hexagon"],
)
def test_what_only_looks_like_a_circle(body):
    assert features(body) == ()


def test_arcs_that_go_the_long_way_round_are_not_clean():
    points = [(5, 0), (0, 5), (-5, 0), (0, -5), (5, 0)]
    body = "G0 X5 Y0\nG1 Z-3 F200\n"
    for (x0, y0), (x, y) in pairwise(points):
        body += f"G2 X{x} Y{y} I{-x0} J{-y0}\n"
    assert one(body + "G0 Z5\n").fault == "not-clean"


def test_upright_plane_is_no_hole():
    body = "G0 X10 Y0 Z5\nG18\nG3 X10 Z5 I-3 K0\nG17\n"
    assert one(body).fault == "unsupported-mode"


def test_circle_in_an_unknown_position_is_left_alone():
    assert one("G1 Z-3 F200\nG3 I-5\n", head="G21 G17\nM3\n").fault == "position-unknown"


@pytest.mark.parametrize("before", ["G0 X[2*5] Y0\n", "G0 X0 Y0\nG53 G0 X0 Y0\n", "M98 P7\n", ""])
@pytest.mark.parametrize("outwards", ["", "G1 X42\n"])
def test_a_lead_in_from_nobody_knows_where_says_no_side(before, outwards):
    """Its start has a number only for want of a better one: 0, which lies outside this circle."""
    found = one(f"{before}G1 Z-3 F200\nG1 X37 Y0 F600\nG3 I-12\n{outwards}G0 Z5\n", head="G21 G90 G17\nM3\n")
    assert found.side == "unknown" if not outwards else found.side == "boss"
    assert "lead-in" not in found.evidence


def test_unknown_tool_lists_the_circle_without_a_size():
    found = one(ring(0, 0, 2.5, -3), cutters={0: None, 1: None})
    assert (found.fault, found.diameter) == ("tool-unknown", None)


def test_tool_that_is_no_cylinder_has_no_diameter():
    vee = Cutter("vee", 6.0, 1, cylindrical=False)
    assert one(ring(0, 0, 2.5, -3), cutters={0: vee, 1: vee}).fault == "tool-shape"


def test_same_numbers_in_another_frame_are_another_feature():
    found = features("G54\n" + ring(0, 0, 2.5, -3) + "G55\nG0 Z5\n" + ring(0, 0, 2.5, -3))
    assert [f.frame for f in found] == ["G54", "G55"]


def test_wall_is_judged_across_tools():
    four = Cutter("four", 4.0, 2)
    body = pocket(0, 0, (2, 4.5, 6.8), -6) + "M6 T2\nG0 Z5\n" + pocket(0, 0, (8,), -6)
    found = features(body, cutters={0: SIX, 1: four})
    walls = [f for f in found if not f.fault]
    assert [(f.diameter, f.cutter.name) for f in walls] == [(20.0, "four")]


@pytest.mark.parametrize(
    ("body", "centre", "path"),
    [
        # R rounded up to reach across the chord: each half falls 0.09 degrees short about its own centre
        (
            "G0 X220.97044 Y147.18007\nG1 Z-3 F200\nG3 X288.82956 Y122.21993 R36.15201\n"
            "G3 X220.97044 Y147.18007 R36.15201\nG3 X221.07543 Y121.93813 R36.152\nG0 Z5\n",
            (254.9, 134.7),
            36.152,
        ),
        # two arcs over one chord, neither of them near a semicircle
        (
            "G0 X128.77131 Y122.88111\nG1 Z-3 F200\nG2 X129.66979 Y125.07278 R-1.28\n"
            "G2 X128.77131 Y122.88111 R1.28\nG0 Z5\n",
            (128.77131, 124.16111),
            1.28,
        ),
        # nearly semicircles, one of them said to be the longer: its centre is 0.2 mm off the chord
        (
            "G0 X3.80393 Y0.215\nG1 Z-3 F200\nG3 X-3.80393 Y0.215 R3.81\nG3 X3.80393 Y0.215 R-3.81\nG0 Z5\n",
            (0, 0),
            3.81,
        ),
        # halves that close each other say better where the centre is than the short piece behind them
        (
            "G0 X14.751 Y0.178\nG1 Z-3 F200\nG3 X16.521 R0.885\nG3 X14.751 R0.885\n"
            "G3 X15.031 Y-0.469 R0.885\nG0 Z5\n",
            (15.636, 0.178),
            0.885,
        ),
        # a second lap from where the first has run past: its first arc is only nearly a half
        (
            "G0 X391.08 Y0.77\nG1 Z-3 F200\nG3 X392.52 Y-0.17 R0.86\nX391.08 Y0.77 R0.86\n"
            "X390.98 Y0.57 R0.86\nX392.52 Y-0.17 R0.86\nX391.08 Y0.77 R0.86\nG0 Z5\n",
            (391.8, 0.3),
            0.86,
        ),
    ],
    ids=["halves", "unequal", "nearly halves", "halves and a piece", "halves run past twice"],
)
def test_r_form_closes_round_the_joint_centre(body, centre, path):
    found = one(body)
    assert found.wall.centre == pytest.approx(centre, abs=1e-3)
    assert found.wall.radius == pytest.approx(path, abs=1e-3)


def test_roughing_of_a_kerf_is_no_boss_though_a_slug_is_left():
    rough, finish = ring(0, 0, 20, -3), ring(0, 0, 20.2, -3)
    found = {f.wall.radius: f for f in features(rough + finish)}
    assert (found[20.2].side, found[20.2].diameter, found[20.2].fault) == ("hole", 46.4, "")
    assert (found[20.0].side, found[20.0].fault) == ("unknown", "side-unknown")


def test_roughing_of_a_disc_is_no_hole_though_waste_is_left():
    rough, finish = ring(0, 0, 20.2, -3, "G2"), ring(0, 0, 20, -3, "G2")
    found = {f.wall.radius: f for f in features(rough + finish)}
    assert (found[20.0].side, found[20.0].diameter, found[20.0].fault) == ("boss", 34.0, "")
    assert (found[20.2].side, found[20.2].fault) == ("unknown", "side-unknown")


def test_finish_that_does_not_close_leaves_its_roughing_without_a_side():
    stray = "G2 X-20.2 Y0 R20.2\nG2 X0 Y20.2 R20.2\nG2 X20.2 Y0 R20.2\nG2 X0 Y-20.2 R20.2\n"
    body = "G0 X0 Y-20\nG1 Z-3 F200\nG2 J20 F600\n" + stray + "G0 Z5\n"
    assert [(f.side, f.fault) for f in features(body)] == [("unknown", "side-unknown")]


def test_said_side_whose_surface_is_gone_is_cut_away():
    body = ring(0, 0, 20, -3) + ring(0, 0, 20.2, -3)
    assert [f.fault for f in features(body, sides={"C1": "hole"})] == ["cut-away", ""]


def test_boss_that_the_cutter_covers_is_none():
    found = one(ring(0, 0, 2.5, -3), sides={"C1": "boss"})
    assert (found.fault, found.diameter) == ("not-clean", None)


def test_coarsely_written_ring_is_found_beside_finely_written_ones():
    """Quarters at 20 degrees in two decimals: radii and corners are off by up to 7 µm."""
    coarse = (
        "G0 X15.04 Y5.47\nG1 Z-3 F200\nG1 X18.79 Y6.84\nG3 X-6.84 Y18.79 I-18.79 J-6.84\n"
        "G3 X-18.79 Y-6.84 I6.84 J-18.79\nG3 X6.84 Y-18.79 I18.79 J6.84\n"
        "G3 X18.79 Y6.84 I-6.84 J18.79\nG0 Z5\n"
    )
    alone = one(coarse)
    beside = features(coarse + ring(100.0125, 50.0375, 2.50125, -3))
    assert len(beside) == 2 and beside[0].wall.rows == alone.wall.rows
    assert (beside[0].side, beside[0].diameter) == (alone.side, pytest.approx(alone.diameter, abs=1e-9))


def test_coarsely_written_ring_over_holding_tabs_is_found_beside_finely_written_ones():
    """Two of its six arcs have radii that agree within 2 µm; that proves nothing."""
    points = ["X355.28 Y128.21 J34.51", "X359.71 Y141.85 I34.32 J-3.61", "X409.88 Y152.52 I29.89 J-17.25"]
    points += [
        "X419.49 Y141.86 I-20.28 J-27.92",
        "X403.64 Y93.07 I-29.89 J-17.26",
        "X389.6 Y90.09 I-14.04 J31.53",
    ]
    tabs = "".join(f"G2 {p} F600\nG1 Z{-2 if k % 2 else -3}\n" for k, p in enumerate(points, 1))
    coarse = "G0 X389.6 Y90.09\nG1 Z-3 F200\n" + tabs + "G0 Z5\n"
    assert len(features(coarse + ring(100.0125, 50.0375, 2.50125, -3))) == len(features(coarse)) + 1 == 2


def test_r_form_halves_whose_r_was_rounded_up_leave_a_round_wall():
    """By their own centres, 0.6 mm off the chord, they would cut a lens and leave the roughing a wall."""
    rough = pocket(0, 0, (2, 6.5, 11, 15.5, 19.8), -3)
    finish = "G0 X20 Y0\nG1 Z-3 F200\nG3 X-20 R20.01 F600\nG3 X20 R20.01\nG0 Z5.00\n"
    hole = one(rough + finish)
    assert (hole.side, hole.diameter, hole.fault) == ("hole", pytest.approx(46.0, abs=0.02), "")
    assert [r.radius for r in hole.clearing] == [2.0, 6.5, 11.0, 15.5, 19.8]


def test_roughing_with_a_smaller_cutter_clears_for_the_wall_of_a_larger_one():
    rough, finish = pocket(0, 0, (1.2, 3.6, 6.0, 8.3), -6), "M6 T2\nG0 Z5\n" + pocket(0, 0, (7,), -6)
    three = Cutter("three", 3.0, 1)
    hole = one(rough + finish, cutters={0: three, 1: SIX})
    assert (hole.side, hole.diameter) == ("hole", 20.0)
    assert [r.radius for r in hole.clearing] == [1.2, 3.6, 6.0, 8.3]


def test_a_depth_in_thousandths_of_an_inch_is_as_deep_as_the_one_it_was_rounded_from():
    """Roughed to 8.113 mm, finished to what three decimals of an inch leave of it: 0.319 in, 8.1026 mm."""
    rough, finish = pocket(0, 0, (1.2, 3.6, 6.0, 8.3), -8.113), "M6 T2\nG0 Z5\n" + pocket(0, 0, (7,), -8.1026)
    hole = one(rough + finish, cutters={0: Cutter("three", 3.0, 1), 1: SIX})
    assert (hole.side, hole.diameter) == ("hole", 20.0)


def test_half_circles_over_one_chord_are_half_a_circle():
    """Their ends lie in line, a little apart: no circle goes through them, and none is guessed."""
    half = "G0 X{0} Y0\nG1 Z-{1} F200\nG3 X-{0} Y0 R{2}\nG0 Z5\n"
    assert not features(half.format(10, 2, 10.001) + half.format(10.003, 4, 10.004))


HALVES = "G0 X10 Y0\nG1 Z-2 F200\nG3 X-10 Y0 {r} F600\nX10 {r}\nG0 Z5\n"


@pytest.mark.parametrize("more", [0.001, 0.002])
def test_halves_in_r_form_are_a_circle_while_rounding_explains_their_r(more):
    """R that exceeds half the chord by e leaves a lens, sqrt(2 R e) short on either side: 0.2 mm for 0.002.

    Rounding of ends and R, and R rounded up to reach, makes up to 1.9 units of it: no more can be written.
    """
    assert one(HALVES.format(r=f"R{10 + more:.3f}")).fault == "side-unknown"


@pytest.mark.parametrize(("more", "short"), [(0.003, "0.242"), (0.005, "0.311"), (0.010, "0.437")])
def test_halves_in_r_form_whose_r_is_meant_so_are_not_clean(more, short):
    """A control cuts two arcs that meet at an angle: nobody can say what is to be corrected there."""
    lens = one(HALVES.format(r=f"R{10 + more:.3f}"))
    assert (lens.fault, lens.wall.centre) == ("not-clean", pytest.approx((0, 0), abs=1e-9))
    assert f"{more:.3f} longer" in lens.why and f"{short} " in lens.why and "R10.000" in lens.why


def test_a_lens_of_two_arcs_is_no_circle():
    assert not features(HALVES.format(r="R10.2"))


def test_quarters_in_r_form_that_stay_within_the_tolerance_are_a_circle():
    """R too long by four units bends each of them 1.7 units less; by 20 units, 8.3."""
    turn = "G0 X10 Y0\nG1 Z-2 F200\nG3 X0 Y10 {r} F600\nX-10 Y0 {r}\nX0 Y-10 {r}\nX10 Y0 {r}\nG0 Z5\n"
    assert one(turn.format(r="R10.004")).fault == "side-unknown"
    assert one(turn.format(r="R10.020")).fault == "not-clean"
    assert one(turn.format(r="R9.980")).fault == "not-clean"


def test_full_circles_above_a_coarse_ring_over_tabs_are_of_it():
    """Its pieces are rounded to two decimals, which the full circles above cannot show."""
    above = "G0 X7.07 Y7.07\nG1 Z-1 F200\nG2 X7.07 Y7.07 I-7.07 J-7.07 F600\nG0 Z5\n"
    points = ["X5.12 Y-8.58 I-7.07 J-7.07", "X-9.24 Y-3.85 I-5.12 J8.58", "X-3.84 Y9.24 I9.24 J3.85"]
    tabs = "".join(f"G2 {p} F600\nG1 Z{-2 if k % 2 else -3}\n" for k, p in enumerate(points, 1))
    body = above + f"G0 X7.07 Y7.07\nG1 Z-3 F200\n{tabs}G2 X7.07 Y7.07 I3.84 J-9.24\nG0 Z5\n"
    found = one(body + "G0 X100.12345 Y0\n")
    assert found.wall.z == (-1.0, -3.0)


def test_of_two_laps_that_are_nearly_one_circle_the_deeper_says_how_large_it_is():
    high = "G0 X2.003 Y0\nG1 Z-1 F200\nG2 X2.003 Y0 I-2.003 J0 F600\nG0 Z5\n"
    deep = "G0 X2 Y0\nG1 Z-4 F200\nG3 X2 Y0 I-2 J0 F600\nG0 Z5\n"
    assert {one(high + deep).wall.radius, one(deep + high).wall.radius} == {2.0}

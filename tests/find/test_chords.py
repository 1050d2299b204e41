"""Circles written as short straights, and the polygons, ellipses and corners that are none.

6 mm cutter, clockwise spindle, millimetres.
"""

from math import cos, pi, sin

import pytest

from roundwright.find import find_features
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM3 S16000\nG0 Z5.0\n"
SIX = Cutter("six", 6.0, 1)


def features(body, **settings):
    moves = trace_moves(read_program((HEAD + body).encode(), "chords.nc"))
    return find_features(
        moves, dict.fromkeys(range(len(moves.sections)), SIX), Machine(), Settings(**settings)
    )


def corners(n, radius, x=0.0, y=0.0, begin=0.0, laps=1.0, squash=1.0):
    for k in range(int(n * laps) + 1):
        angle = begin + 2 * pi * k / n
        yield x + radius * cos(angle), y + squash * radius * sin(angle)


def path(points, z=-3.0, drop=0.0, decimals=4):
    (x, y), *rest = points
    text = f"G0 X{x:.{decimals}f} Y{y:.{decimals}f}\nG1 Z{z:.2f} F200\n"
    for k, (x, y) in enumerate(rest, 1):
        down = f" Z{z - drop * k / len(rest):.4f}" if drop else ""
        text += f"X{x:.{decimals}f} Y{y:.{decimals}f}{down}\n"
    return text + "G0 Z5\n"


@pytest.mark.parametrize("n", [12, 24, 72, 360])
@pytest.mark.parametrize("decimals", [3, 4])
def test_a_circle_of_chords_is_a_hole(n, decimals):
    (hole,) = features(path(corners(n, 2.5, 40, 30, begin=0.3), decimals=decimals))
    assert (hole.side, hole.fault, hole.wall.forms) == ("hole", "", ("chords",))
    assert hole.diameter == pytest.approx(11.0, abs=2 * 10**-decimals)
    assert hole.wall.centre == pytest.approx((40, 30), abs=10**-decimals)
    assert (hole.wall.turn, hole.cut, hole.wall.passes) == ("ccw", "climb", 1)


def test_a_helix_of_chords_with_a_flat_turn_is_one_hole():
    down = path(corners(48, 2.5, laps=4), z=0.0, drop=4.0)
    flat = path(corners(48, 2.5), z=-4.0)
    (hole,) = features(down + flat)
    assert (hole.side, hole.wall.z, hole.wall.flat, hole.wall.passes) == ("hole", (0.0, -4.0), True, 5)


def test_chords_and_arcs_on_one_circle_are_one_feature():
    down = path(corners(48, 2.5, laps=4), z=0.0, drop=4.0)
    flat = "G0 X2.5 Y0\nG1 Z-4 F200\nG3 I-2.5 F600\nG0 Z5\n"
    (hole,) = features(down + flat)
    assert hole.wall.forms == ("arc", "chords") and hole.wall.passes == 5


def test_a_ring_of_arcs_and_chords_together():
    half = "G0 X2.5 Y0\nG1 Z-3 F200\nG3 X-2.5 Y0 I-2.5 F600\nG1\n"
    rest = "".join(f"X{x:.4f} Y{y:.4f}\n" for x, y in list(corners(40, 2.5, begin=pi))[1:21])
    (hole,) = features(half + rest + "G0 Z5\n")
    assert hole.wall.forms == ("arc", "chords") and hole.diameter == pytest.approx(11.0, abs=1e-3)


def test_clearing_rings_and_leads_of_chords():
    text = "G0 X0 Y0\nG1 Z-3 F200\n"
    for radius in (2.0, 4.5, 7.0):
        text += "".join(f"X{x:.4f} Y{y:.4f}\n" for x, y in corners(90, radius))
    (hole,) = features(text + "X0 Y0\nG0 Z5\n")
    assert (hole.side, len(hole.clearing)) == ("hole", 2)
    assert hole.diameter == pytest.approx(20.0, abs=1e-3)


def test_a_lead_in_of_chords_that_turns_the_same_way_is_not_taken_in():
    lead = [(5.0 + 2 * cos(a), 2 * sin(a)) for a in (-pi / 2 + k * pi / 24 for k in range(12))]
    ring = list(corners(96, 7.0))
    body = path([(4.0, -2.0), *lead, *ring])
    (hole,) = features(body)
    assert hole.diameter == pytest.approx(20.0, abs=1e-3)
    assert len(hole.wall.rows) == 96
    assert hole.side == "hole"


def test_the_notes_give_the_path_over_corners_and_flats():
    (hole,) = features(path(corners(24, 2.5)))
    assert hole.notes == ("chords: path 5.000 over the corners, 4.957 over the flats",)


@pytest.mark.parametrize("n", range(3, 12))
def test_polygons_are_no_circles(n):
    assert features(path(corners(n, 2.5))) == ()


def test_chords_that_stand_off_too_far_are_a_polygon():
    assert features(path(corners(24, 20.0)), side="hole") == ()  # sagitta 0.17 mm
    assert len(features(path(corners(48, 20.0)), side="hole")) == 1  # 0.04 mm


@pytest.mark.parametrize("squash", [0.995, 0.9, 0.5])
def test_ellipses_are_no_circles(squash):
    assert features(path(corners(72, 10.0, squash=squash))) == ()


def test_spirals_are_no_circles():
    spiral = [((2 + k / 60) * cos(k * pi / 36), (2 + k / 60) * sin(k * pi / 36)) for k in range(400)]
    assert features(path(spiral)) == ()


def test_rounded_rectangles_and_slots_are_no_circles():
    points = []
    for cx, cy, begin in ((20, 10, 0), (-20, 10, pi / 2), (-20, -10, pi), (20, -10, 3 * pi / 2)):
        points += [(cx + 5 * cos(begin + k * pi / 40), cy + 5 * sin(begin + k * pi / 40)) for k in range(21)]
    assert features(path([*points, points[0]])) == ()


def test_three_quarters_of_chords_do_not_close():
    assert features(path(list(corners(72, 2.5))[:55])) == ()


def test_noise_beyond_the_written_decimals_is_no_circle():
    rough = [(x + 0.02 * (-1) ** k, y) for k, (x, y) in enumerate(corners(72, 10.0))]
    assert features(path(rough)) == ()


def test_a_kerf_of_chords_with_plunge_on_the_ring_is_unknown():
    (circle,) = features(path(corners(180, 20.0)))
    assert (circle.side, circle.fault) == ("unknown", "side-unknown")


def test_chords_cut_into_pieces_by_holding_tabs():
    points = list(corners(120, 2.5))
    text = "G0 X2.5 Y0\nG1 Z-3 F200\n"
    for k, (x, y) in enumerate(points[1:], 1):
        if k in (30, 90):
            text += "G1 Z-2\n"
        if k in (36, 96):
            text += "G1 Z-3\n"
        text += f"X{x:.4f} Y{y:.4f}\n"
    (hole,) = features(text + "G0 Z5\n")
    assert hole.diameter == pytest.approx(11.0, abs=1e-3)
    assert len(hole.wall.rows) == 120


@pytest.mark.parametrize("turn", [-1, 1])
@pytest.mark.parametrize("begin", [0.0, 0.7, pi / 2, 2.2, pi, 4.0, -pi / 2])
def test_a_plunge_on_the_ring_hides_no_chord(begin, turn):
    """What the plunge's own direction is says nothing about the way the ring turns."""
    points = list(corners(40, 8.0, begin=begin))[::turn]
    found = features(path(points))
    assert [round(f.wall.radius, 3) for f in found] == [8.0] and found[0].wall.passes == 1


@pytest.mark.parametrize("n", [36, 60])
def test_a_lead_in_of_chords_that_curves_away_hides_no_chord(n):
    """An arc lead outside a boss turns against the ring: the ring's first chord turns with neither."""
    lead = [(26 + 6 * cos(a), 6 * sin(a)) for a in (pi / 2 + k * pi / 12 for k in range(7))]
    out = [(x, -y) for x, y in reversed(lead)]
    ring = list(corners(n, 20.0))[::-1]
    found = features(path([*lead, *ring[1:], *out[1:]]))
    assert [(round(f.wall.radius, 3), f.side) for f in found] == [(20.0, "boss")]


def test_rounding_may_widen_a_chord_past_30_degrees():
    text = path(corners(12, 0.8, begin=0.1), decimals=2)
    (hole,) = features(text)
    assert (hole.side, hole.wall.forms) == ("hole", ("chords",))


@pytest.mark.parametrize("laps", [1.0, 1.1, 2.0])
@pytest.mark.parametrize("radius", [0.8, 2.0, 6.0])
def test_eleven_sides_are_a_polygon_however_coarsely_and_often_they_are_cut(radius, laps):
    assert not features(path(corners(11, radius, begin=0.1, laps=laps), decimals=2))


@pytest.mark.parametrize("turn", [1, -1])
def test_leads_whose_turning_is_lost_in_rounding_hide_no_circle(turn):
    """A quarter of 16 short chords that curves away outside, at both ends: each turns less than it rounds."""
    radius, small = 26.0, 1.9
    bend = [(radius + small * (1 - cos(a)), small * sin(a)) for a in (k * pi / 32 for k in range(17))]
    lap = list(corners(64, radius))[1:]
    points = [*((x, -turn * y) for x, y in bend[::-1]), *((x, turn * y) for x, y in lap)]
    points += [(x, turn * y) for x, y in bend[1:]]
    (boss,) = features(path(points, decimals=2))
    assert (boss.side, boss.fault) == ("boss", "")
    assert boss.wall.radius == pytest.approx(radius, abs=0.005)


@pytest.mark.parametrize("line", ["", "G0 X100.12345\n"])
def test_chords_are_held_to_their_own_decimals(line):
    """A number that is written more finely elsewhere makes no corner more exact."""
    (hole,) = features(path(corners(60, 20), decimals=2) + path([(10, 0), (14, 0), (10, 0)]) + line)
    assert hole.wall.radius == pytest.approx(20, abs=0.005)
    assert hole.wall.tolerance == pytest.approx(0.02)


def test_a_lead_chord_within_the_tolerance_is_not_of_the_ring():
    """The first corner of a lead that leaves along the tangent stands 0.02 mm off, two decimals allow it."""
    lap = list(corners(72, 24))
    (boss,) = features(path([(24.9, -2.5), (24.02, -0.3), *lap, (24.02, 0.3), (24.9, 2.5)], decimals=2))
    assert (boss.side, len(boss.wall.rows)) == ("boss", 72)


@pytest.mark.parametrize("arc_first", [True, False])
def test_an_arc_that_goes_most_of_the_way_round_needs_few_chords_to_close(arc_first):
    quarter = "".join(f"G1 X{x:.4f} Y{y:.4f}\n" for x, y in list(corners(28, 2.4))[1:8])
    rest = "G3 X2.4 Y0 I0 J-2.4\n"
    body = rest.replace("X2.4 Y0 I0 J-2.4", "X0 Y-2.4 I-2.4 J0") + "".join(
        f"G1 X{x:.4f} Y{y:.4f}\n" for x, y in list(corners(28, 2.4, begin=-pi / 2))[1:8]
    )
    (hole,) = features("G0 X2.4 Y0\nG1 Z-3 F200\n" + (body if arc_first else quarter + rest) + "G0 Z5\n")
    assert (hole.side, hole.wall.forms) == ("hole", ("arc", "chords"))
    assert hole.wall.radius == pytest.approx(2.4, abs=1e-4)


@pytest.mark.parametrize("begin", [0, pi / 2, pi, -pi / 2])
def test_coarse_corners_of_part_of_a_circle_do_not_mislead_about_the_rest(begin):
    """A circle through some of them, in thousandths of an inch, misses the others by up to 0.05 mm."""
    text = path(corners(18, 0.21875, 25.4, 15.6, begin=begin), z=-0.1, decimals=3)
    (hole,) = features(f"G20\nG0 Z.2\n{text}".replace("Z5", "Z.2"))
    assert len(hole.wall.rows) == 18
    assert hole.wall.radius == pytest.approx(0.21875 * 25.4, abs=0.01)


@pytest.mark.parametrize(("side", "rough"), [(1, 34), (1, 360), (-1, 360)])
@pytest.mark.parametrize(("decimals", "stock"), [(2, 0.06), (2, 0.14), (3, 0.04), (3, 0.08)])
def test_a_finish_of_chords_with_little_stock_is_the_only_wall(side, rough, decimals, stock):
    """Between its corners it takes less than the stock, and less than what coarse decimals leave open."""
    text = ""
    for n, radius in ((rough, 20 - side * stock), (34, 20)):
        lead = (radius - side * 4, 0.0)
        text += path([lead, *corners(n, radius), lead], decimals=decimals)
    found = [f for f in features(text) if not f.fault]
    assert [(f.side, round(f.wall.radius, 2)) for f in found] == [("hole" if side > 0 else "boss", 20.0)]


@pytest.mark.parametrize("stock", [0.02, 0.05, 0.08, 0.2])
@pytest.mark.parametrize("n", [34, 60])
@pytest.mark.parametrize(("side", "name"), [(1, "hole"), (-1, "boss")])
def test_a_finish_of_chords_that_takes_little_tells_the_side_of_its_roughing(side, name, n, stock):
    """Plunged on the ring both: the roughing's middles stand up to 0.08 mm inside its corners."""
    text = "".join(path(list(corners(n, r)), decimals=3) for r in (20 - side * stock, 20))
    walls = [(f.side, round(f.wall.radius, 2)) for f in features(text) if not f.fault]
    assert walls == [(name, 20.0)]


@pytest.mark.parametrize("radius", [30.86, 3.21])
@pytest.mark.parametrize("more", [0.0, 0.001])
def test_a_half_in_r_form_goes_round_with_a_half_of_chords(radius, more):
    """Rounding of ends and R puts the half circle's own middle up to 0.2 mm off; its ends tell."""
    lap = [(x, y) for x, y in corners(64, radius, 40, 30, begin=0.38)]
    (x, y), (u, v) = lap[0], lap[32]
    half = f"G0 X{x:.3f} Y{y:.3f}\nG1 Z-3 F200\nG3 X{u:.3f} Y{v:.3f} R{radius + more:.3f} F600\nG1\n"
    rest = "".join(f"X{x:.3f} Y{y:.3f}\n" for x, y in lap[33:])
    (found,) = features(half + rest + "G0 Z5\n")
    assert found.wall.forms == ("arc", "chords")
    assert found.wall.centre == pytest.approx((40, 30), abs=0.001)
    assert found.wall.radius == pytest.approx(radius, abs=0.001)


def test_chords_past_the_start_are_of_a_ring_whose_halves_are_in_r_form():
    """The halves' own centres mean nothing, and two short chords on one side tell even less."""
    halves = "G3 X25.66697 Y10.63385 R0.77321 F90\nX24.92761 Y9.27563 R0.77321\n"
    past = "G1 X25.00515 Y9.23878\nX25.08638 Y9.21079\nG0 Z.2\n"
    (found,) = features("G20\nG0 Z.2\nX24.92761 Y9.27563\nG1 Z-.3 F20\n" + halves + past)
    assert len(found.wall.rows) == 4
    assert found.wall.radius == pytest.approx(0.77321 * 25.4, abs=0.001)


def test_an_arc_that_leads_in_and_curves_away_hides_no_chord():
    """What the ring's first chord turns from the arc's end is lost in rounding."""
    lap = list(corners(60, 4, begin=0.0))
    chords = "".join(f"G1 X{x:.2f} Y{y:.2f}\n" for x, y in lap[1:])
    lead_out = "G2 X12 Y8 I8 J0\nG0 Z5\n"
    (boss,) = features("G0 X12 Y-8\nG1 Z-3 F200\nG2 X4 Y0 I0 J8 F600\n" + chords + lead_out)
    assert (boss.side, len(boss.wall.rows)) == ("boss", 60)
    assert boss.wall.radius == pytest.approx(4, abs=0.005)


def test_a_corner_that_is_rounded_to_thousandths_of_an_inch_is_of_its_ring():
    """Half a unit along both axes puts it 0.018 mm off: it is no lead, though the others lie nearer."""
    lap = [*corners(38, 0.9781, begin=-pi / 2, laps=2), (0.136, -0.969), (0.270, -0.940), (0.398, -0.893)]
    (circle,) = features("G20\nG0 Z.2\n" + path(lap, z=-0.1, decimals=3).replace("Z5", "Z.2"))
    assert len(circle.wall.rows) == 79


@pytest.mark.parametrize(("more", "circles"), [(0.002, 1), (0.003, 0), (0.02, 0)])
def test_a_half_whose_r_is_meant_too_long_makes_no_circle_with_a_half_of_chords(more, circles):
    """It is cut sqrt(2 R e) short of one: 0.24 mm for 0.003."""
    lap = list(corners(64, 10, 40, 30, begin=0.38))
    (x, y), (u, v) = lap[0], lap[32]
    half = f"G0 X{x:.3f} Y{y:.3f}\nG1 Z-3 F200\nG3 X{u:.3f} Y{v:.3f} R{10 + more:.3f} F600\nG1\n"
    rest = "".join(f"X{x:.3f} Y{y:.3f}\n" for x, y in lap[33:])
    assert len(features(half + rest + "G0 Z5\n")) == circles

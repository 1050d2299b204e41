"""Which wall a clearing ring clears for, and what compensation that ends does to a wall."""

from roundwright.find import find_features
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM6 T1\nM3 S16000\nG0 Z5\n"


def features(body):
    moves = trace_moves(read_program((HEAD + body).encode(), "test.nc"))
    cutters = {k: Cutter("six", 6.0, 1) for k in range(len(moves.sections))}
    return find_features(moves, cutters, Machine(), Settings())


def rings(z, *radii):
    """Rings about the origin at one depth, from the middle outwards."""
    return f"G0 X0 Y0\nG1 Z{z} F300\n" + "".join(f"G1 X{r}\nG3 I{-r}\n" for r in radii) + "G1 X0\nG0 Z5\n"


def test_rings_of_a_seat_clear_for_the_seat_and_not_for_the_bore_through_it():
    seat, bore = features(rings(-11, 3, 7, 11, 14.5) + rings(-18, 10))
    assert (seat.diameter, bore.diameter) == (35.0, 26.0)
    assert [ring.radius for ring in seat.clearing] == [3.0, 7.0, 11.0]
    assert bore.clearing == ()


def test_roughing_that_stops_above_the_floor_clears_for_the_wall_that_reaches_it():
    seat, bore = features(rings(-10.8, 3, 7, 11) + rings(-11, 14.5) + rings(-18, 10))
    assert [ring.radius for ring in seat.clearing] == [3.0, 7.0, 11.0]
    assert bore.clearing == ()


def test_the_move_that_cancels_compensation_does_not_cut_the_wall():
    body = "G0 X0 Y0\nG1 Z-3 F300\nG41 D1 G1 X10 Y0\nG3 I-10\nG40 G1 X0 Y0\nG0 Z5\n"
    (hole,) = features(body)
    assert (hole.side, hole.diameter, hole.survives, hole.notes) == ("hole", 20.0, 1.0, ())

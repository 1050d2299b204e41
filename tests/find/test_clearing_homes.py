"""Which wall a clearing ring clears for, and what compensation that ends does to a wall."""

import pytest

from known_truth import table_for
from roundwright.find import find_features
from roundwright.pipeline import correct
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM6 T1\nM3 S16000\nG0 Z5\n"

#: turns by R in thousandths of an inch, their centres 0.06 mm apart, in a program that is finer elsewhere.
COARSE = """G20 G90 G17
M6 T1
M3 S12000
G0 X0.00001 Z0.2
G0 X20.549 Y-0.360
G1 Z-0.147 F20
G3 X20.584 Y-0.063 R0.157
G3 X20.549 Y-0.360 R-0.157
G1 X20.611 Y-0.669
G3 X20.715 Y0.224 R0.472
G3 X20.611 Y-0.669 R-0.473
G1 X20.674 Y-0.978
G3 X20.846 Y0.510 R0.788
G3 X20.674 Y-0.978 R-0.788
G0 Z0.2
G0 X20.707 Y-1.143
G1 Z-0.147
G3 X20.916 Y0.663 R0.956
G3 X20.707 Y-1.143 R-0.956
G0 Z0.2
M30
"""


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


@pytest.mark.parametrize(("off", "clearing"), [(0.06, [2.0, 7.0]), (0.08, [7.0])])
def test_what_is_round_one_centre_does_not_hang_on_how_finely_it_is_written(off, clearing):
    rings = {2: off, 7: 0.0, 12: 0.0}
    found = features("".join(f"G0 X{x + r} Y0\nG1 Z-3 F300\nG3 I{-r}\nG0 Z5\n" for r, x in rings.items()))
    assert len(found) == 3 - len(clearing)
    assert (found[-1].diameter, [ring.radius for ring in found[-1].clearing]) == (30.0, clearing)


def test_a_correction_that_is_written_more_finely_keeps_its_clearing_rings():
    (one,) = correct(COARSE.encode(), "test.nc", table_for({1: 10.0}), Settings()).plan.corrections
    assert (one.status, len(one.feature.clearing)) == ("corrected", 3)

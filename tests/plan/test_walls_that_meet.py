"""Walls beside walls, planned and moved: islands, annuli, O-ring grooves, keyholes, holes that meet.

6 mm cutter, clockwise spindle; every hole comes out 0.1 mm small, every boss 0.1 mm large, grooves 0.04 wide.
"""

from math import cos, pi, sin

import pytest

from roundwright.calibration import open_table
from roundwright.find import find_features
from roundwright.pipeline import correct
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM6 T1\nM3 S16000\nG0 Z5.000\n"
CONDITION = """[[condition]]
tool = 1
material = "birch ply"
side = "{side}"
cut = "any"
readings = [ {{ programmed = 5.0, diameter = {a} }}, {{ programmed = 200.0, diameter = {b} }} ]
"""
TABLE = open_table(
    'schema = "roundwright.table/1"\n[machine]\nname = "bench"\nunits = "mm"\n'
    '[[tool]]\nnumber = 1\nname = "six"\ndiameter = 6.0\n'
    + CONDITION.format(side="hole", a=4.9, b=199.9)
    + CONDITION.format(side="boss", a=5.1, b=200.1)
    + CONDITION.format(side="groove", a=4.96, b=199.96)
)


def run(body, **settings):
    program = (HEAD + body).encode()
    return correct(program, "walls.nc", TABLE, Settings(**{"material": "birch ply", **settings}))


def by_side(outcome):
    return {(c.feature.side, round(c.feature.diameter, 3)): c for c in outcome.plan.corrections}


def again(outcome, **settings):
    moves = trace_moves(read_program(outcome.output, "out.nc"))
    cutters = dict.fromkeys(range(len(moves.sections)), Cutter("six", 6.0, 1))
    return {
        (f.side, round(f.diameter, 3)) for f in find_features(moves, cutters, Machine(), Settings(**settings))
    }


def lap(x, y, r, z=-3, turn="G3"):
    return f"G0 X{x + r} Y{y}\nG1 Z{z} F200\n{turn} X{x + r} Y{y} I{-r} F600\nG0 Z5\n"


def pocket(x, y, radii, z=-3):
    text = f"G0 X{x} Y{y}\nG1 Z{z} F200\n"
    for r in radii:
        text += f"G1 X{x + r} Y{y} F600\nG3 X{x + r} Y{y} I{-r}\n"
    return text + f"G1 X{x} Y{y}\nG0 Z5\n"


def square(half):
    return f"G0 X{half} Y{half}\nG1 Z-3 F200\nG1 X-{half} F600\nY-{half}\nX{half}\nY{half}\nG0 Z5\n"


def test_island_in_a_square_pocket_is_a_boss():
    outcome = run(
        "".join(square(h) for h in (33, 28, 23)) + lap(0, 0, 23, turn="G2") + lap(0, 0, 18, turn="G2")
    )
    (found,) = outcome.plan.corrections
    assert (found.feature.side, found.feature.diameter, found.status) == ("boss", 30.0, "corrected")
    assert found.change == pytest.approx(-0.1)
    assert again(outcome) == {("boss", 29.9)}


def test_cleared_annulus_moves_both_walls_apart():
    outcome = run("".join(lap(0, 0, r) for r in (15, 19, 23)))
    found = by_side(outcome)
    assert {key: c.status for key, c in found.items()} == {
        ("boss", 24.0): "corrected",
        ("hole", 52.0): "corrected",
    }
    assert again(outcome) == {("boss", 23.9), ("hole", 52.1)}


def test_o_ring_groove_of_one_kerf_is_a_groove_where_it_is_said():
    body = lap(0, 0, 20)
    assert [c.reason for c in run(body).plan.corrections] == ["side-unknown"]
    outcome = run(body, sides={"C1": "groove"})
    (found,) = outcome.plan.corrections
    assert (found.feature.side, found.feature.diameter, found.feature.cut) == ("groove", 40.0, "both")
    assert found.change == pytest.approx(0.04)
    assert again(outcome, sides={"C1": "groove"}) == {("groove", 40.04)}


def test_counterbore_and_bore_each_get_their_own():
    outcome = run(pocket(0, 0, (2, 4.5, 7), -3) + lap(0, 0, 2.5, -12))
    assert {key: c.status for key, c in by_side(outcome).items()} == {
        ("hole", 20.0): "corrected",
        ("hole", 11.0): "corrected",
    }
    assert again(outcome) == {("hole", 20.1), ("hole", 11.1)}


def test_keyhole_is_corrected_and_the_listing_says_what_is_left_of_it():
    slot = "G0 X0 Y0\nG1 Z-3 F200\nG1 X30 F600\nG0 Z5\n"
    outcome = run(pocket(0, 0, (2, 4.5, 7)) + slot)
    (found,) = outcome.plan.corrections
    assert found.status == "corrected" and "survives" in found.feature.notes[0]
    assert b"G1 X30 F600" in outcome.output  # the slot's end stays


def test_two_holes_that_meet_are_both_corrected():
    outcome = run(pocket(0, 0, (2, 4.5, 7)) + pocket(17, 0, (2, 4.5, 7)))
    assert [c.status for c in outcome.plan.corrections] == ["corrected"] * 2
    assert all("survives" in c.feature.notes[0] for c in outcome.plan.corrections)
    assert again(outcome) == {("hole", 20.1)}


def test_a_washer_is_corrected_on_both_sides():
    outside = "G0 X32 Y0\nG1 Z-3 F200\nG1 X23 F600\nG2 X23 Y0 I-23\nG1 X32\nG0 Z5\n"
    outcome = run(lap(0, 0, 2.5) + outside)
    assert again(outcome) == {("hole", 11.1), ("boss", 39.9)}
    assert outcome.output.count(b"X32") == 2  # the outer lead keeps its far end


def test_a_wall_pass_alone_moves_with_spread_wall():
    outcome = run(pocket(0, 0, (2, 4.5, 7)), spread="wall")
    assert b"I-2\n" in outcome.output and b"I-4.5" in outcome.output and b"I-7.05" in outcome.output
    outcome = run(pocket(0, 0, (2, 4.5, 7)))
    assert b"I-2.014" in outcome.output and b"I-4.532" in outcome.output


def test_a_thin_web_that_would_break_through_keeps_both_holes_as_they_are():
    outcome = run(lap(0, 0, 2.5) + lap(11.05, 0, 2.5))
    assert [c.reason for c in outcome.plan.corrections] == ["would-collide"] * 2
    assert outcome.output == (HEAD + lap(0, 0, 2.5) + lap(11.05, 0, 2.5)).encode()


def test_a_lead_of_chords_that_travels_with_its_compensated_boss_is_no_other_cut():
    """Its last chord ends on the ring, and beside it, coarsely rounded, the cutter is some µm too far in."""
    r, small = 33.857, 4.8
    bend = [(r + small * (1 - cos(a)), small * sin(a)) for a in (k * pi / 32 for k in range(17))]
    ring = [(r * cos(a), r * sin(a)) for a in (k * pi / 36 for k in range(1, 73))]
    points = [*((x, -y) for x, y in bend[::-1]), *ring, *bend[1:]]
    first, *rest = (f"X{x:.2f} Y{y:.2f}\n" for x, y in points)
    lead = f"G0 X42.66 Y-4.8\nG1 Z-2 F200\nG42 D1 {first}"
    (boss,) = run(f"{lead}{''.join(rest)}G40 X42.66 Y4.8\nG0 Z5\n").plan.corrections
    assert (boss.status, boss.feature.side) == ("corrected", "boss")

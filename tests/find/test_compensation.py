"""Cutter compensation: the programmed path is the contour, unless the table says wear offset.

6 mm cutter, clockwise spindle, millimetres. NIST IR 6556, appendix B: G41 keeps the tool left of the contour.
"""

from math import cos, pi, sin

import pytest

from roundwright.find import find_features
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM3 S16000\nG0 Z5\n"
SIX = Cutter("six", 6.0, 1)


def features(body, *, contour=True, **settings):
    moves = trace_moves(read_program((HEAD + body).encode(), "comp.nc"))
    cutters = dict.fromkeys(range(len(moves.sections)), SIX)
    return find_features(moves, cutters, Machine(contour=contour), Settings(**settings))


def ring(radius, turn="G3", comp="G41", lead=-8.0):
    return (
        f"G0 X{radius + lead} Y0\nG1 Z-3 F200\n{comp} D1 G1 X{radius} F600\n{turn} I{-radius}\n"
        f"G40 G1 X{radius + lead}\nG0 Z5\n"
    )


@pytest.mark.parametrize(
    ("comp", "turn", "lead", "side"),
    [
        ("G41", "G3", -8, "hole"),
        ("G42", "G2", -8, "hole"),
        ("G41", "G2", 8, "boss"),
        ("G42", "G3", 8, "boss"),
    ],
)
def test_the_contour_is_the_size(comp, turn, lead, side):
    (found,) = features(ring(20, turn, comp, lead))
    assert (found.side, found.diameter, found.fault) == (side, 40.0, "")
    assert "compensation" in found.evidence and "lead-in" in found.evidence


def test_compensation_against_the_lead_is_a_contradiction():
    (found,) = features(ring(20, "G3", "G42", -8))
    assert (found.side, found.fault) == ("unknown", "side-unknown")
    assert (
        "compensation right of a counter-clockwise path" in found.why and "lead-in from inside" in found.why
    )


def test_a_wear_offset_leaves_the_path_the_centres():
    (found,) = features(ring(20), contour=False)
    assert (found.side, found.diameter) == ("hole", 46.0)


def test_a_compensated_wall_is_seen_by_its_neighbours():
    """The finish of a roughed hole is compensated: roughing leaves no wall of its own."""
    rough = "G0 X0 Y0\nG1 Z-3 F200\n" + "".join(f"G1 X{r} F600\nG3 I{-r}\n" for r in (2, 6, 10, 14, 16.7))
    found = features(rough + "G1 X0\nG0 Z5\n" + ring(20))
    assert [(f.side, f.diameter, f.fault) for f in found if f.wall.radius == 20] == [("hole", 40.0, "")]
    (hole,) = [f for f in found if f.wall.radius == 20]
    assert "inside cleared by other cuts" in hole.evidence
    assert [round(r.radius, 1) for r in hole.clearing] == [2.0, 6.0, 10.0, 14.0, 16.7]


def test_a_compensated_neighbour_that_cuts_into_a_wall_counts():
    """The contour stays clear of the hole, the tool beside it does not."""
    hole = "G0 X2.5 Y0\nG1 Z-3 F200\nG3 I-2.5 F600\nG0 Z5\n"
    edge = "G0 X7.5 Y-30\nG1 Z-3\n{} G1 X7.5 Y-25\nY25\nG40 G1 Y30\nG0 Z5\n"
    assert [f.survives for f in features(hole + edge.format("G42 D1"))] == [1.0]
    (cut,) = features(hole + edge.format("G41 D1"))
    assert cut.survives < 0.8


def test_a_hole_smaller_than_its_cutter_has_no_place_for_it():
    (found,) = features(ring(2.5, lead=-2.5))
    assert found.fault == "tool-doubtful" and "does not fit" in found.why


def test_a_holding_tab_beside_a_contour_cuts_nothing_of_its_wall():
    """Between pieces the tool goes up and down where it stands: beside the contour, not on it."""
    pieces = "G3 X0 Y20 I-20 F600\nG1 Z-2\nG3 X-20 Y0 J-20\nG1 Z-3\nG3 X0 Y-20 I20\nX20 Y0 J20\n"
    (hole,) = features(f"G0 X12 Y0\nG1 Z-3 F200\nG41 D1 G1 X20\n{pieces}G40 G1 X12\nG0 Z5\n")
    assert (hole.side, hole.diameter, hole.survives) == ("hole", 40.0, 1.0)


def test_going_down_at_a_corner_of_a_contour_of_chords_cuts_nothing_of_its_wall():
    """Beside the end of a chord the tool stands nearer to the centre than beside the circle, by some µm."""
    corners = [(20 * cos(a), 20 * sin(a)) for a in (pi / 30 * k for k in range(1, 61))]
    lap = "".join(f"X{x:.4f} Y{y:.4f}\n" for x, y in corners)
    passes = f"G1 Z-2 F200\nG42 D1 G1 X20 F600\n{lap}G1 Z-4 F200\nG1 F600\n{lap}G40 G1 X29\n"
    (boss,) = features(f"G0 X29 Y0\n{passes}G0 Z5\n")
    assert (boss.side, boss.fault, boss.crossed) == ("boss", "", ())


@pytest.mark.parametrize("first", ["G41 D1", ""])
def test_a_wall_that_is_cut_as_path_and_as_contour_is_one_hole(first):
    """Both leave one surface; the later one counts, and the other moves as far as it."""
    path = "G0 X12 Y0\nG1 Z-3 F200\nG1 X17 F600\nG3 I-17\nG1 X12\nG0 Z5\n"
    contour = ring(20)
    (hole,) = features(contour + path if first else path + contour)
    assert (hole.side, hole.diameter, hole.fault) == ("hole", 40.0, "")
    assert [round(hole.wall.radius), *(round(r.radius) for r in hole.clearing)] == (
        [17, 20] if first else [20, 17]
    )

"""Where the path goes for a correction: rings, leads, links, plunges; before any number is rounded."""

import numpy as np
import pytest

from roundwright.find import find_features
from roundwright.plan.clash import displaced
from roundwright.plan.held import ring_shifts
from roundwright.plan.shift import shift_path
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM3 S16000\nG0 Z5\n"
SIX = Cutter("six", 6.0, 1)


def shifted(body, delta, *, only=None, spread=True, **settings):
    """Moves, shift and new ends by line number of `body` (from 1) for the corrected features."""
    moves = trace_moves(read_program((HEAD + body).encode(), "test.nc"))
    cutters = dict.fromkeys(range(len(moves.sections)), SIX)
    features = find_features(moves, cutters, Machine(), Settings(**settings))
    chosen = [f for f in features if only is None or f.id in only]
    shifts = [s for f in chosen for s in ring_shifts(f, delta, spread=spread)]
    moving = {s.ring.rows for s in shifts}
    fixed = [r for f in features for r in (f.wall, *f.clearing) if r.rows not in moving]
    shift = shift_path(moves, shifts, fixed)
    offset = HEAD.count("\n")
    ends = {int(moves.line[row]) - offset + 1: end for row, end in shift.ends(moves).items()}
    return moves, shift, ends


def test_plunge_on_the_ring_travels_with_its_rapid():
    _, shift, ends = shifted("G0 X2.5 Y0\nG1 Z-3\nG3 I-2.5\nG0 Z5\nG0 X30\n", 0.1)
    assert not shift.obstacles
    assert {line: end[0] for line, end in ends.items()} == pytest.approx({1: 2.6, 2: 2.6, 3: 2.6, 4: 2.6})


def test_straight_lead_keeps_its_far_end():
    _, shift, ends = shifted("G0 X0 Y0\nG1 Z-3\nG1 X2.5\nG3 I-2.5\nG1 X0\nG0 Z5\n", 0.1)
    assert not shift.obstacles
    assert {line: end[:2] for line, end in ends.items()} == {
        3: pytest.approx((2.6, 0)),
        4: pytest.approx((2.6, 0)),
    }


def test_tangent_arc_travels_with_the_contact_and_the_straight_takes_it_up():
    body = "G0 X8 Y-4\nG1 Z-3\nG1 X16 Y-4\nG3 X20 Y0 J4\nG3 I-20\nG3 X16 Y4 I-4\nG1 X8\nG0 Z5\n"
    moves, shift, ends = shifted(body, 0.25)
    assert not shift.obstacles
    assert ends[3][:2] == pytest.approx((16.25, -4))
    assert ends[4][:2] == pytest.approx((20.25, 0))
    assert ends[6][:2] == pytest.approx((16.25, 4))
    assert 7 not in ends and 2 not in ends
    lead = shift.arcs[int(np.flatnonzero(moves.line == 3 + 3)[0])]
    assert lead.centre == pytest.approx((16.25, 0)) and lead.radius == pytest.approx(4)


def test_tangent_arc_alone_takes_plunge_and_rapid_along():
    body = "G0 X16 Y-4\nG1 Z-3\nG3 X20 Y0 J4\nG3 I-20\nG3 X16 Y4 I-4\nG0 Z5\nG0 X40\n"
    _, shift, ends = shifted(body, 0.25)
    assert not shift.obstacles
    assert {k: e[0] for k, e in ends.items()} == pytest.approx(
        {1: 16.25, 2: 16.25, 3: 20.25, 4: 20.25, 5: 16.25, 6: 16.25}
    )


def test_clearing_rings_move_in_proportion_or_stay():
    body = "G0 X0 Y0\nG1 Z-3\nG1 X2\nG3 I-2\nG1 X4.5\nG3 I-4.5\nG1 X7\nG3 I-7\nG1 X0\nG0 Z5\n"
    _, _, ends = shifted(body, 0.07)
    assert {k: e[0] for k, e in ends.items()} == pytest.approx(
        {3: 2.02, 4: 2.02, 5: 4.545, 6: 4.545, 7: 7.07, 8: 7.07}
    )
    _, _, ends = shifted(body, 0.07, spread=False)
    assert {k: e[0] for k, e in ends.items() if e[0] != pytest.approx(round(e[0], 1))} == pytest.approx(
        {7: 7.07, 8: 7.07}
    )


def test_arc_that_links_two_rings_keeps_its_sweep():
    body = "G0 X3 Y0\nG1 Z-3\nG3 I-3\nG3 X-5 I-4\nG3 X-5 I5\nG0 Z5\n"
    moves, shift, ends = shifted(body, 0.1)
    assert not shift.obstacles
    assert ends[3][0] == pytest.approx(3.06) and ends[4][0] == pytest.approx(-5.1)
    link = shift.arcs[int(np.flatnonzero(moves.line == 3 + 3)[0])]
    assert link.centre == pytest.approx((-1.02, 0)) and link.radius == pytest.approx(4.08)


def test_only_one_of_two_holes_moves():
    body = "G0 X2.5 Y0\nG1 Z-3\nG3 I-2.5\nG0 Z5\nG0 X32.5\nG1 Z-3\nG3 I-2.5\nG0 Z5\n"
    _, shift, ends = shifted(body, 0.1, only={"C1"})
    assert not shift.obstacles and set(ends) == {1, 2, 3, 4}


def test_datum_set_on_the_ring_stands_in_the_way():
    _, shift, _ = shifted("G0 X2.5 Y0\nG1 Z-3\nG3 I-2.5\nG0 Z5\nG92 X0 Y0\nG0 X30\n", 0.1)
    assert [(o.feature, o.reason) for o in shift.obstacles] == [("C1", "unsupported-mode")]


def test_another_work_offset_under_an_old_datum_is_no_obstacle():
    body = "G92 X1 Y0\nG0 X2.5 Y0\nG1 Z-3\nG3 I-2.5\nG0 Z5\nG55\nG0 X30 Y0\nG0 Z5\n"
    _, shift, _ = shifted(body, 0.1)
    assert not shift.obstacles and len(shift.row)


def test_going_home_from_the_ring_is_no_obstacle():
    _, shift, _ = shifted("G0 X2.5 Y0\nG1 Z-3\nG3 I-2.5\nG0 Z5\nG28 G91 Z0\nG90\nM30\n", 0.1)
    assert not shift.obstacles


def test_entry_that_is_given_again_after_unread_blocks_can_be_moved():
    _, shift, ends = shifted("G0 X[1+1] Y0\nX2.5\nG1 Z-3\nG3 I-2.5\nG0 Z5\n", 0.1)
    assert not shift.obstacles
    assert sorted(ends) == [2, 3, 4, 5]


def test_call_that_begins_on_the_ring_stands_in_the_way():
    _, shift, _ = shifted("G0 X2.5 Y0\nG1 Z-3\nG3 I-2.5\nM98 P100\nG0 Z5\n", 0.1)
    assert [o.reason for o in shift.obstacles] == ["position-unknown"]


def test_circle_after_a_call_is_in_an_unknown_position():
    body = "G0 X2.5 Y0\nG1 Z-3\nM98 P100\nG3 I-2.5\nG0 Z5\n"
    moves = trace_moves(read_program((HEAD + body).encode(), "test.nc"))
    found = find_features(moves, {0: SIX}, Machine(), Settings())
    assert [f.fault for f in found] == ["position-unknown"]


def test_displaced_moves_have_the_planned_circle():
    body = "G0 X0 Y0\nG1 Z-3\nG1 X7\nG3 Y7 X0 I-7\nX-7 Y0 J-7\nX0 Y-7 I7\nX7 Y0 J7\nG1 X0\nG0 Z5\n"
    moves, shift, _ = shifted(body, -0.3, side="hole")
    again = find_features(displaced(moves, shift), {0: SIX}, Machine(), Settings(side="hole"))
    assert [(f.side, round(f.diameter, 6)) for f in again] == [("hole", 19.4)]
    assert again[0].wall.centre == pytest.approx((0, 0), abs=1e-7)


def test_the_start_of_a_move_is_the_end_of_the_one_before():
    body = "G0 X2.5 Y0\nG1 Z-3\nG3 I-2.5\nG0 Z5\nG0 X32.5\nG1 Z-3\nG3 I-2.5\nG0 Z5\nG0 X0\n"
    moves, shift, _ = shifted(body, 0.1)
    after = displaced(moves, shift)
    known = after.start_known[1:] == 7
    assert (after.start[1:][known] == after.end[:-1][known]).all()


def test_lead_out_behind_a_holding_tab_takes_up_the_difference():
    body = (
        "G0 X1 Y0\nG1 Z-3\nG1 X2.5\nG3 X-2.5 I-2.5\nG1 Z-2\nG3 X2.5 I2.5\nG1 Z-3\n"
        "G3 X1.5 Y1 I-1\nG1 X0\nG0 Z5\n"
    )
    moves, shift, ends = shifted(body, 0.1)
    assert not shift.obstacles
    lead_out = int(np.flatnonzero(moves.line == 3 + 7)[0])
    assert shift.arcs[lead_out].centre == pytest.approx((1.6, 0))
    assert ends[8][:2] == pytest.approx((1.6, 1)) and 9 not in ends


def test_link_does_not_carry_the_rounding_of_its_radii_along():
    """The half circle into the ring has radii of 4.99 and 5.01 as read; as planned they are one."""
    body = "G0 X-2.96 Y0\nG1 Z-3\nG3 X7.04 Y0 I4.99\nG3 X-6.96 Y0 I-7\nG3 X7.04 Y0 I7\nG0 Z5\n"
    moves, shift, ends = shifted(body, 0.1, sides={"C1": "hole"})
    assert not shift.obstacles and ends[3][:2] == pytest.approx((7.14, 0))
    link = int(np.flatnonzero(moves.line == 3 + 2)[0])
    start, end = np.array(ends.get(2, moves.end[link - 1] * 1e-8)[:2]), np.array(ends[3][:2])
    radii = [np.hypot(*(point - shift.arcs[link].centre)) for point in (start, end)]
    assert radii == pytest.approx([shift.arcs[link].radius] * 2, abs=1e-9)

"""What each feature gets, and every reason that the plan gives for leaving one alone."""

import pytest

from roundwright.calibration import open_table
from roundwright.find import find_features
from roundwright.plan import Request, Writing, plan_corrections
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM3 S16000\nG0 Z5.000\n"
SIX = Cutter("six", 6.0, 1)


def table(*readings, side="hole", cut="any", extra=""):
    rows = ",\n".join(f"  {{ programmed = {p}, diameter = {m} }}" for p, m in readings)
    return open_table(
        f"""schema = "roundwright.table/1"
[machine]
name = "bench"
units = "mm"
{extra}
[[tool]]
number = 1
name = "six"
diameter = 6.0
[[condition]]
tool = 1
material = "birch ply"
side = "{side}"
cut = "{cut}"
readings = [
{rows},
]
"""
    )


TENTH_SMALL = table((10.0, 9.9), (100.0, 99.9))
TENTH_LARGE = table((5.0, 5.6), (100.0, 100.6))


def planned(body, calibration, **settings):
    moves = trace_moves(read_program((HEAD + body).encode(), "test.nc"))
    chosen = Settings(**{"material": "birch ply", **settings})

    def census(some, sided=()):
        return find_features(
            some, dict.fromkeys(range(len(moves.sections)), SIX), Machine(), chosen, sided=sided
        )

    request = Request(calibration, chosen.material, chosen, inch=False)
    return plan_corrections(moves, census(moves), request, census, Writing())


def single(body, calibration, **settings):
    plan = planned(body, calibration, **settings)
    assert len(plan.corrections) == 1
    return plan.corrections[0]


def bore(x, y, diameter, z=-3):
    r = (diameter - 6) / 2
    return f"G0 X{x + r} Y{y}\nG1 Z{z} F200\nG3 I{-r} F600\nG0 Z5\n"


def pocket(x, y, radii, z=-3):
    text = f"G0 X{x} Y{y}\nG1 Z{z} F200\n"
    for r in radii:
        text += f"G1 X{x + r} Y{y} F600\nG3 I{-r}\n"
    return text + f"G1 X{x} Y{y}\nG0 Z5\n"


def test_a_small_hole_is_made_larger_by_its_error():
    got = single(bore(0, 0, 11), TENTH_SMALL)
    assert (got.status, got.reason) == ("corrected", None)
    assert got.change == pytest.approx(0.1) and got.corrected == pytest.approx(11.1)
    assert got.corrected_path == pytest.approx(5.1)
    assert got.expected_error == pytest.approx(-0.1)
    assert got.condition == "T1 / birch ply / hole / any"
    assert got.uncertainty is None


def test_the_target_is_met_exactly_not_to_first_order():
    steep = table((10.0, 9.5), (20.0, 18.0))
    got = single(bore(0, 0, 11), steep)
    assert got.corrected + got.expected_error == pytest.approx(11.0, abs=1e-12)
    assert got.change != pytest.approx(-(-0.5 - 0.15), abs=1e-3)


@pytest.mark.parametrize(
    ("settings", "calibration", "reason"),
    [
        ({"skip": ("C1",)}, TENTH_SMALL, "skipped"),
        ({"skip": ("11.0",)}, TENTH_SMALL, "skipped"),
        ({"only": ("C2",)}, TENTH_SMALL, "skipped"),
        ({"only": ("30mm",)}, TENTH_SMALL, "skipped"),
        ({}, None, "no-table"),
        ({"material": "oak"}, TENTH_SMALL, "no-calibration"),
        ({"material": None}, TENTH_SMALL, "no-calibration"),
        ({}, table((10.0, 9.9), side="boss"), "no-calibration"),
        ({}, table((20.0, 19.9), (40.0, 39.9)), "out-of-range"),
        ({"limit": 0.05}, TENTH_SMALL, "over-limit"),
    ],
)
def test_reasons_of_the_lookup(settings, calibration, reason):
    got = single(bore(0, 0, 11), calibration, **settings)
    assert (got.status, got.reason) == ("left-alone", reason)
    assert got.why


def test_only_takes_by_id_or_size():
    for key in ("C1", "c1", "11", "11.0", "11mm"):
        assert single(bore(0, 0, 11), TENTH_SMALL, only=(key,)).status == "corrected"


def test_no_error_and_deadband_are_on_size():
    assert single(bore(0, 0, 11), table((10.0, 10.0))).status == "on-size"
    wide = table((10.0, 9.9), extra="[limits]\ndeadband = 0.2\n")
    assert single(bore(0, 0, 11), wide).status == "on-size"


def test_a_path_that_would_shrink_to_nothing_is_left():
    assert single(bore(0, 0, 6.5), TENTH_LARGE).reason == "would-vanish"


def test_neighbours_that_would_meet_are_left_both():
    thin = bore(0, 0, 11) + bore(11.05, 0, 11)
    plan = planned(thin, TENTH_SMALL)
    assert [c.reason for c in plan.corrections] == ["would-collide", "would-collide"]
    assert not plan.ends and not plan.arcs
    assert "C2" in plan.corrections[0].why


def test_neighbours_with_room_are_corrected_both():
    plan = planned(bore(0, 0, 11) + bore(11.2, 0, 11), TENTH_SMALL)
    assert [c.status for c in plan.corrections] == ["corrected", "corrected"]


def test_a_wall_that_would_reach_into_a_slot_is_left():
    slot = "G0 X8.55 Y-20\nG1 Z-3\nG1 Y20\nG0 Z5\n"
    assert single(bore(0, 0, 11) + slot, TENTH_SMALL).reason == "would-collide"
    assert single(bore(0, 0, 11) + slot.replace("8.55", "8.7"), TENTH_SMALL).status == "corrected"


def test_a_move_that_cannot_be_read_blames_the_circle_that_it_meets_and_no_other():
    unread = "G0 X#4 Y#5\n"
    stuck = pocket(0, 0, [7]).replace("G1 X0 Y0\n", "")  # leaves from the ring
    first, second = planned(pocket(0, 0, [7]) + unread + pocket(60, 0, [7]), TENTH_SMALL).corrections
    assert (first.status, second.status) == ("corrected", "corrected")
    first, second = planned(stuck + unread + pocket(60, 0, [7]), TENTH_SMALL).corrections
    assert (first.reason, second.status) == ("position-unknown", "corrected")
    first, second = planned(pocket(0, 0, [7]) + unread + "G1 Z-3\nG3 I-7\nG0 Z5\n", TENTH_SMALL).corrections
    assert (first.status, second.reason) == ("corrected", "position-unknown")


def test_a_wall_that_shrinks_behind_its_roughing_would_cut_air():
    body = pocket(0, 0, (2, 4.5, 6.9)) + pocket(0, 0, (7,))
    assert single(body, TENTH_LARGE, spread="wall").reason == "would-cut-air"
    assert single(body, TENTH_LARGE, spread="rings").status == "corrected"


def test_a_bore_that_grows_onto_its_seats_clearing_ring_would_cut_air():
    """Two rings of one radius are one ring: which of their cuts leaves the bore's surface nobody can tell."""
    bored = bore(0, 0, 10.724, z=-6)
    seat, hole = planned(pocket(0, 0, (2.4, 7.2, 10), z=-2) + bored, TENTH_SMALL).corrections
    assert (seat.status, hole.reason) == ("corrected", "would-cut-air")
    assert "decimals" in hole.why and "C1" in hole.why


def test_sizes_corrected_by_hand_are_held_back():
    body = bore(0, 0, 11.1) + bore(40, 0, 11.5)
    odd = table((10.0, 9.873), (100.0, 99.873))
    by_hand = bore(0, 0, 11.127) + bore(40, 0, 11.627)
    assert [c.reason for c in planned(by_hand, odd).corrections] == ["looks-corrected"] * 2
    assert [c.status for c in planned(by_hand, odd, again=True).corrections] == ["corrected"] * 2
    assert [c.status for c in planned(body, odd).corrections] == ["corrected"] * 2
    mixed = planned(bore(0, 0, 11.127) + bore(40, 0, 11.4), odd)
    assert [c.status for c in mixed.corrections] == ["corrected"] * 2
    assert "C1" in mixed.warnings[0]


def test_a_coarse_program_cannot_show_that_it_was_corrected():
    odd = table((10.0, 9.87), (100.0, 99.87))
    coarse = "G0 X2.57 Y0\nG1 Z-3\nG3 I-2.57\nG0 Z5\n"
    moves = trace_moves(read_program(("G21 G90\nM3\nG0 Z5\n" + coarse).encode(), "test.nc"))
    chosen = Settings(material="birch ply")

    def census(some, sided=()):
        return find_features(some, {0: SIX}, Machine(), chosen, sided=sided)

    plan = plan_corrections(
        moves, census(moves), Request(odd, "birch ply", chosen, inch=False), census, Writing()
    )
    assert plan.corrections[0].status == "corrected"


def test_listing_names_the_lines_that_change():
    got = single(bore(0, 0, 11), TENTH_SMALL)
    first = HEAD.count("\n")
    assert got.feature.lines == (first, first + 3)

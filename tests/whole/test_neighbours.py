"""What the cutter sweeps differs only along corrected walls and beside their leads, whatever stands close by.

Authority: the library shapely (GEOS) for the geometry of areas; the path is read by `tests/support/sweep.py`,
which shares nothing with the project.
"""

from dataclasses import replace
from math import hypot

import pytest
import shapely
from shapely.geometry import Point

from cases import all_cases
from known_truth import table_for
from plates import REACH, TOOL, Plate, draw, n
from roundwright.pipeline import Outcome, correct
from roundwright.settings import Settings
from sweep import cuts_of, measure
from swept_bands import RESOLUTION, check_areas, circles_of

pytestmark = pytest.mark.published

#: a diameter that comes out too small by this: the paths of walls move by half of it.
ERROR = 0.3


CONTOUR = ("compensated-hole",)
#: circles in other planes are turned word by word in test_frames.py.
UPRIGHT = ("spindle-along-x", "spindle-along-y")
CORRECTED = [case for case in all_cases() if not case.decoy and case.name not in CONTOUR + UPRIGHT]


@pytest.mark.parametrize("case", CORRECTED, ids=lambda case: case.name)
def test_cases_differ_only_along_walls_and_leads(case):
    outcome = case.outcome
    before, after = (cuts_of(text.decode()) for text in (case.data, outcome.output))
    radii = {tool.number: tool.diameter / 2 for tool in case.table.tools}
    radii[0] = radii[1]  # a program without T words
    inch = any(state.inch for state in outcome.moves.states)
    coarse = 10.0**-outcome.moves.finest / 2 * (25.4 if inch else 1.0)  # what the input's decimals leave open
    assert check_areas(before, after, circles_of(outcome), radii, RESOLUTION[inch] + coarse) > 0


# ---- drawn plates -----------------------------------------------------------------------------------

TABLE = table_for({1: TOOL}, (-ERROR, -ERROR, -ERROR))
RADII = {1: REACH}


def ran(plate: Plate) -> Outcome:
    return correct(plate.data, "plate.nc", TABLE, Settings(again=True))


def check_plate(plate: Plate) -> Outcome:
    outcome = ran(plate)
    assert outcome.output is not None
    before, after = (cuts_of(text.decode()) for text in (plate.data, outcome.output))
    check_areas(before, after, circles_of(outcome), RADII, RESOLUTION[False])
    for drawn in plate.circles:
        (found,) = [
            c
            for c in outcome.plan.corrections
            if hypot(*(p - q for p, q in zip(c.feature.wall.centre, drawn.centre, strict=True))) < 0.01
        ]
        assert (found.feature.side, found.feature.diameter) == (
            drawn.side,
            pytest.approx(drawn.diameter, abs=3e-3),
        )
        size = found.corrected if found.status == "corrected" else drawn.diameter
        was = measure(before, RADII, drawn.centre, found.feature.diameter, drawn.depth, "54", 0.002, 0.006)
        now = measure(after, RADII, drawn.centre, size, drawn.depth, "54", 0.002, 0.006)
        assert now.stands >= was.stands - 0.012, (found.feature.id, found.status, was, now)
    return outcome


@pytest.mark.parametrize("seed", range(12))
def test_plates_with_room(seed):
    """More stands between neighbours than corrections take: all are corrected."""
    plate = draw(seed, lambda rng: rng.choice([0.35, 0.5, 1.0, 3.0, 8.0]))
    outcome = check_plate(plate)
    assert {c.status for c in outcome.plan.corrections} == {"corrected"}, [
        (c.feature.id, c.reason, c.why) for c in outcome.plan.corrections if c.status != "corrected"
    ]


@pytest.mark.parametrize("seed", range(16))
def test_tight_plates(seed):
    """Where less stands than both corrections take, both are left alone; nothing that stood is cut into."""
    plate = draw(1000 + seed, lambda rng: rng.choice([0.05, 0.1, 0.2, 0.29, 0.31, 0.6, 2.0]))
    outcome = check_plate(plate)
    found = {}
    for drawn in plate.circles:
        for c in outcome.plan.corrections:
            if hypot(*(p - q for p, q in zip(c.feature.wall.centre, drawn.centre, strict=True))) < 0.01:
                found[drawn] = c
    circles = list(found)
    for k, a in enumerate(circles):
        for b in circles[k + 1 :]:
            gap = hypot(a.centre[0] - b.centre[0], a.centre[1] - b.centre[1]) - (a.diameter + b.diameter) / 2
            if a.side == b.side == "hole" and 0 < gap < ERROR - 0.01:
                assert [found[a].reason, found[b].reason] == ["would-collide"] * 2
    moving = shapely.union_all(
        [
            Point(d.centre).buffer(found[d].corrected / 2, quad_segs=90)
            for d in circles
            if d.side == "hole" and found[d].status == "corrected"
        ]
    )
    for other in plate.others:
        assert other.intersection(moving).area < 1e-4


@pytest.mark.parametrize("shift", [0.02, -0.02])
def test_a_slot_that_moves_is_noticed(shift):
    """The comparison can fail: one straight move elsewhere, 0.02 mm off."""
    plate = next(p for p in (draw(s, lambda rng: 3.0) for s in range(50)) if p.others)
    outcome = ran(plate)
    before, after = (cuts_of(text.decode()) for text in (plate.data, outcome.output))
    circles = circles_of(outcome)
    check_areas(before, after, circles, RADII, RESOLUTION[False])
    last = after[-1]
    after[-1] = replace(last, end=(last.end[0] + shift, last.end[1], last.end[2]))
    with pytest.raises(AssertionError):
        check_areas(before, after, circles, RADII, RESOLUTION[False])


#: bosses come out small and holes large: paths of bosses move outwards, and so do their leads.
OUTWARDS = table_for({1: TOOL}, (ERROR, ERROR, ERROR))


@pytest.mark.parametrize(("gap", "reason"), [(0.05, "would-collide"), (0.14, "would-collide"), (0.25, None)])
def test_an_arc_lead_outside_a_boss_does_not_cut_into_a_wall(gap, reason):
    """The plunge at (17, 4) travels with the contact by 0.15 towards a hole that stays where it is."""
    lines = ["G21 G90 G17", "T1 M6", "M3 S12000", "G0 Z5", "G0 X17 Y4", "G1 Z-3 F300"]
    lines += ["G3 X13 Y0 J-4 F1200", "G2 I-13", "G3 X17 Y-4 I4", "G0 Z5"]
    x = 17 + 3 + 6 + gap
    lines += [f"G0 X{n(x)} Y4", "G1 Z-3", f"G1 X{n(x + 3)}", "G3 I-3", f"G1 X{n(x)}", "G0 Z5", "M30", ""]
    data = "\n".join(lines).encode()
    outcome = correct(data, "p.nc", OUTWARDS, Settings(again=True, skip=("C2",)))
    boss, hole = outcome.plan.corrections
    assert (boss.feature.side, hole.feature.side, hole.reason) == ("boss", "hole", "skipped")
    assert boss.reason == reason
    before, after = (cuts_of(text.decode()) for text in (data, outcome.output))
    assert after == before if reason else after[0] != before[0]
    if not reason:
        check_areas(before, after, circles_of(outcome), RADII, RESOLUTION[False])
        assert measure(after, RADII, (x, 4), 12.0, -3.0, "54", 0.002, 0.02).stands == 1.0

"""Diameters along X, Y and the diagonals of circles cut by a machine with faults.

Quantities of circular tests after ISO 230-4 and ISO 230-1, reversal after ISO 230-2. The tables are [CALC]:
computed for this project by simulating axes with hysteresis and sweeping the cutter, apart from the formulas
in the product; no published table with figures was found. They are to 0.01 µm; the formulas, which are of
first order, agree within 0.02 µm.
"""

from __future__ import annotations

import pytest

from roundwright.calibration import Condition, Reading, Table, Tool
from roundwright.calibration.circle_rows import (
    LOST_X,
    LOST_Y,
    SCALE_X,
    SCALE_Y,
    SQUARENESS,
    equations,
    path_diameter,
)
from roundwright.calibration.diagnosis import diagnose
from roundwright.calibration.table import Defaults, Limits
from roundwright.settings import Machine

pytestmark = pytest.mark.published

TOOL = Tool(1, "6 mm", 6.0)
#: side, way round, faults (ppm, ppm, mrad, µm, µm), and D0, D45, D90, D135 less D, µm; D 20, d 6.
TABLE = [
    ("hole", "ccw", (500, 0, 0, 0, 0), (7.00, 3.50, 0.0, 3.50)),
    ("hole", "cw", (500, 0, 0, 0, 0), (7.00, 3.50, 0.0, 3.50)),
    ("hole", "ccw", (0, 500, 0, 0, 0), (0.0, 3.50, 7.00, 3.50)),
    ("hole", "ccw", (0, 0, 1, 0, 0), (0.0, 7.00, 0.0, -7.00)),
    ("hole", "ccw", (0, 0, 0, 20, 0), (-20.0, 14.14, 0.0, -14.14)),
    ("hole", "cw", (0, 0, 0, 20, 0), (-20.0, -14.14, 0.0, 14.14)),
    ("hole", "ccw", (0, 0, 0, 0, 20), (0.0, -14.14, -20.0, 14.14)),
    ("hole", "ccw", (0, 0, 0, 20, 20), (-20.0, 0.0, -20.0, 0.0)),
    ("hole", "cw", (0, 0, 0, 20, 20), (-20.0, 0.0, -20.0, 0.0)),
    ("hole", "ccw", (200, 0, 0.5, 30, 10), (-27.2, 19.04, -10.0, -16.25)),
    ("hole", "cw", (200, 0, 0.5, 30, 10), (-27.2, -9.24, -10.0, 12.04)),
    ("boss", "ccw", (500, 0, 0, 0, 0), (13.0, 6.5, 0.0, 6.5)),
    ("boss", "ccw", (0, 0, 1, 0, 0), (0.0, 13.0, 0.0, -13.0)),
    ("boss", "ccw", (0, 0, 0, 20, 0), (-20.0, 14.14, 0.0, -14.14)),
    ("boss", "cw", (0, 0, 0, 20, 0), (-20.0, -14.14, 0.0, 14.14)),
    ("boss", "ccw", (200, 0, 0.5, 30, 10), (-24.8, 23.24, -10.0, -18.04)),
    ("boss", "cw", (200, 0, 0.5, 30, 10), (-24.8, -5.04, -10.0, 10.24)),
]


def cut_of(side: str, way: str) -> str:
    """A clockwise spindle climbs counter-clockwise in a hole and clockwise round a boss."""
    return "climb" if (side == "hole") == (way == "ccw") else "conventional"


def reading_of(deviations: tuple[float, ...], programmed: float = 20.0) -> Reading:
    x, d45, y, d135 = (programmed + deviation / 1000.0 for deviation in deviations)
    return Reading(programmed, x, y, d45, d135, instrument="gauge")


@pytest.mark.parametrize(("side", "way", "faults", "deviations"), TABLE)
def test_the_equations_give_the_table_s_diameters(side, way, faults, deviations):
    condition = Condition(1, "acetal", side, cut_of(side, way), readings=(reading_of(deviations),))
    known = equations([condition], TOOL, clockwise=True)
    values = [0.0] * known.rows.shape[1]
    for column, fault, unit in zip(
        (SCALE_X, SCALE_Y, SQUARENESS, LOST_X, LOST_Y), faults, (1e-6, 1e-6, 1e-3, 1e-3, 1e-3), strict=True
    ):
        values[column] = fault * unit
    assert known.rows @ values == pytest.approx(known.observed, abs=2e-5)


def test_the_path_s_diameter():
    assert path_diameter(20.0, "hole", TOOL) == 14.0
    assert path_diameter(20.0, "boss", TOOL) == 26.0
    assert path_diameter(20.0, "groove", TOOL) == 20.0


def test_the_combined_case_is_found_again_from_all_four_circles():
    """The table's combined case, hole and boss, both ways round: 200 ppm, 0.5 mrad, 30 and 10 µm.

    One diameter cannot tell scale from what stays; that of X less that of Y, and all else, is told. So a
    second diameter is computed with the formulas above, as the table has only one.
    """
    conditions = []
    for side, way, faults, deviations in TABLE:
        if faults == (200, 0, 0.5, 30, 10):
            path = path_diameter(60.0, side, TOOL) - path_diameter(20.0, side, TOOL)
            more = (0.2 * path, 0.1 * path + 0.25 * path, 0.0, 0.1 * path - 0.25 * path)
            big = tuple(one + other for one, other in zip(deviations, more, strict=True))
            cut = cut_of(side, way)
            readings = (reading_of(deviations), reading_of(big, 60.0))
            conditions.append(Condition(1, "acetal", side, cut, readings=readings))
    assert len(conditions) == 4
    table = Table("m", "f", False, Machine(), Defaults(), Limits(), (TOOL,), (), tuple(conditions))
    found = diagnose(table)[0]
    assert found.scale_x.value == pytest.approx(200e-6, abs=1e-6)
    assert found.scale_y.value == pytest.approx(0.0, abs=1e-6)
    assert found.squareness.value == pytest.approx(0.5e-3, abs=1e-6)
    assert found.lost_motion_x.value == pytest.approx(0.030, abs=2e-5)
    assert found.lost_motion_y.value == pytest.approx(0.010, abs=2e-5)
    assert [constant.value for constant in found.constants] == pytest.approx([0.0] * 4, abs=2e-5)


def test_squareness_as_a_maker_of_ball_bars_puts_it():
    """Squareness is the difference of the diameters at 45° and 135° over the programmed diameter, both ways
    round to be used (as a maker's page on analysing circular tests says); with a cutter of no diameter ours
    is the same.
    """
    needle = Tool(1, "needle", 1e-9)
    conditions = [
        Condition(1, "acetal", "hole", cut, readings=(reading_of((0.0, 12.0 + lost, 0.0, -8.0 - lost)),))
        for cut, lost in (("climb", 3.0), ("conventional", -3.0))
    ]
    table = Table("m", "f", False, Machine(), Defaults(), Limits(), (needle,), (), tuple(conditions))
    assert diagnose(table)[0].squareness.value == pytest.approx(0.020 / 20.0, rel=1e-6)

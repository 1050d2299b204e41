"""Tolerances against ISO 286-1 and -2, from the copies named in the heads of shared/published/iso-286-*.csv.

Marks as in the design's list of references: [TEXT] read in a published text, [CALC] from confirmed tables.
"""

import csv
import math
from itertools import pairwise

import pytest

from fit_tables import FITS
from roundwright.shared import shared_text

pytestmark = pytest.mark.published


def printed(name):
    lines = [row for row in shared_text("published", name).splitlines() if not row.startswith("#")]
    return list(csv.DictReader(lines))


LIMITS = printed("iso-286-limits.csv")
CELLS = [
    (float(row["nominal"].split("-")[0]), float(row["nominal"].split("-")[1]), name, row[name])
    for row in LIMITS
    for name in row
    if name != "nominal"
]
TOLERANCES = printed("iso-286-tolerances.csv")
GRADES = [name for name in TOLERANCES[0] if name.startswith("IT")]


def test_nothing_of_the_tables_is_missing():
    assert len(CELLS) == 13 * 24
    assert [f"IT{n}" for n in range(5, 17)] == GRADES and len(TOLERANCES) == 13


@pytest.mark.parametrize(("over", "to", "name", "cell"), CELLS)
def test_every_cell_of_the_limits(over, to, name, cell):
    """ISO 286-2, to the half micrometre that is printed, at both ends of each size range."""
    upper, lower = (float(part) for part in cell.split("/"))
    for nominal in (to, over + 0.001, (over + to) / 2):
        assert FITS.deviations_of(nominal, name) == (lower, upper), nominal


@pytest.mark.parametrize("row", TOLERANCES, ids=lambda row: f"{row['over']}-{row['to']}")
def test_every_standard_tolerance(row):
    """ISO 286-1, IT5 to IT16, all 13 ranges: the width of the class is the tolerance."""
    for grade in GRADES:
        for name in (f"H{grade[2:]}", f"js{grade[2:]}", f"f{grade[2:]}", f"M{grade[2:]}"):
            lower, upper = FITS.deviations_of(float(row["to"]), name)
            assert upper - lower == float(row[grade])
    values = [float(row[grade]) for grade in GRADES]
    assert all(a < b for a, b in pairwise(values)), "a grade is coarser than the last"


def test_tolerances_grow_with_size():
    for grade in GRADES:
        column = [float(row[grade]) for row in TOLERANCES]
        assert column == sorted(column)


def test_steps_are_what_lies_between_two_grades():
    """ISO 286-1: delta of grade n is ITn less IT(n-1), over 3 mm; IT4 is not in the tables."""
    steps = {row["letter"]: row for row in printed("iso-286-deviations.csv")}
    for row in TOLERANCES[1:]:
        band = f"{row['over']}-{row['to']}"
        for n in (6, 7, 8):
            assert float(steps[f"delta{n}"][band]) == float(row[f"IT{n}"]) - float(row[f"IT{n - 1}"])
        assert 0 < float(steps["delta5"][band]) < float(row["IT5"])


def test_the_formula_is_near_but_is_not_the_table():
    """ISO 286-1: i = 0.45 D^(1/3) + 0.001 D, D the geometric mean of the range; within 9.2 % over 3 mm."""
    factors = dict(zip(GRADES, (7, 10, 16, 25, 40, 64, 100, 160, 250, 400, 640, 1000), strict=True))
    other = 0
    for row in TOLERANCES[1:]:
        middle = math.sqrt(float(row["over"]) * float(row["to"]))
        unit = 0.45 * middle ** (1 / 3) + 0.001 * middle
        for grade, factor in factors.items():
            assert float(row[grade]) == pytest.approx(factor * unit, rel=0.092)
            other += float(row[grade]) != round(factor * unit)
    assert other > 50


@pytest.mark.parametrize(
    ("nominal", "name", "smallest", "largest"),
    [
        (20, "H7", 20.000, 20.021),  # [TEXT] a parts maker's technical page on DIN ISO 286
        (8, "H11", 8.000, 8.090),  # [TEXT] the same page
        (25, "H7", 25.000, 25.021),  # [TEXT] README of the PyPI package pressfit 0.1.0
        (25, "g6", 24.980, 24.993),  # [TEXT] the same: -7 / -20
        (25, "p6", 25.022, 25.035),  # [TEXT] the same
        (50, "H7", 50.000, 50.025),  # [TEXT] a textbook's solution: hub +0.025 / 0
        (30, "f7", 29.959, 29.980),  # [CALC] from here on
        (50, "g6", 49.975, 49.991),
        (30, "N9", 29.948, 30.000),
        (30, "P9", 29.926, 29.978),
        (100, "H8", 100.000, 100.054),
        (40, "F8", 40.025, 40.064),
        (40, "K7", 39.982, 40.007),
        (25, "N7", 24.972, 24.993),
        (30, "K8", 29.977, 30.010),
        (30, "M8", 29.971, 30.004),
        (300, "M6", 299.959, 299.991),  # [TEXT, an independent table] -9, where the rule would give -11
    ],
)
def test_worked_examples(nominal, name, smallest, largest):
    assert FITS.limits_of(nominal, name) == pytest.approx((smallest, largest), abs=1e-9)


def test_clearances_of_worked_fits():
    """[TEXT] README of the PyPI package pressfit 0.1.0: 25 H7/g6 has 7 to 41 µm, 25 H7/p6 -35 to -1 µm."""
    hole = FITS.deviations_of(25, "H7")
    for name, least, most in (("g6", 7, 41), ("p6", -35, -1)):
        shaft = FITS.deviations_of(25, name)
        assert (hole[0] - shaft[1], hole[1] - shaft[0]) == (least, most)


@pytest.mark.parametrize(
    ("nominal", "name", "middle"),
    [
        (20, "H7", 20.0105),
        (8, "H11", 8.045),
        (25, "G7", 25.0175),
        (40, "K7", 39.9945),
        (40, "JS7", 40.0),
        (25, "P7", 24.9755),
        (50, "g6", 49.983),
    ],
)
def test_middles_of_tolerances(nominal, name, middle):
    """[CALC] from confirmed tables."""
    assert sum(FITS.limits_of(nominal, name)) / 2 == pytest.approx(middle, abs=1e-9)

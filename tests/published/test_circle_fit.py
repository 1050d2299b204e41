"""Least-squares circles against published fits.

Gander, Golub & Strebel (1994), BIT 34, 558-578: data as published; the printed results from memory,
reproduced here exactly by computing them. SciPy Cookbook, "Least Squares Circle" (scipy-cookbook,
ipython/Least_Squares_Circle.ipynb): data and results as published.
"""

import numpy as np
import pytest
from scipy.optimize import least_squares

from roundwright.find.fit import algebraic_circle, geometric_circle

pytestmark = pytest.mark.published

GANDER = np.array([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)], dtype=float)
ROUND = np.array(list(zip((9, 35, -13, 10, 23, 0), (34, 10, 6, -14, 27, -10), strict=True)), dtype=float)
SHORT = np.array(list(zip((36, 36, 19, 18, 33, 26), (14, 10, 28, 31, 18, 26), strict=True)), dtype=float)


def test_gander_geometric():
    assert geometric_circle(GANDER) == pytest.approx((4.7398, 2.9835, 4.7142), abs=5e-5)


def test_simple_linear_fit_on_ganders_points():
    assert algebraic_circle(GANDER) == pytest.approx((4.74233129, 3.83512270, 4.10876152), abs=5e-9)


def test_cookbook_all_round():
    assert geometric_circle(ROUND) == pytest.approx((10.50009, 9.65995, 23.33353), abs=1e-5)
    assert algebraic_circle(ROUND) == pytest.approx((10.55231, 9.70590, 23.362411), abs=1e-5)


def test_cookbook_short_arc_needs_the_geometric_fit():
    assert geometric_circle(SHORT) == pytest.approx((9.88757, 3.68750, 27.35044), abs=1e-5)
    assert algebraic_circle(SHORT) == pytest.approx((15.05503, 8.83615, 20.850723), abs=1e-5)


@pytest.mark.parametrize("points", [GANDER, ROUND, SHORT])
def test_scipy_finds_no_better_circle(points):
    def offsets(circle):
        return np.hypot(*(points - circle[:2]).T) - circle[2]

    mine = np.array(geometric_circle(points))
    theirs = least_squares(offsets, mine, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    assert mine == pytest.approx(theirs.x, abs=1e-6)
    assert (offsets(mine) ** 2).sum() <= (offsets(theirs.x) ** 2).sum() + 1e-12


def test_points_in_line_make_no_circle():
    with pytest.raises(np.linalg.LinAlgError):
        algebraic_circle(np.array([(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)]))

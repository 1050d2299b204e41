"""Straight lines and means against certified and published results.

Sources: NIST Statistical Reference Datasets (StRD), itl.nist.gov/div898/strd: Norris (linear, lower
difficulty), NumAcc1 to NumAcc3 (univariate); GNU Scientific Library reference manual, chapter
least-squares fitting, example of a weighted line; K. Pearson's data with D. York's weights, after York,
Canadian Journal of Physics 44 (1966) 1079, weights in y only.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.optimize
import scipy.stats

from roundwright.calibration import open_table
from roundwright.calibration.curve import curve_of, line_at, nodes_of
from roundwright.calibration.least_squares import least_squares
from roundwright.calibration.reading import Reading
from roundwright.calibration.uncertainty import pooled_scatter
from table_texts import table_of

pytestmark = pytest.mark.published

NORRIS_Y = (0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2)  # fmt: skip # noqa: E501
NORRIS_X = (0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5)  # fmt: skip # noqa: E501
PEARSON_X = (0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4)
PEARSON_Y = (5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5)
YORK_WEIGHTS = (1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0)


def line(x, y, variances):
    """The fit of y = a + b·x."""
    return least_squares([[1.0, one] for one in x], y, variances)


def test_norris_to_ten_digits():
    """Certified values of NIST StRD Norris: coefficients, their deviations, the residual deviation."""
    fit = line(NORRIS_X, NORRIS_Y, np.ones(36))
    assert fit.values == pytest.approx((-0.262323073774029, 1.00211681802045), rel=1e-10)
    squares = float(fit.residuals @ fit.residuals)
    assert squares == pytest.approx(26.6173985294224, rel=1e-10)
    assert math.sqrt(squares / 34) == pytest.approx(0.884796396144373, rel=1e-10)
    covariance = fit.covariance(np.full(36, squares / 34))
    wanted = (0.232818234301152, 0.429796848199937e-03)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(wanted, rel=1e-10)
    assert covariance[0, 1] == pytest.approx(
        -7.74327536339570e-05, rel=1e-10
    )  # as the GSL's own tests have it


def test_norris_through_the_trend_of_a_condition():
    """The trend through readings at x whose errors are y is Norris's line; each reading a node of its own,
    since Norris measured some x so near each other that their readings would be repeats.
    """
    nodes = tuple(nodes_of([Reading(x, diameter=x + y)])[0] for x, y in zip(NORRIS_X, NORRIS_Y, strict=True))
    intercept = line_at(nodes, 0.0)
    assert intercept == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line_at(nodes, 1.0) - intercept == pytest.approx(1.00211681802045, rel=1e-9)


def test_the_weighted_line_of_the_gsl_manual():
    """x 1970 … 2000, y 12 11 14 13, w 0.1 … 0.4: Y = −106.6 + 0.06 X, chisq 0.8 (data from memory)."""
    x, y, w = (1970.0, 1980.0, 1990.0, 2000.0), (12.0, 11.0, 14.0, 13.0), np.array((0.1, 0.2, 0.3, 0.4))
    fit = line(x, y, 1.0 / w)
    assert fit.values == pytest.approx((-106.6, 0.06), rel=1e-9)
    assert fit.covariance(1.0 / w) == pytest.approx(np.array([[39602.0, -19.9], [-19.9, 0.01]]), rel=1e-8)
    assert float(w @ fit.residuals**2) == pytest.approx(0.8, rel=1e-9)


def test_the_same_line_through_the_trend_of_repeated_readings():
    """Weights 1 : 2 : 3 : 4 are 1, 2, 3 and 4 readings of one mean."""
    y = {1970.0: 12.0, 1980.0: 11.0, 1990.0: 14.0, 2000.0: 13.0}
    pairs = [(x, x + e) for n, (x, e) in enumerate(y.items(), 1) for _ in range(n)]
    table = open_table(table_of(pairs, method="trend"))
    curve = curve_of(table.conditions[0], table)
    assert curve.error(1985.0) == pytest.approx(-106.6 + 0.06 * 1985.0, abs=1e-9)


def test_pearson_with_york_s_weights_in_y_only():
    """a 6.1001093, b −0.6108130 as published; unscaled deviations and chi² [CALC]."""
    w = np.array(YORK_WEIGHTS)
    fit = line(PEARSON_X, PEARSON_Y, 1.0 / w)
    assert fit.values == pytest.approx((6.1001093, -0.6108130), abs=1e-7)
    assert np.sqrt(np.diag(fit.covariance(1.0 / w))) == pytest.approx((0.20466, 0.030087), rel=2e-5)
    assert float(w @ fit.residuals**2) == pytest.approx(34.345207, abs=1e-6)


def test_pearson_without_weights():
    """a 5.76118519, b −0.53957728 as published."""
    fit = line(PEARSON_X, PEARSON_Y, np.ones(10))
    assert fit.values == pytest.approx((5.76118519, -0.53957728), abs=1e-8)


@pytest.mark.parametrize(
    ("values", "mean", "deviation", "rel"),
    [
        ((10000001.0, 10000003.0, 10000002.0), 10000002.0, 1.0, 1e-12),  # NumAcc1, data from memory
        ((1.2, *(1.1, 1.3) * 500), 1.2, 0.1, 1e-12),  # NumAcc2
        ((1000000.2, *(1000000.1, 1000000.3) * 500), 1000000.2, 0.1, 1e-8),  # NumAcc3
    ],
)
def test_mean_and_scatter_of_repeats(values, mean, deviation, rel):
    """NIST StRD NumAcc as the errors of repeated readings; NumAcc3 as far as its values are doubles."""
    node = nodes_of([Reading(1.0, diameter=1.0 + value) for value in values])[0]
    assert node.error == pytest.approx(mean, rel=1e-14)
    scatter = pooled_scatter((node,))
    assert scatter is not None
    assert scatter[0] == pytest.approx(deviation, rel=rel)
    assert scatter[1] == len(values) - 1


def test_scipy_and_numpy_agree():
    """200 random systems with weights: scipy's least squares, numpy's, and polyfit's covariance, to 1e-10."""
    chance = np.random.default_rng(20)
    for _ in range(200):
        n, m = int(chance.integers(6, 40)), int(chance.integers(1, 6))
        rows, values = chance.normal(size=(n, m)) * chance.uniform(0.1, 50.0, m), chance.normal(size=m)
        variances = chance.uniform(0.5, 2.0, n)
        observed = rows @ values + chance.normal(size=n)
        fit = least_squares(rows, observed, variances)
        scale = 1.0 / np.sqrt(variances)
        by_numpy = np.linalg.lstsq(rows * scale[:, None], observed * scale, rcond=None)[0]
        by_scipy = scipy.optimize.lsq_linear(rows * scale[:, None], observed * scale, tol=1e-14).x
        assert fit.values == pytest.approx(by_numpy, rel=1e-10, abs=1e-12)
        assert fit.values == pytest.approx(by_scipy, rel=1e-10, abs=1e-12)
        inverse = np.linalg.inv((rows / variances[:, None]).T @ rows)
        assert fit.covariance(variances) == pytest.approx(inverse, rel=1e-9, abs=1e-14)
        assert fit.leverage.sum() == pytest.approx(m, abs=1e-9)


def test_scipy_s_line_is_the_trend():
    chance = np.random.default_rng(3)
    x = np.sort(chance.uniform(5.0, 90.0, 12)) + np.arange(12)
    y = -0.1 - 0.002 * x + chance.normal(0.0, 0.01, 12)
    by_scipy = scipy.stats.linregress(x, y)
    nodes = nodes_of(Reading(a, diameter=a + b) for a, b in zip(x, y, strict=True))
    assert len(nodes) == 12
    for at in (5.0, 33.3, 90.0):
        assert line_at(nodes, at) == pytest.approx(by_scipy.intercept + by_scipy.slope * at, abs=1e-10)

"""The probability of lying within a tolerance: against scipy, by simulation, and its bounds."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from roundwright.calibration import open_table, solve
from roundwright.calibration.conformity import ovality_at, share_in_tolerance
from roundwright.calibration.curve import curve_of
from roundwright.calibration.reading import Reading
from roundwright.calibration.student import coverage_factor, share_within
from table_texts import CALIPER, CONDITION, HEAD, MACHINE, TOOL

FREEDOMS = st.one_of(st.integers(1, 200).map(float), st.floats(1.0, 1e7), st.just(math.inf))
LENGTHS = st.floats(-0.5, 0.5)


def by_scipy(expected, limits, ovality, standard, freedom):
    law = stats.norm if math.isinf(freedom) else stats.t(freedom)
    low, high = limits[0] + ovality, limits[1] - ovality
    return max(0.0, law.cdf((high - expected) / standard) - law.cdf((low - expected) / standard))


@given(st.floats(0.0, 60.0), FREEDOMS)
def test_share_within_agrees_with_scipy(t, freedom):
    if math.isinf(freedom):
        theirs = special.erf(t / math.sqrt(2.0))
    else:
        theirs = special.betainc(0.5, freedom / 2.0, t * t / (freedom + t * t))
    assert share_within(t, freedom) == pytest.approx(theirs, abs=1e-10)


@pytest.mark.parametrize("freedom", [9_999.0, 10_000.0, 12_345.6, 1e6])
def test_share_within_is_as_good_where_it_is_expanded(freedom):
    for t in np.linspace(0.01, 8.0, 80):
        theirs = special.betainc(0.5, freedom / 2.0, t * t / (freedom + t * t))
        assert share_within(t, freedom) == pytest.approx(theirs, abs=5e-11)


@given(st.floats(0.0, 1e6))
def test_share_within_has_the_arc_tangent_for_one_degree_of_freedom(t):
    assert share_within(t, 1.0) == pytest.approx(2.0 / math.pi * math.atan(t), abs=1e-13)


@given(FREEDOMS, st.floats(0.05, 0.999))
def test_share_within_undoes_the_coverage_factor(freedom, level):
    assert share_within(coverage_factor(freedom, level), freedom) == pytest.approx(level, abs=1e-10)


@pytest.mark.parametrize(
    ("t", "freedom"), [(-0.1, 3.0), (float("nan"), 3.0), (1.0, 0.5), (1.0, float("nan"))]
)
def test_share_within_refuses_what_has_none(t, freedom):
    with pytest.raises(ValueError, match="no share"):
        share_within(t, freedom)


@given(LENGTHS, LENGTHS, st.floats(0.0, 0.5), st.floats(0.0, 0.1), st.floats(1e-4, 1.0), FREEDOMS)
def test_probability_agrees_with_scipy(off, low, width, ovality, standard, freedom):
    """To 5e-9: scipy's own distribution is off by 1.6e-9 near its middle, by the arc tangent for ν = 1."""
    limits = (20.0 + low, 20.0 + low + width)
    ours = share_in_tolerance(20.0 + off, limits, ovality, standard, freedom)
    assert ours == pytest.approx(by_scipy(20.0 + off, limits, ovality, standard, freedom), abs=5e-9)
    assert 0.0 <= ours <= 1.0


def test_probability_agrees_with_a_simulation():
    """A million cuts by numpy: smallest and largest diameter both within. Standard error below 0.0005."""
    rng = np.random.default_rng(20)
    mean = 20.0165 + 0.012 * rng.standard_t(7, 1_000_000)
    within = (mean - 0.004 >= 20.0) & (mean + 0.004 <= 20.033)
    assert share_in_tolerance(20.0165, (20.0, 20.033), 0.004, 0.012, 7.0) == pytest.approx(
        within.mean(), abs=0.002
    )


def test_without_spread_it_is_yes_or_no():
    assert share_in_tolerance(20.01, (20.0, 20.02), 0.0099, 0.0, math.inf) == 1.0
    assert share_in_tolerance(20.01, (20.0, 20.02), 0.0101, 0.0, math.inf) == 0.0
    assert share_in_tolerance(20.03, (20.0, 20.02), 0.0, 0.0, math.inf) == 0.0


def test_more_oval_than_the_tolerance_is_wide_is_never_within():
    assert share_in_tolerance(20.01, (20.0, 20.02), 0.0101, 0.05, 5.0) == 0.0


@given(LENGTHS, st.floats(0.0, 0.1), st.floats(1e-3, 0.1), FREEDOMS)
def test_the_middle_is_the_best_aim(off, ovality, standard, freedom):
    middle = share_in_tolerance(20.0, (19.95, 20.05), ovality, standard, freedom)
    assert middle >= share_in_tolerance(20.0 + off, (19.95, 20.05), ovality, standard, freedom) - 1e-12


def test_ovality_is_half_the_mean_difference_straight_between_diameters():
    readings = [
        Reading(30.0, x=29.80, y=29.86),
        Reading(10.0, x=9.91, y=9.93),
        Reading(10.0, x=9.95, y=9.91),
        Reading(20.0, diameter=19.9),
        Reading(15.0, x=14.9),
    ]
    at_10, at_30 = 0.015, 0.03
    assert ovality_at(readings, 10.0) == pytest.approx(at_10)
    assert ovality_at(readings, 5.0) == pytest.approx(at_10)
    assert ovality_at(readings, 30.0) == pytest.approx(at_30)
    assert ovality_at(readings, 40.0) == pytest.approx(at_30)
    assert ovality_at(readings, 15.0) == pytest.approx(at_10 + 0.25 * (at_30 - at_10))
    assert ovality_at(readings[3:], 20.0) is None


def test_flat_jaws_are_taken_out_of_the_ovality():
    shown = Reading(5.0, x=4.95, y=4.9, jaw_width=0.5)
    true = abs(math.hypot(4.95, 0.5) - math.hypot(4.9, 0.5)) / 2
    assert ovality_at([shown], 5.0) == pytest.approx(true)


def test_a_solution_tells_the_standard_uncertainty_behind_u():
    rows = "".join(
        f"  {{ programmed = {p}, diameter = {m} }},\n"
        for p, m in ((10.0, 9.91), (10.0, 9.93), (20.0, 19.88), (20.0, 19.90), (30.0, 29.85))
    )
    text = HEAD + MACHINE + TOOL + CALIPER + CONDITION + f'instrument = "caliper"\nreadings = [\n{rows}]\n'
    table = open_table(text)
    answer = solve(curve_of(table.conditions[0], table), 18.0, 0.1)
    assert answer.uncertainty == pytest.approx(answer.standard * stats.t.ppf(0.975, answer.freedom), rel=1e-9)
    assert answer.freedom == int(answer.freedom)

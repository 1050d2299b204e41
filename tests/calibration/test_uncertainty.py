"""U is that of the next cut: from repeats, instrument and curve, with effective degrees of freedom."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from roundwright.calibration import Solution, curve_of, open_table, solve
from roundwright.calibration.student import coverage_factor
from roundwright.calibration.uncertainty import (
    Budget,
    budget,
    leave_one_out,
    welch_satterthwaite,
    whole_freedom,
)
from table_texts import table_of


def curve(pairs, limit=0.03, **how):
    table = open_table(table_of(pairs, limit=limit, **how))
    return curve_of(table.conditions[0], table)


def told(pairs, x, **how):
    found = budget(curve(pairs, **how), x)
    assert isinstance(found, Budget)
    return found


REPEATED = [
    (10.0, 9.90),
    (10.0, 9.94),
    (10.0, 9.92),
    (20.0, 19.85),
    (20.0, 19.83),
    (40.0, 39.75),
    (60.0, 59.62),
]
TINY = 1e-9  # an instrument limit that plays no part


@given(st.integers(1, 400), st.sampled_from([0.5, 0.6827, 0.9, 0.95, 0.9545, 0.99, 0.9973]))
def test_scipy_agrees_on_the_coverage_factor(freedom, level):
    assert coverage_factor(float(freedom), level) == pytest.approx(
        stats.t.ppf((1 + level) / 2, freedom), rel=1e-10
    )


@pytest.mark.parametrize("freedom", [1.5, 2.75, 16.75, 999.0, 1000.0, 1001.0, 12345.0, 1e6, 1e9, math.inf])
def test_scipy_agrees_on_any_degrees_of_freedom(freedom):
    expected = stats.norm.ppf(0.975) if math.isinf(freedom) else stats.t.ppf(0.975, freedom)
    assert coverage_factor(freedom) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize(("freedom", "level"), [(0.5, 0.95), (math.nan, 0.95), (3.0, 1.0), (3.0, 0.0)])
def test_there_is_no_quantile_of_nonsense(freedom, level):
    with pytest.raises(ValueError, match="no quantile"):
        coverage_factor(freedom, level)


def test_without_instrument_limit_it_is_the_prediction_interval_of_the_next_value():
    """Textbook: t · s · √(1 + 1/n) for the next of a normal sample; scipy gives t and s."""
    values = [9.90, 9.94, 9.92, 9.93, 9.89]
    found = told([(10.0, v) for v in values], 10.0, limit=TINY)
    expected = stats.t.ppf(0.975, 4) * np.std(values, ddof=1) * math.sqrt(1 + 1 / 5)
    assert found.expanded == pytest.approx(expected, rel=1e-10)
    assert found.freedom == pytest.approx(4.0)


def test_scatter_is_pooled_over_diameters_as_numpy_does_it():
    found = told(REPEATED, 10.0)
    squares = 2 * np.var([9.90, 9.94, 9.92], ddof=1) + 1 * np.var([19.85, 19.83], ddof=1)
    assert found.scatter == pytest.approx(math.sqrt(squares / 3), abs=1e-10)


@pytest.mark.parametrize(
    ("x", "weights"),
    [(10.0, [1, 0, 0, 0]), (15.0, [0.5, 0.5, 0, 0]), (25.0, [0, 0.75, 0.25, 0]), (60.0, [0, 0, 0, 1]),
     (64.0, [0, 0, 0, 1]), (9.5, [1, 0, 0, 0])],
)  # fmt: skip
def test_the_mean_is_carried_by_the_interpolation_weights(x, weights):
    found = told(REPEATED, x)
    assert curve(REPEATED).weights(x) == pytest.approx(weights)
    expected = found.scatter * math.sqrt(sum(w * w / n for w, n in zip(weights, [3, 2, 1, 1], strict=True)))
    assert found.mean == pytest.approx(expected, rel=1e-12)


def test_the_mean_of_a_trend_is_that_of_the_fitted_line():
    """Numpy's covariance of a least-squares line, scaled to s."""
    x = np.array([p for p, _ in REPEATED])
    design = np.stack([np.ones_like(x), x], axis=1)
    for at in (10.0, 33.0, 60.0):
        found = told(REPEATED, at, method="trend")
        line = np.array([1.0, at])
        expected = found.scatter * math.sqrt(line @ np.linalg.inv(design.T @ design) @ line)
        assert found.mean == pytest.approx(expected, rel=1e-10)


def test_the_instrument_is_common_to_all_readings():
    for x in (10.0, 15.0, 60.0, 63.0):
        for method in ("interpolate", "trend"):
            assert told(REPEATED, x, method=method).instrument == pytest.approx(
                0.03 / math.sqrt(3), rel=1e-12
            )


def test_two_instruments_each_count_with_their_share():
    text = table_of(REPEATED, limit=0.03).replace("59.62 }", '59.62, instrument = "gauge" }')
    text = text.replace("[[condition]]", '[[instrument]]\nname = "gauge"\nlimit = 0.01\n[[condition]]')
    table = open_table(text)
    found = budget(curve_of(table.conditions[0], table), 45.0)
    assert isinstance(found, Budget)
    assert found.instrument == pytest.approx(math.hypot(0.75 * 0.03, 0.25 * 0.01) / math.sqrt(3))


def test_interpolation_comes_from_the_larger_second_divided_difference():
    nodes = {n.diameter: n.error for n in curve(REPEATED).nodes}

    def bend(a, b, c):
        second = (nodes[c] - nodes[b]) / (c - b) - (nodes[b] - nodes[a]) / (b - a)
        return abs(second / (c - a))

    for x, triples in ((12.0, [(10, 20, 40)]), (26.0, [(10, 20, 40), (20, 40, 60)]), (50.0, [(20, 40, 60)])):
        a, b = max(d for d in nodes if d <= x), min(d for d in nodes if d > x)
        expected = max(bend(*triple) for triple in triples) * (x - a) * (b - x) / math.sqrt(3)
        assert told(REPEATED, x).interpolation == pytest.approx(expected, rel=1e-12)
    for x in (10.0, 20.0, 40.0, 60.0):
        assert told(REPEATED, x).interpolation == 0.0


def test_a_bent_error_lies_within_what_interpolation_allows_for():
    """An error that is exactly a parabola: the straight line is off by its second difference · (D−a)(b−D)."""
    bent = [(d, d + 1e-4 * d * d) for d in (10.0, 10.0, 20.0, 40.0)]
    found, x = curve(bent), 27.0
    off = abs(found.error(x) - 1e-4 * x * x)
    assert told(bent, x).interpolation * math.sqrt(3) == pytest.approx(off, rel=1e-9)


def test_past_the_ends_and_for_a_trend_it_is_the_largest_leave_one_out_residual():
    residuals = leave_one_out(curve(REPEATED))
    x = np.array([n.diameter for n in curve(REPEATED).nodes])
    e = np.array([n.error for n in curve(REPEATED).nodes])
    inner = [e[i] - np.interp(x[i], np.delete(x, i), np.delete(e, i)) for i in (1, 2)]
    assert residuals[0] is None and residuals[-1] is None
    assert residuals[1:-1] == pytest.approx(inner, abs=1e-10)
    assert told(REPEATED, 63.0).interpolation == pytest.approx(max(map(abs, inner)), abs=1e-10)
    n = np.array([3, 2, 1, 1])
    lines = [np.polyfit(np.delete(x, i), np.delete(e, i), 1, w=np.sqrt(np.delete(n, i))) for i in range(4)]
    outer = [e[i] - np.polyval(lines[i], x[i]) for i in range(4)]
    assert leave_one_out(curve(REPEATED, method="trend")) == pytest.approx(outer, abs=1e-10)
    assert told(REPEATED, 30.0, method="trend").interpolation == pytest.approx(
        max(map(abs, outer)), abs=1e-10
    )


def test_two_diameters_cannot_show_a_bend_and_a_note_says_so():
    for pairs, word in (
        ([(10.0, 9.9), (10.0, 9.92), (30.0, 29.8)], "two diameters"),
        ([(10.0, 9.9)] * 2, "one"),
    ):
        found = told(pairs, 12.0)
        assert found.interpolation == 0.0
        assert word in found.note
    assert told(REPEATED, 12.0).note == ""


def test_no_repeats_no_uncertainty():
    found = budget(curve([(10.0, 9.9), (20.0, 19.9), (30.0, 29.9)]), 15.0)
    assert isinstance(found, str) and "measured twice" in found
    answer = solve(curve([(10.0, 9.9), (20.0, 19.9)]), 15.0, 0.1)
    assert isinstance(answer, Solution)
    assert answer.uncertainty is None and answer.why_no_uncertainty == found


def test_no_instrument_no_uncertainty():
    found = budget(curve(REPEATED, limit=None), 15.0)
    assert isinstance(found, str) and "instrument" in found


@given(st.lists(st.tuples(st.floats(1e-6, 1.0), st.floats(1.0, 100.0)), min_size=1, max_size=6))
def test_effective_freedom_lies_between_the_least_and_the_sum(components):
    effective = welch_satterthwaite(tuple(components))
    assert min(nu for _, nu in components) - 1e-9 <= effective <= sum(nu for _, nu in components) * (1 + 1e-9)


def test_exact_components_have_infinite_freedom():
    assert math.isinf(welch_satterthwaite(((0.0, 3.0), (0.1, math.inf))))
    assert math.isinf(welch_satterthwaite(((0.0, 3.0), (0.0, math.inf))))
    found = told([(10.0, 9.9), (10.0, 9.9)], 10.0)
    assert found.expanded == pytest.approx(stats.norm.ppf(0.975) * 0.03 / math.sqrt(3), rel=1e-10)


@pytest.mark.parametrize(
    ("freedom", "whole"), [(18.9987, 19), (18.98, 18), (1.0, 1), (16.75, 16), (math.inf, math.inf)]
)
def test_freedom_is_cut_down_but_for_rounding(freedom, whole):
    assert whole_freedom(freedom) == whole


def test_scatter_and_mean_are_one_component_since_they_share_their_s():
    found = told(REPEATED, 15.0)
    part = math.hypot(found.scatter, found.mean)
    rest = found.standard**2 - part**2
    assert rest == pytest.approx(found.instrument**2 + found.interpolation**2)
    assert found.freedom == pytest.approx(3 * (found.standard / part) ** 4)
    assert found.expanded == pytest.approx(stats.t.ppf(0.975, int(found.freedom)) * found.standard, rel=1e-10)


def test_95_percent_of_next_cuts_lie_within_u():
    """Simulated shop, seeded: error −0.1 − 0.004·D, scatter 0.03, caliper bias drawn once a table."""
    chance, within, trials = np.random.default_rng(11), 0, 1500
    for _ in range(trials):
        bias = chance.uniform(-0.02, 0.02)
        programmed = np.array([8.0, 8.0, 8.0, 20.0, 20.0, 35.0, 35.0])
        measured = programmed - 0.1 - 0.004 * programmed + bias + chance.normal(0, 0.03, 7)
        found = curve(list(zip(programmed.tolist(), measured.tolist(), strict=True)), limit=0.02)
        answer = solve(found, float(chance.uniform(8, 34)), 0.1)
        assert isinstance(answer, Solution) and answer.uncertainty is not None
        x = answer.programmed
        result = x - 0.1 - 0.004 * x + chance.normal(0, 0.03)
        within += abs(result - (x + answer.expected_error)) <= answer.uncertainty
    assert 0.94 <= within / trials <= 0.985

"""x + e(x) = T is solved exactly, only where the readings carry it, and the same in every unit and order."""

import random
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from roundwright.calibration import Solution, Unsolved, curve_of, measured_table, open_table, solve
from table_texts import table_of


def curve(pairs, **how):
    table = open_table(table_of(pairs, **how))
    return curve_of(table.conditions[0], table)


LADDER = [(10.0, 9.92), (25.0, 24.84), (60.0, 59.62)]


@st.composite
def ladders(draw, least=1):
    """Programmed and measured diameters in mm: some repeated, errors up to 1.5 mm, mostly growing."""
    steps = draw(st.lists(st.floats(0.05, 40.0), min_size=least, max_size=7))
    diameters = [float(d) for d in np.cumsum([2.0, *steps])[1:]]
    errors = [draw(st.floats(-1.5, 1.5)) for _ in diameters]
    pairs = [(d, d + e) for d, e in zip(diameters, errors, strict=True) if d + e > 0.75 * d]
    assume(pairs)
    repeats = draw(st.lists(st.sampled_from(pairs), max_size=3))
    return pairs + [(p, m + draw(st.floats(-0.05, 0.05))) for p, m in repeats]


METHODS = st.sampled_from(["interpolate", "trend"])


@given(ladders(), st.floats(0.8, 1.2), st.floats(0, 1), METHODS)
def test_the_answer_satisfies_the_equation(pairs, stretch, share, method):
    found = curve(pairs, method=method)
    low, high = found.nodes[0].diameter, found.nodes[-1].diameter
    target = stretch * (low + share * (high - low))
    answer = solve(found, target, 0.1)
    if isinstance(answer, Unsolved):
        assert answer.why
        return
    x = answer.programmed
    assert abs(x + found.error(x) - target) <= 1e-12 * target
    assert answer.expected_error == found.error(x)


@given(ladders(), st.lists(st.floats(0.0, 1.0), min_size=2, max_size=8), METHODS)
def test_larger_targets_get_larger_diameters(pairs, shares, method):
    found = curve(pairs, method=method)
    low, high = found.nodes[0].diameter, found.nodes[-1].diameter
    targets = sorted(0.92 * low + share * (1.08 * high - 0.92 * low) for share in shares)
    answers = [(t, solve(found, t, 0.1)) for t in targets]
    solved = [(t, a.programmed) for t, a in answers if isinstance(a, Solution)]
    assert all(x1 <= x2 for (t1, x1), (t2, x2) in pairwise(solved) if t1 < t2)


@given(ladders(), st.floats(0.0, 1.0), METHODS)
def test_an_answer_is_the_only_one(pairs, share, method):
    found = curve(pairs, method=method)
    low, high = found.points[0][0], found.points[-1][0]
    target = low + share * (high - low)
    answer = solve(found, target, 0.1)
    assume(isinstance(answer, Solution))
    for x in np.linspace(low - 4.0, high + 4.0, 200):
        result = x + found.error(x)
        assert (result < target) == (x < answer.programmed) or abs(result - target) < 1e-9


@given(ladders(), st.floats(0.92, 1.08), st.floats(0, 1), METHODS)
def test_inches_and_millimetres_give_the_same(pairs, stretch, share, method):
    mm, inch = (
        curve(pairs, method=method),
        curve([(p / 25.4, m / 25.4) for p, m in pairs], inch=True, method=method),
    )
    target = stretch * (mm.nodes[0].diameter + share * (mm.nodes[-1].diameter - mm.nodes[0].diameter))
    one, other = solve(mm, target, 0.1), solve(inch, target, 0.1)
    assert type(one) is type(other)
    if isinstance(one, Solution) and isinstance(other, Solution):
        slope = min((b + eb - a - ea) / (b - a) for (a, ea), (b, eb) in pairwise([*mm.points, (1e9, 0.0)]))
        assert one.programmed == pytest.approx(other.programmed, rel=1e-12 / min(1.0, max(slope, 1e-9)))


@given(ladders(), st.randoms(use_true_random=False), METHODS)
def test_the_order_of_readings_makes_no_difference(pairs, chance, method):
    shuffled = list(pairs)
    chance.shuffle(shuffled)
    one, other = (curve(p, method=method, limit=0.02) for p in (pairs, shuffled))
    assert one == other
    for share in (0.0, 0.3, 0.7, 1.0):
        target = one.nodes[0].diameter + share * (one.nodes[-1].diameter - one.nodes[0].diameter)
        assert solve(one, target, 0.1) == solve(other, target, 0.1)


def test_numpy_and_scipy_agree_to_1e_10():
    chance = random.Random(7)
    diameters = np.cumsum([chance.uniform(2, 12) for _ in range(8)])
    errors = np.array([chance.uniform(-0.4, 0.2) for _ in diameters])
    found = curve([(float(d), float(d + e)) for d, e in zip(diameters, errors, strict=True)])
    for target in np.linspace(diameters[0] * 0.91, diameters[-1] * 1.09, 97):
        answer = solve(found, float(target), 0.1)
        assert isinstance(answer, Solution)
        x = answer.programmed
        assert found.error(x) == pytest.approx(np.interp(x, diameters, errors), abs=1e-10)
        root = brentq(
            lambda x, t=target: x + np.interp(x, diameters, errors) - t, 0.1, 200, xtol=1e-13, rtol=1e-14
        )
        assert x == pytest.approx(root, abs=1e-10)


def test_numpy_agrees_on_the_weighted_trend_to_1e_10():
    pairs = [
        (10.0, 9.92),
        (10.0, 9.94),
        (10.0, 9.90),
        (25.0, 24.84),
        (40.0, 39.70),
        (40.0, 39.76),
        (60.0, 59.62),
    ]
    found = curve(pairs, method="trend")
    programmed, measured = np.array(pairs).T
    slope, level = np.polyfit(programmed, measured - programmed, 1)
    for x in (10.0, 17.3, 40.0, 60.0):
        assert found.error(x) == pytest.approx(level + slope * x, abs=1e-10)
        by_weights = sum(w * n.error for w, n in zip(found.weights(x), found.nodes, strict=True))
        assert by_weights == pytest.approx(found.error(x), abs=1e-12)
    assert found.error(63.0) == found.error(60.0)


@pytest.mark.parametrize(
    ("target", "basis"),
    [
        (9.5, "below 10, held"),
        (9.92, "at 10"),
        (20.0, "between 10 and 25"),
        (24.84, "at 25"),
        (25.0, "between 25 and 60"),
        (60.0, "beyond 60, held"),
    ],
)
def test_the_basis_is_where_the_error_comes_from(target, basis):
    answer = solve(curve(LADDER), target, 0.1)
    assert isinstance(answer, Solution) and answer.basis == basis


def test_the_basis_of_an_inch_table_is_in_inches_and_of_a_trend_says_so():
    inch = curve([(0.375, 0.37), (1.25, 1.24)], inch=True)
    answer = solve(inch, 25.4, 0.1)
    assert isinstance(answer, Solution) and answer.basis == "between 0.375 and 1.25"
    answer = solve(curve(LADDER, method="trend"), 20.0, 0.1)
    assert isinstance(answer, Solution) and answer.basis == "trend from 10 to 60"


def test_ends_hold_their_value_up_to_reach_and_the_target_is_what_counts():
    found = curve(LADDER)
    for target, error in ((9.0, -0.08), (66.0, -0.38)):
        answer = solve(found, target, 0.1)
        assert isinstance(answer, Solution)
        assert answer.programmed == pytest.approx(target - error, abs=1e-12)
    for target in (8.999, 66.001):
        answer = solve(found, target, 0.1)
        assert isinstance(answer, Unsolved) and answer.reason == "out-of-range"
        assert "10 to 60 mm" in answer.why and "9 to 66 mm" in answer.why and "T1 / birch ply" in answer.why
    assert isinstance(solve(found, 10.0, 0.0), Solution)
    assert isinstance(solve(found, 9.99, 0.0), Unsolved)
    assert isinstance(solve(found, 80.0, 0.5), Solution)


def test_readings_that_turn_back_are_named_and_only_they_are_refused():
    found = curve([(10.0, 9.9), (20.0, 19.9), (30.0, 29.9), (30.5, 29.8), (40.0, 39.9), (50.0, 49.9)])
    for target in (19.95, 25.0, 29.85, 30.0, 35.0):
        answer = solve(found, target, 0.1)
        assert isinstance(answer, Unsolved) and answer.reason == "no-calibration"
        assert "30 and 30.5" in answer.why and "look at these two again" in answer.why
    for target in (9.5, 15.0, 45.0, 52.0):
        assert isinstance(solve(found, target, 0.1), Solution)


def test_a_result_that_stands_still_is_refused_too():
    answer = solve(curve([(10.0, 9.9), (10.1, 9.9), (30.0, 29.9)]), 9.9, 0.1)
    assert isinstance(answer, Unsolved) and answer.reason == "no-calibration"


def test_a_trend_that_falls_is_refused():
    answer = solve(curve([(10.0, 10.0), (11.0, 9.9), (12.0, 9.8)], method="trend"), 10.0, 0.1)
    assert isinstance(answer, Unsolved) and "10 and 12" in answer.why


def test_no_readings_are_no_calibration():
    table = open_table(
        table_of([(10.0, 9.9)]).replace("diameter = 1.0", "diameter = 1.0\nfitted = 2026-01-01")
    )
    answer = solve(curve_of(table.conditions[0], table), 10.0, 0.1)
    assert (
        isinstance(answer, Unsolved)
        and answer.reason == "no-calibration"
        and "older than the bit" in answer.why
    )
    table = open_table(table_of([]))
    answer = solve(curve_of(table.conditions[0], table), 10.0, 0.1)
    assert isinstance(answer, Unsolved) and "no readings yet" in answer.why


def test_repeats_are_one_node_with_their_mean():
    found = curve([(10.0, 9.92), (25.0, 24.8), (10.0, 9.94), (10.0, 9.93)])
    assert [(n.diameter, n.n) for n in found.nodes] == [(10.0, 3), (25.0, 1)]
    assert found.nodes[0].error == pytest.approx(-0.07)


def test_measured_pairs_are_solved_as_any_table():
    table = measured_table([(20.0, 19.91)], inch=False)
    answer = solve(curve_of(table.conditions[0], table), 20.0, table.limits.reach)
    assert isinstance(answer, Solution)
    assert answer.programmed == pytest.approx(20.09, abs=1e-12)
    assert answer.basis == "beyond 20, held" and answer.uncertainty is None

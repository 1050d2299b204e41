"""Readings at nearly one programmed diameter are repeats of one node; sizes meant to differ stay apart."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from roundwright.calibration import Reading, Solution, curve_of, open_table, solve
from roundwright.calibration.curve import nodes_of
from roundwright.calibration.solve import falling_pairs
from roundwright.calibration.uncertainty import pooled_scatter
from table_texts import table_of

TABLE = open_table(table_of([], limit=0.02))


def curve(pairs):
    readings = tuple(Reading(p, diameter=m, instrument="caliper") for p, m in pairs)
    return curve_of(replace(TABLE.conditions[0], readings=readings), TABLE)


def test_a_size_that_was_corrected_again_and_again_is_one_node():
    nodes = nodes_of(Reading(d, diameter=20.0) for d in (20.134, 20.140, 20.151, 20.128))
    assert [node.n for node in nodes] == [4]
    assert nodes[0].diameter == pytest.approx(20.13825)
    assert nodes[0].error == pytest.approx(20.0 - 20.13825)


LADDERS = {
    "holes of 0.1 mm": np.arange(3.0, 12.0, 0.1),
    "inch sizes by 1/64 up to 3 in": np.arange(8, 192) / 64 * 25.4,
    "preferred numbers R40": 3.0 * 10.0 ** (np.arange(80) / 40),
    "whole millimetres": np.arange(2.0, 200.0),
    "a first cut and its correction": np.array([20.0, 20.134, 60.0, 60.30]),
}


@pytest.mark.parametrize("name", LADDERS)
def test_a_real_ladder_is_never_merged(name):
    sizes = LADDERS[name].tolist()
    assert len(nodes_of(Reading(d, diameter=d - 0.1) for d in sizes)) == len(sizes)


def test_ordinary_scatter_of_near_readings_does_not_turn_the_curve_back():
    """Ten jobs of one size, cuts with a scatter of 0.02 mm, as in wood; 200 shops, none refused for it."""
    for seed in range(200):
        chance = np.random.default_rng(seed)
        pairs = [(d, d - 0.13 + chance.normal(0.0, 0.02)) for d in (10.0, 20.0, 20.0, 40.0)]
        for _ in range(10):
            answer = solve(curve(pairs), 20.0, 0.1)
            assert isinstance(answer, Solution), (seed, answer)
            pairs.append((round(answer.programmed, 3), answer.programmed - 0.13 + chance.normal(0.0, 0.02)))
        assert falling_pairs(curve(pairs)) == ()
        found = pooled_scatter(curve(pairs).nodes)
        assert found is not None and found[1] >= 8, "the corrected jobs are repeats"


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(8_000, 60_000), st.integers(-40, 40)).map(
            lambda one: (one[0] / 1000, round(one[0] / 1000 - 0.13 + one[1] / 1000, 6))
        ),
        min_size=1,
        max_size=30,
    )
)
def test_solving_is_exact_at_the_nodes_and_order_does_not_count(pairs):
    one = curve(pairs)
    assert curve(pairs[::-1]).nodes == one.nodes
    assert all(a.diameter < b.diameter for a, b in pairwise(one.nodes))
    assert sum(node.n for node in one.nodes) == len(pairs)
    if falling_pairs(one):
        return
    for node in one.nodes:
        answer = solve(one, node.diameter + node.error, 1.0)
        assert isinstance(answer, Solution)
        assert answer.programmed == pytest.approx(node.diameter, abs=1e-9)
        assert answer.expected_error == pytest.approx(node.error, abs=1e-9)

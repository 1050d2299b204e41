"""Looking at many places at once, held against looking at each pair."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.find.cuts import Boxes
from roundwright.find.near import crowded

#: about the edges of the cells, of 2 mm, that near points are looked for in.
PLACES = st.builds(lambda cell, off: 2.0 * cell + off, st.integers(-3, 3), st.floats(-0.6, 0.6))


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 1), PLACES, PLACES), max_size=12))
def test_no_point_that_has_another_of_its_kind_near_is_taken_for_a_lonely_one(drawn):
    kind = np.array([k for k, _, _ in drawn], np.int64).reshape(-1, 1)
    point = np.array([place for _, *place in drawn]).reshape(-1, 2)
    found = crowded(kind, point)
    assert found.shape == (len(drawn),)
    for a, b in combinations(range(len(drawn)), 2):
        if kind[a] == kind[b] and (np.abs(point[a] - point[b]) <= 0.5).all():
            assert found[a]
            assert found[b]


def test_points_that_stand_far_apart_or_are_of_other_kinds_are_lonely():
    point = np.array([[0.0, 0.0], [25.0, 0.0], [0.0, 25.0], [0.1, 0.0]])
    assert crowded(np.array([[0, 0], [0, 0], [0, 0], [0, 1]]), point).tolist() == [False] * 4
    assert crowded(np.zeros((4, 2), np.int64), point).tolist() == [True, False, False, True]


@pytest.mark.parametrize("count", [1, 63, 64, 65, 1000])
@pytest.mark.parametrize("most", [64, 1 << 15])
def test_the_pairs_of_boxes_that_meet_are_those_of_one_by_one(count, most):
    rng = np.random.default_rng(count)
    low = rng.integers(0, 40, (count, 2)).astype(float)
    high = low + rng.integers(0, 4, (count, 2))
    asked_low = rng.integers(-5, 45, (20, 2)).astype(float)
    asked_high = asked_low + rng.integers(0, 6, (20, 2))
    boxes = Boxes.of(low, high)
    plain = [
        (k, at)
        for k in range(20)
        for at in range(count)
        if (low[at] <= asked_high[k]).all() and (high[at] >= asked_low[k]).all()
    ]
    chunks = list(boxes.meeting_each(asked_low, asked_high, most))
    assert [pair for one, other in chunks for pair in zip(one.tolist(), other.tolist(), strict=True)] == plain
    for k in range(20):
        assert boxes.meeting(asked_low[k], asked_high[k]).tolist() == [at for box, at in plain if box == k]

"""What round cuts sweep of the points round circles, told by angles, held against each point's distance."""

from __future__ import annotations

from unittest import mock

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from roundwright.find import rounds
from roundwright.find.cuts import Boxes, Cuts, nearest
from roundwright.find.meeting import AROUND
from roundwright.find.rounds import are_round, swept_by_rounds

LESS = 1e-6
FULL = 2 * np.pi

places = st.one_of(st.integers(-6, 6).map(float), st.floats(-6, 6))
#: a cut: where it is, its radius (0: straight down), its reach, and a point that its edge is to run through.
cut_shapes = st.tuples(
    places,
    places,
    st.one_of(st.just(0.0), st.integers(1, 8).map(float), st.floats(0.01, 8)),
    st.one_of(st.integers(0, 4).map(float), st.floats(0.01, 4)),
    st.one_of(st.none(), st.integers(0, 179)),
    st.sampled_from((0.0, 0.0, 1e-12, -1e-12, 1e-8, -1e-8)),
)
circle_shapes = st.tuples(places, places, st.one_of(st.integers(1, 6).map(float), st.floats(0.01, 9)))


def cuts_of(shapes):
    """Level turns and straight plunges at height 0."""
    middle, radius, reach = np.array([s[:2] for s in shapes]), *np.array([s[2:4] for s in shapes]).T
    count, turn = len(shapes), radius > 0
    ends = np.where(turn[:, None], middle + np.stack([radius, 0 * radius], 1), middle)
    z = np.where(turn[:, None], 0.0, np.tile((5.0, 0.0), (count, 1)))
    return Cuts(
        row=np.arange(count),
        start=ends,
        end=ends,
        z=z,
        low=z.min(axis=1),
        reach=reach,
        arc=np.where(turn, 0, -1),
        centre=np.where(turn[:, None], middle, 0.0),
        radius=radius,
        begin=np.zeros(count),
        sweep=np.where(turn, FULL, 0.0),
        ccw=turn,
        unknown=np.zeros(count, np.bool_),
        boxes=Boxes.of(middle, middle),
    )


def through(shape, circle):
    """The cut, its reach such that one of its edges runs through a point of the circle, or nearly."""
    x, y, radius, _, at, off = shape
    if at is None:
        return shape
    px, py = np.array(circle[:2]) + circle[2] * AROUND[:, at]
    return x, y, radius, abs(float(np.hypot(px - x, py - y)) - radius) + LESS + off, at, off


@settings(max_examples=400, deadline=None)
@example([(0.0, 0.0, 1.0)], [(0, (1.0, 0.0, 2.0, 0.0, 0, 0.0))], 1.0, 0.0)
@given(
    st.lists(circle_shapes, min_size=1, max_size=4),
    st.lists(st.tuples(st.integers(0, 3), cut_shapes), min_size=1, max_size=8),
    st.sampled_from((1.0, 1.0, 1000.0, 1e-3)),
    st.sampled_from((0.0, 0.0, 1e4, 123456.789)),
)
def test_round_cuts_sweep_the_points_that_are_near_enough(circles, drawn, scale, away):
    circles = [(away + scale * x, away + scale * y, scale * r) for x, y, r in circles]
    circle = np.array([k % len(circles) for k, _ in drawn])
    shapes = [
        (away + scale * x, away + scale * y, scale * r, scale * s, *rest) for _, (x, y, r, s, *rest) in drawn
    ]
    cuts = cuts_of([through(shape, circles[k]) for shape, k in zip(shapes, circle, strict=True)])
    cut = np.arange(len(drawn))
    assert are_round(cuts, cut).all()
    centre, radius = np.array(circles)[:, :2], np.array(circles)[:, 2]
    points = centre.T[:, :, None] + radius[:, None] * AROUND[:, None]
    found = swept_by_rounds(cuts, (circle, cut), centre, radius, points, LESS)
    distance, height = nearest(cuts, cut, *points[:, circle])
    assert (height == 0).all()
    plain = np.zeros(found.shape, np.bool_)
    np.logical_or.at(plain, circle, distance < cuts.reach[:, None] - LESS)
    assert np.array_equal(found, plain)


def test_the_distance_is_asked_for_of_few_points():
    rng = np.random.default_rng(7)
    shapes = [(x, y, 7.0, 3.0, None, 0.0) for x, y in rng.uniform(-9, 9, (500, 2)).tolist()]
    cuts, asked = cuts_of(shapes), []

    def noting(x, y):
        asked.append(np.size(x))
        return np.sqrt(x * x + y * y)

    points = np.zeros((2, 1, 1)) + 7.0 * AROUND[:, None]
    pairs = np.zeros(500, np.intp), np.arange(500)
    with mock.patch.object(rounds, "length", noting):
        swept_by_rounds(cuts, pairs, np.zeros((1, 2)), np.array([7.0]), points, LESS)
    assert sum(asked[1:]) < 20, "each of 500 cuts has four borders among 180 points"


@pytest.mark.parametrize("portion", [1, 7])
def test_points_looked_at_in_portions_are_those_looked_at_together(portion):
    shapes = [(0.0, 0.0, 5.0, 2.0 + LESS, None, 0.0), (1e-9, 0.0, 5.0, 2.0 + LESS, None, 0.0)]
    cuts, pairs = cuts_of(shapes), (np.zeros(2, np.intp), np.arange(2))
    points = 7.0 * AROUND[:, None]
    args = cuts, pairs, np.zeros((1, 2)), np.array([7.0]), points, LESS
    whole = swept_by_rounds(*args)
    with mock.patch.object(rounds, "_PORTION", portion):
        assert np.array_equal(swept_by_rounds(*args), whole)

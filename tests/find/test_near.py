"""Neighbours found by cells, held against all that were noted."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from roundwright.find.near import Near

lengths = st.floats(-9, 9).map(lambda x: round(x, 2))
circles = st.tuples(st.sampled_from("ab"), lengths, lengths, lengths)


@given(st.lists(circles, max_size=60), circles)
def test_all_that_lie_near_are_found_and_those_of_one_cell_in_order(noted, asked):
    near = Near()
    for number, (kind, *point) in enumerate(noted):
        near.add(kind, tuple(point), number)
    kind, *point = asked
    given = list(near(kind, tuple(point)))
    assert len(given) == len(set(given))
    for number, (other, *place) in enumerate(noted):
        *apart, last = (abs(a - b) for a, b in zip(point, place, strict=True))
        if other == kind and max(apart) < 0.5 and last < 0.1:
            assert number in given
    assert all(noted[number][0] == kind for number in given)
    few = [number for number in given if abs(noted[number][3] - point[2]) < 0.11]
    assert few == given or len(noted) > 32
    cells = [[x // 2 for x in noted[number][1:]] for number in given]
    for cell in cells:  # of each cell all that are given lie as near in one and the same coordinate
        here = [noted[number][1:] for number, other in zip(given, cells, strict=True) if other == cell]
        away = [max(abs(place[k] - point[k]) for place in here) for k in range(3)]
        assert away[0] < 0.51 or away[1] < 0.51 or away[2] < 0.11
    assert sorted(zip(cells, given, strict=True)) == list(zip(cells, given, strict=True))


@given(st.permutations(range(200)), st.integers(0, 2))
def test_of_many_in_one_cell_only_those_are_given_that_lie_as_near_in_one_coordinate(order, spread):
    near = Near()
    places = [tuple(1.0 + (0.004 * k if axis == spread else 0.0) for axis in range(3)) for k in order]
    for number, place in enumerate(places):
        near.add("a", place, number)
    given = list(near("a", places[0], 0.01))
    apart = 0.1 if spread == 2 else 0.01
    within = [number for number, k in enumerate(order) if 0.004 * abs(k - order[0]) < apart]
    assert set(within) <= set(given)
    assert given == sorted(given)
    assert len(given) <= len(within) + 2

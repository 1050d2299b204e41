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
    assert all(noted[number][0] == kind and abs(noted[number][3] - point[2]) < 0.11 for number in given)
    cells = [[x // 2 for x in noted[number][1:]] for number in given]
    assert sorted(zip(cells, given, strict=True)) == list(zip(cells, given, strict=True))

"""What is held as columns, edits and what rows have in common, says what single values would."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from roundwright.plan.plan import Ends
from roundwright.rewrite.alike import kinds_of
from roundwright.rewrite.edit import Edit, Edits, apply_edits

PIECES = st.lists(st.tuples(st.binary(max_size=4), st.binary(max_size=3), st.binary(max_size=3)), max_size=12)


@given(PIECES, st.randoms())
def test_edits_in_any_order_and_in_parts_give_the_same_bytes(pieces, rng) -> None:
    data, expected, edits = b"", b"", []
    for between, old, new in pieces:
        start = len(data) + len(between)
        data, expected = data + between + old, expected + between + new
        edits.append(Edit(start, start + len(old), new))
    distinct = {(edit.start, edit.stop) for edit in edits}
    order = list(edits) if len(distinct) < len(edits) else rng.sample(edits, len(edits))
    cut = rng.randint(0, len(order))
    parts = Edits.joined([Edits.of(order[:cut]), Edits.of(order[cut:])])
    assert apply_edits(data, parts.in_order()) == expected
    some = np.array(sorted(rng.sample(range(len(order)), cut)), np.int64)
    assert list(parts.only(some).in_order()) == sorted((order[k] for k in some.tolist()), key=lambda e: e[:2])


def test_edits_that_overlap_are_an_error() -> None:
    with pytest.raises(ValueError, match="overlap at byte 1"):
        apply_edits(b"abc", Edits.of([Edit(0, 2, b"x"), Edit(1, 3, b"y")]).in_order())


@given(st.lists(st.tuples(st.integers(-2, 2), st.sampled_from([0.0, 0.5, -1.5])), min_size=1))
def test_kinds_are_numbered_as_they_come(rows) -> None:
    first, kind = kinds_of(np.array([a for a, _ in rows]), np.array([b for _, b in rows], np.float64))
    each = list(dict.fromkeys(rows))
    assert [rows[k] for k in first.tolist()] == each
    assert kind.tolist() == [each.index(row) for row in rows]


def test_planned_ends_are_a_mapping() -> None:
    ends = {7: (1.0, 2.0, 3.0), 3: (4.0, 5.0, 6.0)}
    columns = Ends.of(ends)
    assert columns == ends and list(columns) == [3, 7] and Ends.of(columns) is columns
    assert columns[7] == (1.0, 2.0, 3.0) and columns.get(5) is None and 5 not in columns
    with pytest.raises(KeyError):
        columns[8]

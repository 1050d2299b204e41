"""Packed structs come out as they went in, in far less room."""

from __future__ import annotations

from math import copysign
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases import all_cases
from roundwright import packed as packed_values
from roundwright.find import Ring
from roundwright.packed import Packed
from roundwright.plan import Correction


@pytest.fixture(autouse=True, scope="module")
def none_are_few():
    """Few would be kept as they are."""
    with patch.object(packed_values, "_FEW", 0):
        yield


FLOATS = st.floats(allow_nan=False, allow_infinity=False)
RINGS = st.builds(
    Ring,
    rows=st.lists(st.integers(0, 2**40), min_size=1, max_size=6).map(tuple),
    centre=st.tuples(FLOATS, FLOATS),
    radius=FLOATS,
    turn=st.sampled_from(("cw", "ccw", "both")),
    z=st.tuples(FLOATS, FLOATS),
    normal=st.integers(0, 2),
    frame=st.integers(0, 9),
    section=st.integers(0, 9),
    passes=st.integers(0, 9),
    forms=st.lists(st.sampled_from(("arc", "helix", "chords")), max_size=3).map(tuple),
    flat=st.booleans(),
    known=st.booleans(),
    over_flats=st.none() | FLOATS,
)


@given(st.lists(RINGS, max_size=200), st.data())
def test_what_is_packed_comes_out_equal_in_order_and_by_place(rings, data):
    packed = Packed(Ring, iter(rings))
    assert len(packed) == len(rings) and list(packed) == rings
    assert packed == rings and packed == tuple(rings) and packed == Packed(Ring, rings)
    if rings:
        at = data.draw(st.integers(-len(rings), len(rings) - 1))
        assert packed[at] == rings[at]
        assert packed[at:] == tuple(rings[at:])
        assert packed != rings[1:]
    with pytest.raises(IndexError):
        packed[len(rings)]


@given(RINGS)
def test_every_bit_of_a_number_is_kept(ring):
    (again,) = Packed(Ring, [ring])
    for was, now in zip((*ring.centre, *ring.z), (*again.centre, *again.z), strict=True):
        assert (was, copysign(1, was)) == (now, copysign(1, now))


def test_numbers_of_numpys_are_packed_as_pythons():
    ring = Ring((np.int64(3),), (np.float64(1.5), 2.0), 1.0, "cw", (0.0, 0.0), 2, 0, 0, 1, (), np.True_, True)
    (again,) = Packed(Ring, [ring])
    assert again == ring
    assert type(again.rows[0]) is int and type(again.centre[0]) is float and again.flat is True


@pytest.mark.parametrize("case", all_cases(), ids=lambda case: case.name)
def test_every_correction_of_the_whole_programs_survives_packing(case):
    made = tuple(case.outcome.plan.corrections)
    assert tuple(Packed(Correction, made)) == made
    assert repr(Packed(Correction, made)) == repr(made)
    assert hash(Packed(Correction, made)) == hash(made)


@pytest.mark.parametrize("odd", ["\udcff", 2**70, object()], ids=["no Unicode", "huge", "of no form"])
def test_what_cannot_be_packed_is_kept_as_it_is(odd):
    rings = [
        Ring((1,), (0.0, 0.0), 7.0, turn, (0.0, 0.0), 2, 0, 0, 1, (), True, True) for turn in ("cw", odd)
    ]
    assert list(Packed(Ring, rings)) == rings and Packed(Ring, rings)[1].turn is odd


def test_a_material_that_is_no_unicode_is_looked_up_as_any_other():
    case = next(case for case in all_cases() if not case.decoy)
    outcome = case.list(material="ply\udcff")
    assert {one.reason for one in outcome.plan.corrections if one.feature.fault == ""} == {"no-calibration"}


def test_many_alike_take_a_tenth_of_their_room():
    ring = Ring((1, 2), (0.0, 0.0), 7.0, "cw", (-3.0, -3.0), 2, 0, 0, 1, ("arc",), True, True)
    packed = Packed(Ring, [ring] * 1000)
    assert sum(map(len, packed._parts)) < 50 * len(packed)


@pytest.mark.parametrize("few", [63, 64, 65, 128, 199, 200, 500])
def test_few_are_kept_and_of_more_all_are_packed(few):
    rings = [Ring((k,), (0.0, 0.0), 7.0, "cw", (0.0, 0.0), 2, 0, 0, 1, (), True, True) for k in range(200)]
    with patch.object(packed_values, "_FEW", few):
        packed = Packed(Ring, rings)
    assert list(packed) == rings and packed[150] == rings[150]
    assert {isinstance(part, bytes) for part in packed._parts} == {len(rings) > few}
    assert (packed[0] is rings[0]) == (len(rings) <= few)

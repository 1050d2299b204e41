"""Circles are looked at some at a time; however few these are, the same is found of them."""

from __future__ import annotations

from contextlib import ExitStack
from random import Random
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases import all_cases
from known_truth import table_for
from roundwright import packed
from roundwright.find import judgement, lead, ring
from roundwright.pipeline import list_features
from roundwright.read.distinct import one_each
from roundwright.settings import Settings
from strategies import programs


def in_portions(most, run, *asked):
    """What comes out where no more than so many circles, arcs or chains are looked at together."""
    with ExitStack() as stack:
        for module in (judgement, ring, lead):
            stack.enter_context(patch.object(module, "_TOGETHER", most))
        stack.enter_context(patch.object(packed, "_FEW", 0))
        return run(*asked)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 5000), st.integers(1, 3))
def test_drawn_programs_hold_the_same_features_in_portions(seed, most):
    drawn = programs(Random(seed), items=10)
    asked = drawn.data, "drawn.nc", table_for(drawn.tools), Settings()
    whole, parted = list_features(*asked), in_portions(most, list_features, *asked)
    assert len(whole.plan.corrections) > 5
    assert parted.plan.corrections == whole.plan.corrections


@pytest.mark.parametrize("case", all_cases(), ids=lambda case: case.name)
def test_whole_programs_come_out_the_same_in_portions(case):
    parted, whole = in_portions(1, case.correct), case.outcome
    assert parted.output == whole.output
    assert parted.plan.corrections == whole.plan.corrections


@given(st.lists(st.tuples(st.integers(0, 3), st.floats(0, 1))))
def test_equal_values_become_one_object(values):
    ones = list(one_each(values))
    assert ones == values
    assert len({id(one) for one in ones}) == len(set(values))

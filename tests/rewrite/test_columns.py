"""The columns write what the plain engine writes block by block, and numbers as it spells them."""

from __future__ import annotations

import random
from unittest import mock

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases import all_cases
from known_truth import table_for
from roundwright.pipeline import Outcome, correct
from roundwright.rewrite import rewrite_program, write
from roundwright.rewrite.number import Habit, spell, style_of
from roundwright.rewrite.round import decimals_of
from roundwright.rewrite.run import Runs
from roundwright.rewrite.spelling import Numbers, decimals_of_all, spell_all
from roundwright.settings import Settings
from strategies import programs


def block_by_block(outcome: Outcome) -> bytes:
    """The bytes that the plain engine writes alone."""
    runs_of = write.runs_of

    def unsteady(*of: object) -> Runs:
        runs = runs_of(*of)
        none = np.zeros(len(runs.steady), np.bool_)
        return Runs(runs.row, runs.was_start, runs.was_end, runs.start, runs.end, runs.begins, none)

    with mock.patch.object(write, "runs_of", unsteady):
        return rewrite_program(outcome.moves, outcome.plan)


@pytest.mark.parametrize("seed", range(12))
def test_drawn_programs(seed: int) -> None:
    drawn = programs(random.Random(seed))
    table = table_for(drawn.tools, machine=drawn.machine)
    outcome = correct(drawn.data, "drawn", table, Settings(material="birch ply"))
    assert any(one.status == "corrected" for one in outcome.plan.corrections)
    assert outcome.output == block_by_block(outcome)


@pytest.mark.parametrize("case", all_cases(), ids=lambda case: case.name)
def test_cases(case) -> None:
    assert case.outcome.output == block_by_block(case.outcome)


OLD = st.from_regex(r"[+-]?([0-9]{1,4}\.[0-9]{0,8}|\.[0-9]{1,8}|0\.0?|[0-9]{1,5})", fullmatch=True)


@given(
    st.lists(
        st.tuples(
            OLD, st.integers(-(9 * 10**18), 9 * 10**18) | st.integers(-(10**9), 10**9), st.integers(0, 8)
        )
    ),
    st.booleans(),
    st.booleans(),
)
def test_numbers_are_spelled_as_one_by_one(drawn, trims: bool, bare: bool) -> None:
    habit = Habit(trims=trims, bare=bare, least=3, blanks=True)
    olds = [old.encode() for old, _, _ in drawn]
    natives = np.array([native for _, native, _ in drawn], np.int64)
    needed = decimals_of_all(natives)
    assert needed.tolist() == [decimals_of(native) for native in natives.tolist()]
    decimals = np.maximum(needed, np.array([more for _, _, more in drawn], np.int64))
    styles = [style_of(old, habit) for old in olds]
    stop = np.cumsum([len(old) for old in olds], dtype=np.int64)
    start = stop - np.array([len(old) for old in olds], np.int64)
    kept = np.array([style.keep for style in styles], np.int64)
    texts, plainly = spell_all(b"".join(olds), start, stop, Numbers(natives, decimals, needed, kept), habit)
    assert plainly.all()
    pairs = zip(natives.tolist(), decimals.tolist(), styles, strict=True)
    assert texts == [spell(native, most, style) for native, most, style in pairs]


def test_a_number_with_blanks_inside_is_left_to_the_plain_engine() -> None:
    one = np.array([1]), np.array([8]), np.array([8]), np.array([0])
    start, stop = np.array([0, 3])[:1], np.array([3])
    _, plainly = spell_all(b"5 7", start, stop, Numbers(*one), Habit(False, False, 3, True))
    assert plainly.tolist() == [False]

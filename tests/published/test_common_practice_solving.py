"""Common practice, no source: what a shop does by hand when its holes come out small, from the table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from roundwright.calibration import Solution, curve_of, measured_table, open_table, solve
from table_texts import table_of

pytestmark = pytest.mark.published

PAIRS = [(3.7, 3.65), (0.38, 0.375)]
INCH = 25.4


def curves():
    table = open_table(table_of(PAIRS, inch=True, tool=0.25))
    first_day = measured_table(PAIRS, True)
    return [(curve_of(t.conditions[0], t), t) for t in (table, first_day)]


@pytest.mark.parametrize(("drawn", "by_hand"), [(3.7, 0.05), (0.38, 0.005)])
def test_a_hole_gets_about_what_it_came_out_small_by(drawn, by_hand):
    """One table: 3.7 in measured 3.65 gets about 0.05 in, 0.38 in measured 0.375 about 0.005 in."""
    for curve, table in curves():
        answer = solve(curve, drawn * INCH, table.limits.reach)
        assert isinstance(answer, Solution)
        change = (answer.programmed - drawn * INCH) / INCH
        assert change == pytest.approx(by_hand, abs=0.0001)
        assert abs(answer.programmed - drawn * INCH) < table.limits.correction
        assert answer.programmed + curve.error(answer.programmed) == pytest.approx(drawn * INCH, rel=1e-12)


def test_the_exact_figures_by_hand():
    """The large hole lies past the last reading, where its error holds: exactly 0.05 in.

    The small one lies on the line between: x = T + 0.005 + s(x − 0.38), s = 0.045/3.32,
    so x − T = 0.005/(1 − s).
    """
    for curve, _ in curves():
        large, small = (solve(curve, drawn * INCH, 0.1) for drawn in (3.7, 0.38))
        assert isinstance(large, Solution) and isinstance(small, Solution)
        assert large.programmed / INCH - 3.7 == pytest.approx(0.05, abs=1e-12)
        slope = 0.045 / 3.32
        assert small.programmed / INCH - 0.38 == pytest.approx(0.005 / (1 - slope), abs=1e-12)
        assert (large.basis, small.basis) == ("beyond 3.7, held", "between 0.38 and 3.7")


@given(st.floats(5.0, 100.0), st.floats(0.01, 1.0))
def test_one_reading_shifts_by_its_error(programmed, small_by):
    """One hole measured: the next of that size is programmed larger by what the first came out small by."""
    table = measured_table([(programmed, programmed - small_by)], False)
    answer = solve(curve_of(table.conditions[0], table), programmed, 0.1)
    assert isinstance(answer, Solution)
    assert answer.programmed - programmed == pytest.approx(small_by, abs=1e-12 * programmed)

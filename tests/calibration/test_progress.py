"""How a condition improves, day by day; and which readings are questioned."""

from datetime import date

import pytest

from roundwright.calibration import Addition, Reading, open_table, with_readings
from roundwright.calibration.progress import progress
from roundwright.calibration.question import outliers, question
from table_texts import GOOD, table_of

START = GOOD[: GOOD.index("[[condition]]")]


def table(*days):
    """A table whose readings (programmed, measured) were taken on the first, second, … of October."""
    additions = [
        Addition(1, "mdf", "hole", "climb", Reading(p, diameter=m, date=date(2026, 10, day)))
        for day, readings in enumerate(days, 1)
        for p, m in readings
    ]
    return open_table(with_readings(START, additions))


def test_the_error_left_over_is_against_what_earlier_days_let_expect():
    """By hand: 20 and 40 came out 0.10 and 0.20 small; at 20.1 and 40.2 the table then says so much again."""
    found = table([(20.0, 19.9), (40.0, 39.8)], [(20.1, 19.98), (40.2, 40.03)], [(20.115, 20.01)])
    rows = progress(found.conditions[0], found)
    assert [row.day.day for row in rows] == [1, 2, 3] and [row.readings for row in rows] == [2, 2, 1]
    assert rows[0].before == pytest.approx(0.15) and rows[0].after is None
    first = 19.98 - 20.1 + 0.1005
    second = 40.03 - 40.2 + 0.2
    assert rows[1].before == pytest.approx((0.12 + 0.17) / 2)
    assert rows[1].after == pytest.approx((abs(first) + abs(second)) / 2)
    assert rows[2].after < 0.02 < rows[2].before


def test_readings_out_of_reach_are_not_judged():
    found = table([(20.0, 19.9)], [(60.0, 59.7)])
    assert progress(found.conditions[0], found)[1].after is None


def test_undated_readings_are_left_out():
    found = open_table(GOOD)
    assert progress(found.conditions[0], found) == ()


REPEATS = [(10.0, 9.90), (10.0, 9.91), (10.0, 9.89), (20.0, 19.85), (20.0, 19.86), (40.0, 39.80)]


def asked(programmed, measured, pairs=REPEATS, limit=0.005, **where):
    opened = open_table(table_of(pairs, limit=limit))
    what = {"tool": 1, "material": "birch ply", "side": "hole", "cut": "climb"} | where
    return question(Addition(**what, reading=Reading(programmed, diameter=measured)), opened)


def test_a_reading_further_off_than_u_is_questioned():
    assert asked(20.0, 19.87) == ""
    assert "it measures 19.95 mm, where the other readings of T1" in asked(20.0, 19.95)
    assert "let expect 19.855 mm +/-" in asked(20.0, 19.95)


def test_a_reading_further_off_than_the_largest_correction_is_questioned_even_first():
    assert "more than the table's limit of 2" in asked(20.0, 17.0, material="oak")


def test_nothing_is_questioned_where_nothing_can_be_expected():
    assert asked(20.0, 19.5, material="oak") == ""
    assert asked(20.0, 17.99, material="oak")


@pytest.mark.parametrize(
    ("where", "near", "slip"),
    [
        ({"pairs": [(20.0, 19.9)]}, (20.0, 19.71), (20.0, 19.69)),  # no repeats
        ({"limit": None}, (20.0, 19.66), (20.0, 19.65)),  # no instrument
        ({}, (80.0, 79.21), (80.0, 79.19)),  # out of reach of 40, which is 0.2 too small: 0.6 more is allowed
    ],
)
def test_where_u_cannot_be_told_a_slip_of_the_pen_is_questioned(where, near, slip):
    """Common practice, no source: 0.2 mm, and 1 % of the way to the nearest diameter that was measured."""
    assert asked(*near, **where) == ""
    assert "let expect" in asked(*slip, **where)


def test_the_same_reading_twice_is_questioned():
    assert "already" in asked(40.0, 39.80)


def test_sound_readings_hold_no_outlier_and_a_slip_is_one():
    opened = open_table(table_of(REPEATS, limit=0.005))
    assert outliers(opened.conditions[0], opened) == ()
    many = REPEATS * 2 + [(20.0, 20.15)]
    opened = open_table(table_of(many, limit=0.005))
    ((reading, why),) = outliers(opened.conditions[0], opened)
    assert reading.diameter == 20.15 and "20.15" in why

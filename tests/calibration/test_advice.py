"""What `table check` says beyond right and wrong: the doubts that readings raise."""

import datetime

import pytest

from roundwright.calibration import open_table
from roundwright.calibration.advice import doubts
from table_texts import GOOD, table_of

TODAY = datetime.date(2026, 11, 1)
SOUND = [(10.0, 9.80), (10.0, 9.81), (10.0, 9.80), (10.0, 9.82), (20.0, 19.7), (40.0, 39.6)]


def said(text, today=TODAY):
    return [(p.level, p.what) for p in doubts(open_table(text), today)]


def test_sound_readings_raise_none():
    assert said(table_of(SOUND, limit=0.01)) == []


@pytest.mark.parametrize(
    ("pairs", "limit", "level", "word"),
    [
        (SOUND[3:], 0.01, "doubtful", "no diameter was cut and measured twice"),
        (SOUND[2:], 0.01, "doubtful", "(1 repeat)"),
        ([*SOUND, (101.0, 100.5)], 0.01, "doubtful", "from 40 to 101 is a wide gap"),
        (SOUND, None, "doubtful", "name no instrument"),
        (SOUND[:4], 0.01, "doubtful", "only one diameter"),
        (SOUND, 0.2, "doubtful", "the correction at 10 is less than its own uncertainty"),
        ([*SOUND, (40.5, 39.5)], 0.01, "wrong", "between 40 and 40.5"),
    ],
)
def test_each_doubt_is_named(pairs, limit, level, word):
    found = said(table_of(pairs, limit=limit))
    assert any(
        kind == level and word in what and "T1 / birch ply / hole / climb" in what for kind, what in found
    )


def test_a_gap_of_two_and_a_half_is_none():
    assert not any("gap" in what for _, what in said(table_of([*SOUND, (100.0, 99.5)], limit=0.01)))


def test_age_is_counted_from_today():
    text = GOOD.replace("y = 9.93", "y = 9.93, date = 2026-10-03")
    year, more = TODAY.replace(month=10, day=3), "older than a year (the oldest of 2026-10-03)"
    assert not any("year" in what for _, what in said(text, year.replace(year=2027)))
    assert any(f"1 reading {more}" in what for _, what in said(text, datetime.date(2027, 10, 4)))
    assert any("yet to come" in what for _, what in said(text, datetime.date(2026, 10, 2)))


def test_undated_readings_of_a_tool_with_a_date_are_named():
    found = said(GOOD.replace("diameter = 6.0", "diameter = 6.0\nfitted = 2026-09-28"))
    assert any("1 reading without a date" in what for _, what in found)


def test_a_tool_of_no_one_diameter_is_named():
    found = said(GOOD.replace("diameter = 6.0", 'diameter = 6.0\nform = "vee"'))
    assert any("vee" in what for _, what in found)


def test_mixed_directions_are_named():
    text = GOOD.replace("y = 9.93 },", "y = 9.93 },\n  { programmed = 20.0, x = 19.9 },")
    assert any("along one direction" in what for _, what in said(text))


def test_an_empty_table_is_told_what_it_lacks_and_the_line_of_a_condition_is_its_own():
    bare = GOOD[: GOOD.index("[[tool]]")]
    assert [p.key for p in doubts(open_table(bare), TODAY)] == ["tool", "condition"]
    assert {p.line for p in doubts(open_table(GOOD), TODAY)} == {12}

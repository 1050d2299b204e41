"""What `table check` says beyond right and wrong: the doubts that readings raise."""

import datetime

import pytest

from roundwright.calibration import open_table
from roundwright.calibration.advice import doubts, residual_notes
from table_texts import GOOD, table_of

TODAY = datetime.date(2026, 11, 1)
SOUND = [(10.0, 9.80), (10.0, 9.81), (10.0, 9.80), (10.0, 9.82), (20.0, 19.75), (40.0, 39.7)]


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


def test_an_error_that_grows_with_the_diameter_smells_of_an_axis():
    steep = [(10.0, 9.92), (10.0, 9.92), (10.0, 9.93), (10.0, 9.92), (20.0, 19.84), (40.0, 39.68)]
    assert any("-0.8 % of the diameter" in what for _, what in said(table_of(steep, limit=0.01)))
    assert not any("of the diameter:" in what for _, what in said(table_of(SOUND, limit=0.01)))


def test_a_reading_that_the_others_do_not_let_expect_is_named_with_its_line():
    pairs = [(d, d - 0.1 + s) for d in (10.0, 20.0, 40.0) for s in (0.0, 0.004, -0.004)]
    text = table_of([*pairs, (20.0, 20.15)], limit=0.005)
    found = [p for p in doubts(open_table(text), TODAY) if "it measures" in p.what]
    row = next(n for n, line in enumerate(text.splitlines(), 1) if "20.15" in line)
    assert [(p.line, p.level) for p in found] == [(row, "doubtful")]
    assert "19.9 mm +/-" in found[0].what


def test_leave_one_out_residuals_are_noted():
    """By hand: 20 lies a third of the way from 10 to 40, so the others say -0.1 - 0.02/3."""
    notes = residual_notes(open_table(table_of([(10.0, 9.9), (20.0, 19.88), (40.0, 39.88)])))
    assert [p.level for p in notes] == ["note"]
    assert notes[0].what.endswith("by 20: -0.013")
    assert residual_notes(open_table(table_of([(10.0, 9.9), (20.0, 19.88)]))) == ()

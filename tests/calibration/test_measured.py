"""The first day without a table: pairs that serve as one, and the text to keep them."""

import datetime

import pytest
from msgspec.structs import replace

from roundwright.calibration import curve_of, measured_table, open_table, problems, solve, table_text_for
from roundwright.errors import SettingsError, TableError
from roundwright.settings import Machine
from table_texts import GOOD


@pytest.mark.parametrize("tool", [None, 1, 7, "spiral"])
@pytest.mark.parametrize("material", [None, "oak"])
@pytest.mark.parametrize("cut", ["climb", "conventional", "both", "unknown"])
def test_it_serves_every_tool_material_and_cut_of_its_side(tool, material, cut):
    table = measured_table([(20.0, 19.91)], False)
    assert table.condition(tool, material, "hole", cut) is table.conditions[0]
    assert table.condition(tool, material, "boss", cut) is None
    assert table.condition(tool, material, "unknown", cut) is None
    boss = measured_table([(20.0, 20.1)], False, side="boss")
    assert boss.condition(tool, material, "boss", cut) is boss.conditions[0]
    assert boss.condition(tool, material, "hole", cut) is None


def test_inches_are_converted_and_defaults_stay_physical():
    table = measured_table([(3.7, 3.65), (0.38, 0.375)], True, Machine(clockwise=False))
    assert [n.diameter for n in curve_of(table.conditions[0], table).nodes] == pytest.approx([9.652, 93.98])
    assert table.inch and table.limits.correction == 2.0 and not table.machine.clockwise


def test_a_base_table_lends_its_machine_tools_and_limits():
    base = open_table(GOOD.replace('"mm"', '"mm"\nspindle_axis = "Y"') + "[limits]\ncorrection = 0.5\n")
    table = measured_table([(20.0, 19.91)], False, base=base)
    assert table.machine.spindle_axis == "Y" and table.limits.correction == 0.5 and table.tools == base.tools
    assert table.condition(1, "birch ply", "hole", "climb") is table.conditions[0]
    assert replace(table, conditions=(), instruments=()) == replace(base, conditions=(), instruments=())


def test_there_is_never_an_uncertainty_even_with_repeats():
    table = measured_table([(20.0, 19.91), (20.0, 19.89)], False)
    answer = solve(curve_of(table.conditions[0], table), 20.0, 0.1)
    assert answer.uncertainty is None and "instrument" in answer.why_no_uncertainty


@pytest.mark.parametrize(
    ("pairs", "word"),
    [
        ([], "no measured circle"),
        ([(0.0, 1.0)], "no two diameters"),
        ([(20.0, -19.0)], "no two diameters"),
        ([(float("nan"), 1.0)], "no two diameters"),
        ([(20.0, float("inf"))], "no two diameters"),
        ([(25.4, 1.0)], "inch and mm"),
        ([(1.0, 25.2)], "inch and mm"),
        ([(20.0, 5.0)], "50 %"),
    ],
)
def test_pairs_without_sense_are_refused(pairs, word):
    with pytest.raises(SettingsError, match=word):
        measured_table(pairs, False)
    with pytest.raises(SettingsError, match=word):
        table_text_for(pairs, False)


@pytest.mark.parametrize("inch", [False, True])
def test_the_text_to_keep_is_a_table_with_the_same_readings(inch):
    pairs = [(3.7, 3.65), (0.38, 0.375)]
    text = table_text_for(
        pairs, inch, tool_diameter=0.25, tool=3, material='a "fine" ply\\', day=datetime.date(2026, 10, 3)
    )
    assert [p.level for p in problems(text)].count("wrong") == 0
    table = open_table(text)
    condition = table.condition(3, 'a "fine" ply\\', "hole", "climb")
    assert condition is not None and table.inch is inch
    same = measured_table(pairs, inch)
    for target in (10.0, 50.0):
        one, other = (solve(curve_of(t.conditions[0], t), target, 0.1) for t in (table, same))
        assert getattr(one, "programmed", None) == getattr(other, "programmed", None)


def test_what_is_not_known_must_be_typed():
    with pytest.raises(TableError, match="diameter: 0 must be more than 0"):
        open_table(table_text_for([(20.0, 19.9)], False, material="oak"))
    with pytest.raises(TableError, match="material: is empty"):
        open_table(table_text_for([(20.0, 19.9)], False, tool_diameter=6.0))

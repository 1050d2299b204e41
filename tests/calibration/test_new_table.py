"""A new table opens as it stands, and also with all of its examples taken for real."""

import re

import pytest

from roundwright.calibration import curve_of, new_table_text, open_table, problems, solve
from roundwright.calibration.solve import Solution

#: every key of the contract's table.
KEYS = [
    "schema",
    "name",
    "units",
    "spindle",
    "spindle_axis",
    "compensation",
    "decimals",
    "material",
    "tool",
    "side",
    "cut",
    "correction",
    "reach",
    "chord_sagitta",
    "deadband",
    "number",
    "diameter",
    "measured",
    "flutes",
    "form",
    "fitted",
    "limit",
    "jaw_width",
    "feed",
    "speed",
    "method",
    "instrument",
    "readings",
    "programmed",
    "x",
    "y",
    "d45",
    "d135",
    "date",
    "note",
]


def examples_taken(text):
    return re.sub(r"(?m)^#(?! )|^#(?=  )", "", text)


@pytest.mark.parametrize("inch", [False, True])
def test_it_opens_as_it_stands_and_corrects_nothing(inch):
    text = new_table_text("shop-router", inch)
    assert problems(text) == ()
    table = open_table(text)
    assert (table.name, table.inch, table.tools, table.conditions) == ("shop-router", inch, (), ())


@pytest.mark.parametrize("inch", [False, True])
def test_its_examples_are_a_table_too(inch):
    text = examples_taken(new_table_text("shop-router", inch))
    assert problems(text) == ()
    table = open_table(text)
    condition = table.condition(1, "birch ply", "hole", "climb")
    assert condition is not None
    answer = solve(curve_of(condition, table), 20.0, table.limits.reach)
    assert isinstance(answer, Solution) and answer.uncertainty is not None
    assert 0.05 < answer.programmed - 20.0 < 0.2


@pytest.mark.parametrize("inch", [False, True])
def test_the_defaults_that_it_states_are_the_ones_that_hold(inch):
    silent, spoken = (
        open_table(t) for t in (new_table_text("m", inch), examples_taken(new_table_text("m", inch)))
    )
    assert spoken.limits.reach == silent.limits.reach and spoken.limits.deadband == silent.limits.deadband
    assert spoken.limits.correction == pytest.approx(silent.limits.correction, rel=1e-3)
    assert spoken.machine.chord_sagitta == pytest.approx(silent.machine.chord_sagitta, rel=0.01)
    for of in ("clockwise", "spindle_axis", "contour"):
        assert getattr(spoken.machine, of) == getattr(silent.machine, of)


def test_every_key_of_the_contract_stands_in_it_with_a_comment():
    text = new_table_text("m", False)
    for key in KEYS:
        assert re.search(rf"(?m)\b{key} = ", text), key
    for line in text.splitlines():
        assert len(line) <= 110
    assert len(re.findall(r"(?m)^# [A-Z\"`]", text)) > 25


def test_a_name_with_quotes_is_kept():
    assert open_table(new_table_text('the "big" one\\', False)).name == 'the "big" one\\'
    assert open_table(new_table_text("a\nb", False)).name == "a b"
    assert open_table(new_table_text("  ", False)).name == "my-machine"

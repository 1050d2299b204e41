"""Programs that do not say their units, against tables in either: never off by 25.4 in silence."""

import pytest

from roundwright.calibration import open_table
from roundwright.errors import ProgramError
from roundwright.pipeline import correct, list_features
from roundwright.settings import Settings

INCH = "G0 X2. Y2. Z.2\nG1 Z{0}\nG1 X2.065 F20\nG3 I-.065\nG1 X2.\nG0 Z.2\nM30\n"
MILLIMETRES = "G0 X50 Y40 Z5\nG1 Z-3\nG1 X57 F800\nG3 I-7\nG1 X50\nG0 Z5\nM30\n"
HEAD = "G90 G17\nT1 M6\nM3\n"
TABLE = """schema = "roundwright.table/1"
[machine]
name = "m"
units = "mm"
[[tool]]
number = 1
diameter = 6.0
[[condition]]
tool = 1
material = "ply"
side = "hole"
cut = "any"
readings = [ { programmed = 5.0, diameter = 4.7 }, { programmed = 50.0, diameter = 49.7 } ]
"""


def run(body, make=correct, head=HEAD, text=TABLE):
    table = open_table(text, "t.toml") if text else None
    return make(f"{head}{body}".encode(), "p.nc", table, Settings(material="ply"))


@pytest.mark.parametrize("make", [correct, list_features])
@pytest.mark.parametrize("depth", ["-.25", "-.75", "-1.5"])
def test_heights_that_only_inches_explain_are_refused_against_a_table_in_millimetres(make, depth):
    """A hole of 0.38 in with a cutter of 1/4 in: read as mm its path would grow to more than three times."""
    with pytest.raises(ProgramError, match="look like inches") as refusal:
        run(INCH.format(depth), make)
    assert "G20" in refusal.value.cure


@pytest.mark.parametrize("word", ["G20", "G21", "G70", "G71"])
def test_a_word_for_the_units_settles_it(word):
    assert run(INCH.format("-.25"), head=f"{word}\n{HEAD}").plan.corrections


def test_heights_as_a_tool_in_millimetres_needs_them_are_taken_for_such_and_it_is_said():
    outcome = run(MILLIMETRES)
    assert [c.status for c in outcome.plan.corrections] == ["corrected"]
    assert any("millimetres are assumed" in words for words in outcome.warnings)


def test_a_large_engraving_is_not_in_inches():
    wide = MILLIMETRES.replace("Z5", "Z2").replace("Z-3", "Z-1").replace("X50", "X450").replace("X57", "X457")
    assert [c.status for c in run(wide).plan.corrections] == ["corrected"]


def test_without_a_table_there_is_nothing_to_mistake():
    assert run(INCH.format("-.25"), list_features, text="").plan.corrections


def test_what_is_not_said_is_refused_against_a_table_in_inches():
    text = 'schema = "roundwright.table/1"\n[machine]\nname = "m"\nunits = "in"\n'
    with pytest.raises(ProgramError, match="the table is in inches"):
        run(MILLIMETRES, text=text)

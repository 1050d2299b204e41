"""Which cutter cuts: the caller, the program, the table; and a comment that disagrees is a doubt."""

import pytest

from roundwright.calibration import open_table
from roundwright.errors import SettingsError
from roundwright.pipeline import correct, list_features
from roundwright.settings import Settings

TABLE = open_table(
    """schema = "roundwright.table/1"
[machine]
name = "bench"
units = "mm"
[defaults]
material = "birch ply"
tool = "six"
[[tool]]
number = 1
name = "six"
diameter = 6.0
[[tool]]
number = 2
name = "eighth"
diameter = 3.175
[[tool]]
number = 3
name = "engraver"
diameter = 6.0
form = "vee"
[[condition]]
tool = 1
material = "birch ply"
side = "hole"
cut = "any"
readings = [ { programmed = 5.0, diameter = 4.9 }, { programmed = 50.0, diameter = 49.9 } ]
"""
)
RING = "G0 X2.500 Y0\nG1 Z-3 F200\nG3 I-2.500 F600\nG0 Z5\n"


def listed(text, **settings):
    return list_features(text.encode(), "tools.nc", TABLE, Settings(**settings)).plan.corrections


def program(*, head="", tool="M6 T1\n", body=RING):
    return f"{head}G21 G90 G17\n{tool}M3 S9000\nG0 Z5\n{body}"


@pytest.mark.parametrize(
    ("tool", "name"), [("M6 T1\n", "six"), ("M6 T2\n", "eighth"), ("", "six"), ("T2\n", "eighth")]
)
def test_the_program_or_the_default_names_the_tool(tool, name):
    assert [c.feature.cutter.name for c in listed(program(tool=tool))] == [name]


def test_the_caller_names_the_tool():
    for key in (1, "@1", None):
        assert listed(program(), tools={key: "eighth"})[0].feature.cutter.name == "eighth"
    with pytest.raises(SettingsError, match="no tool 9"):
        listed(program(), tools={1: "9"})


def test_a_diameter_that_is_said_wins():
    for key in ("1", "six", "T1"):
        assert listed(program(), diameters={key: 5.0})[0].feature.diameter == 10.0


def test_a_tool_that_nobody_knows():
    (found,) = listed(program(tool="M6 T7\n"))
    assert (found.reason, found.feature.diameter) == ("tool-unknown", None)
    assert "--diameter 7=DIAMETER" in found.why


def test_the_default_serves_the_first_section_only():
    second = "M5\nM0\nM3\nG0 X40 Y0 Z5\n" + RING.replace("X2.500", "X42.500")
    corrections = listed(program(tool="") + second)
    assert [c.reason for c in corrections] == [None, "tool-unknown"]
    assert "--tool @2=TOOL" in corrections[1].why
    assert [c.reason for c in listed(program(tool="") + second, tools={"@2": "six"})] == [None, None]


def test_a_stop_without_spindle_words_is_a_doubt_that_can_be_settled():
    text = "G21 G90\nG0 Z5\n" + RING + "M0\nG0 X40 Y0 Z5\n" + RING.replace("X2.500", "X42.500")
    assert [c.reason for c in listed(text)] == [None, "tool-doubtful"]
    settled = Settings(tools={"@1": "six", "@2": "six"})
    outcome = correct(text.encode(), "stop.nc", TABLE, settled)
    assert [c.status for c in outcome.plan.corrections] == ["corrected"] * 2


@pytest.mark.parametrize(
    "comment",
    [
        "(T1 D=3.175 CR=0. flat)",
        "(T01 flat, DIA. = .125)",
        "; tool diameter: 3.175",
        "(cutter dia 3.2)",
        "(END_MILL_LONG DIA. 3.175)",
    ],
)
def test_a_comment_that_states_another_diameter_is_a_doubt(comment):
    (found,) = listed(program(head=comment + "\n"))
    assert found.reason == "tool-doubtful"
    assert "line 1" in found.why and "--diameter 1=DIAMETER" in found.why
    assert listed(program(head=comment + "\n"), diameters={"1": 6.0})[0].reason is None


@pytest.mark.parametrize(
    "comment",
    [
        "(T1 D=6. CR=0.)",
        "(T1 D=0.2362 flat)",
        "(T2 D=3.175)",
        "(hole dia 60)",
        "(Dia=10)",
        "(tool change)",
        "(T1 6 mm flat)",
    ],
)
def test_a_comment_that_agrees_or_speaks_of_something_else_is_none(comment):
    assert listed(program(head=comment + "\n"))[0].reason is None


def test_a_tool_that_is_no_cylinder():
    assert listed(program(tool="M6 T3\n"))[0].reason == "tool-shape"

"""Opening a table: what it says arrives in millimetres; everything wrong is named by file, line and key."""

import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.calibration import open_table, problems
from roundwright.errors import TableError
from table_texts import CALIPER, CONDITION, GOOD, HEAD, MACHINE, READINGS, TOOL

FULL = """\
schema = "roundwright.table/1"

[machine]
name = "shop-router"
units = "in"   # everything below
spindle = "counter-clockwise"
spindle_axis = "Y"
compensation = "wear"
decimals = 4

[defaults]
material = "birch ply"
tool = "spiral"
side = "boss"
cut = "conventional"

[limits]
correction = 0.05
reach = 0.2
chord_sagitta = 0.01
deadband = 0.001

[[tool]]
number = 3
name = "spiral"
diameter = 0.25
measured = 0.249
flutes = 2
form = "ball"
fitted = 2026-09-28

[[instrument]]
name = "caliper"
limit = 0.001
jaw_width = 0.012

[[condition]]
tool = "Spiral"
material = "birch ply"
side = "hole"
cut = "any"
feed = 70
speed = 16000
method = "trend"
instrument = "caliper"
readings = [
  { programmed = 1.0, x = 0.99, y = 0.98, d45 = 0.985, d135 = 0.986, date = 2026-10-03, note = "a" },
  { programmed = 2.0, diameter = 1.97 },
]
"""


def test_every_key_arrives_in_millimetres():
    table = open_table(FULL, "router.toml")
    assert (table.name, table.file, table.inch) == ("shop-router", "router.toml", True)
    machine = table.machine
    assert (machine.spindle_axis, machine.clockwise, machine.contour, machine.decimals) == (
        "Y",
        False,
        False,
        4,
    )
    assert machine.chord_sagitta == pytest.approx(0.254)
    defaults = table.defaults
    assert (defaults.material, defaults.tool, defaults.side, defaults.cut) == (
        "birch ply",
        3,
        "boss",
        "conventional",
    )
    limits = table.limits
    assert (limits.correction, limits.reach, limits.deadband) == pytest.approx((1.27, 0.2, 0.0254))
    (tool,) = table.tools
    assert (tool.number, tool.name, tool.flutes, tool.form) == (3, "spiral", 2, "ball")
    assert (tool.diameter, tool.measured) == pytest.approx((6.35, 6.3246))
    assert tool.fitted == datetime.date(2026, 9, 28)
    (condition,) = table.conditions
    assert condition.label == "T3 / birch ply / hole / any"
    assert (condition.feed, condition.speed, condition.method) == (pytest.approx(1778), 16000, "trend")
    first, second = condition.readings
    assert (first.programmed, first.x, first.y, first.d45, first.d135) == pytest.approx(
        (25.4, 25.146, 24.892, 25.019, 25.0444)
    )
    assert (first.date, first.note, first.instrument, first.line) == (
        datetime.date(2026, 10, 3), "a", "caliper", FULL[: FULL.index("{ programmed")].count("\n") + 1,
    )  # fmt: skip
    assert second.diameter == pytest.approx(50.038) and second.x is None


def test_defaults_are_physical_lengths_in_an_inch_table_too():
    table = open_table(GOOD.replace('units = "mm"', 'units = "in"').replace("x = 9.91", "x = 9.99"))
    assert table.limits.correction == 2.0
    assert table.machine.chord_sagitta == 0.1


@pytest.mark.parametrize("start", ["\ufeff", ""])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_byte_order_mark_and_line_ends_make_no_difference(start, end):
    plain = open_table(GOOD)
    assert open_table(start + GOOD.replace("\n", end)) == plain
    broken = GOOD.replace("x = 9.91", "x = -9.91").replace("\n", end)
    assert [p.line for p in problems(broken)] == [18]


#: (what is changed, into what, line, key, a word of the message); lines count in the text after the change.
WRONG = [
    (HEAD, "", 1, "schema", "missing"),
    ("table/1", "table/9", 1, "schema", "no table that can be read"),
    (HEAD, "schema = 1\n", 1, "schema", "no table that can be read"),
    (MACHINE, "", 1, "machine", "missing"),
    (MACHINE, "machine = 3\n", 2, "machine", "table with keys"),
    ('name = "shop-router"\n', "", 2, "machine.name", "missing"),
    ('"shop-router"', '""', 3, "machine.name", "empty"),
    ('"shop-router"', '"shop\\nrouter"', 3, "machine.name", "line end"),
    ('"shop-router"', "7", 3, "machine.name", "no text"),
    ('units = "mm"\n', "", 2, "machine.units", "missing"),
    ('"mm"', '"inch"', 4, "machine.units", "not known"),
    ('"mm"', '"mm"\nspindel = "clockwise"', 5, "machine.spindel", 'Did you mean "spindle"'),
    ('"mm"', '"mm"\nspindle = "Clockwise"', 5, "machine.spindle", 'Did you mean "clockwise"'),
    ('"mm"', '"mm"\nspindle_axis = "W"', 5, "machine.spindle_axis", '"X", "Y" or "Z"'),
    ('"mm"', '"mm"\ndecimals = 2.5', 5, "machine.decimals", "whole"),
    ('"mm"', '"mm"\ndecimals = 12', 5, "machine.decimals", "at most 8"),
    (TOOL, TOOL + "[defaults]\ntool = 7\n", 10, "defaults.tool", "no tool 7"),
    (TOOL, TOOL + "[defaults]\ntool = true\n", 10, "defaults.tool", "true is no tool"),
    (TOOL, TOOL + '[defaults]\nside = "unknown"\n', 10, "defaults.side", "not known"),
    (TOOL, TOOL + "[limits]\ncorrection = 0\n", 10, "limits.correction", "more than 0"),
    (TOOL, TOOL + "[limits]\nreach = 10\n", 10, "limits.reach", "at most 1"),
    (TOOL, TOOL + "[limits]\ndeadband = -1.0\n", 10, "limits.deadband", "at least 0"),
    (TOOL, TOOL + "[limits]\ncorrection = nan\n", 10, "limits.correction", "no usable number"),
    ("number = 1", "number = -1", 6, "tool 1, number", "at least 0"),
    ("number = 1", "number = 1.5", 6, "tool 1, number", "whole"),
    ("diameter = 6.0\n", "", 5, "tool 1, diameter", "missing"),
    ("diameter = 6.0", "diameter = 0.0", 8, "tool 1, diameter", "more than 0"),
    ("diameter = 6.0", "diameter = -6", 8, "tool 1, diameter", "more than 0"),
    ("diameter = 6.0", "diameter = inf", 8, "tool 1, diameter", "no usable number"),
    ("diameter = 6.0", 'diameter = "6.0"', 8, "tool 1, diameter", "without quotes"),
    ("diameter = 6.0", "diameter = true", 8, "tool 1, diameter", "true is no number"),
    ("diameter = 6.0", "diameter = [6.0]", 8, "tool 1, diameter", "a list is no number"),
    ("diameter = 6.0", "diameter = 6.0\nmeasured = 0.235", 9, "tool 1, measured", "25.4"),
    ("diameter = 6.0", 'diameter = 6.0\nform = "bal"', 9, "tool 1, form", 'Did you mean "ball"'),
    ("diameter = 6.0", 'diameter = 6.0\nfitted = "2026-09-28"', 9, "tool 1, fitted", "without quotes"),
    ("diameter = 6.0", "diameter = 6.0\nfitted = 2026-09-28T10:00:00", 9, "tool 1, fitted", "no date"),
    ("diameter = 6.0", "diamter = 6.0", 8, "tool 1, diamter", 'Did you mean "diameter"'),
    ("number = 1\nname = \"6 mm upcut\"\n", "", 5, "tool 1, number", "number or a name"),
    (TOOL, TOOL + TOOL.replace("6 mm upcut", "other"), 10, "tool 2, number", "line 5"),
    (TOOL, TOOL + TOOL.replace("number = 1", "number = 2"), 11, "tool 2, name", "line 5"),
    (TOOL, TOOL + '[[tool]]\nname = "T1"\ndiameter = 3\n', 10, "tool 2, name", "another tool's number"),
    ("[[tool]]", "[tool]", 5, "tool", "two brackets"),
    ("limit = 0.03", "limit = 0", 11, "instrument 1, limit", "more than 0"),
    ("limit = 0.03", "", 9, "instrument 1, limit", "missing"),
    (CALIPER, CALIPER + CALIPER, 13, "instrument 2, name", "line 9"),
    ("tool = 1\n", "tool = 2\n", 13, "condition 1, tool", "no tool 2"),
    ("tool = 1\n", "", 12, "condition 1, tool", "missing"),
    ("tool = 1\n", 'tool = "6 mm upct"\n', 13, "condition 1, tool", 'Did you mean "6 mm upcut"'),
    ('material = "birch ply"', "", 12, "condition 1, material", "missing"),
    ('side = "hole"', 'side = "inside"', 15, "condition 1, side", '"hole", "boss" or "groove"'),
    ('cut = "climb"', 'cut = "both"', 16, "condition 1, cut", "not known"),
    ('cut = "climb"\n', "", 12, "condition 1, cut", "missing"),
    ('side = "hole"', 'side = "groove"', 16, "condition 1, cut", "any"),
    ('cut = "climb"', 'cut = "climb"\ninstrument = "calliper"', 17,
     "condition 1, instrument", 'mean "caliper"'),
    ('cut = "climb"', 'cut = "climb"\nmethod = "spline"', 17, "condition 1, method", "not known"),
    ('cut = "climb"', 'cut = "climb"\nfeed = -3', 17, "condition 1, feed", "more than 0"),
    (READINGS, READINGS + CONDITION.replace("birch ply", "Birch  PLY"), 20, "condition 2", "line 12"),
    (READINGS, "readings = 3\n", 17, "condition 1, readings", "list of tables"),
    (READINGS, "readings = [ 3 ]\n", 17, "condition 1, readings 1", "3 stands where"),
    ("programmed = 10.0, ", "", 18, "condition 1, readings 1, programmed", "missing"),
    ("programmed = 10.0", "programed = 10.0", 18, "condition 1, readings 1, programed", 'mean "programmed"'),
    ("x = 9.91, y = 9.93", "d45 = 9.9", 18, "condition 1, readings 1", "along X or Y"),
    (", x = 9.91, y = 9.93", "", 18, "condition 1, readings 1", "nothing is measured"),
    ("y = 9.93", "y = 9.93, diameter = 9.92", 18, "condition 1, readings 1, diameter", "only one of them"),
    ("x = 9.91", "x = 0.39", 18, "condition 1, readings 1, x", "inch and mm"),
    ("y = 9.93", "y = 252.2", 18, "condition 1, readings 1, y", "inch and mm"),
    ("x = 9.91", "x = -9.91", 18, "condition 1, readings 1, x", "more than 0"),
    ("y = 9.93", 'y = 9.93, instrument = "bore gauge"', 18,
     "condition 1, readings 1, instrument", "[[instrument]]"),
    ("y = 9.93", "y = 9.93, note = 3", 18, "condition 1, readings 1, note", "no text"),
    ("y = 9.93", "y = 9.93, date = 12:00:00", 18, "condition 1, readings 1, date", "no date"),
    ("y = 9.93", "y = 9.93, x1 = 3", 18, "condition 1, readings 1, x1", "not known"),
    (READINGS, READINGS + "[machines]\n", 20, "machines", 'Did you mean "machine"'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "key", "word"), WRONG)
def test_wrong_tables_are_refused_with_file_line_and_key(old, new, line, key, word):
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    found = [(p.line, p.key, p.level) for p in problems(text, "router.toml")]
    assert (line, key, "wrong") in found
    assert any(word in str(p) for p in problems(text))
    with pytest.raises(TableError) as caught:
        open_table(text, "router.toml")
    assert str(caught.value).startswith("router.toml:")
    assert caught.value.place.line == min(place for place, _, level in found if level == "wrong")


DOUBTFUL = [
    ("x = 9.91", "x = 4.5", 18, "condition 1, readings 1, x", "55 % off"),
    ("diameter = 6.0", "diameter = 6.0\nmeasured = 5.0", 9, "tool 1, measured", "10 % off"),
    ("programmed = 10.0, x = 9.91, y = 9.93", "programmed = 4.0, x = 3.9", 18,
     "condition 1, readings 1, programmed", "smaller than the tool"),
    (READINGS, "", 12, "condition 1, readings", "none yet"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "key", "word"), DOUBTFUL)
def test_doubtful_figures_are_named_and_the_table_opens(old, new, line, key, word):
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    (found,) = problems(text)
    assert (found.line, found.key, found.level) == (line, key, "doubtful")
    assert word in found.what
    assert open_table(text).name == "shop-router"


def test_a_good_table_has_no_problems():
    assert problems(GOOD) == ()
    assert problems(FULL) == ()


def test_all_that_is_wrong_is_collected_and_counted():
    text = (
        GOOD.replace("diameter = 6.0", "diameter = -6.0")
        .replace("x = 9.91", "x = nan")
        .replace("tool = 1", "tool = 4")
    )
    assert [(p.line, p.key) for p in problems(text)] == [
        (8, "tool 1, diameter"), (13, "condition 1, tool"), (18, "condition 1, readings 1, x")
    ]  # fmt: skip
    with pytest.raises(TableError, match=r"router.toml:8: tool 1, diameter: .* 2 more wrong"):
        open_table(text, "router.toml")


def test_a_figure_within_20_percent_or_5_mm_is_not_doubted():
    assert problems(GOOD.replace("x = 9.91", "x = 5.1")) == ()
    assert problems(GOOD.replace("10.0, x = 9.91, y = 9.93", "100.0, x = 81.0, y = 119")) == ()


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (GOOD.replace('"mm"', '"mm'), 4),
        (GOOD.replace("readings = [", "readings = "), 17),
        (GOOD + "[[[", 20),
        (GOOD.replace("number = 1", "number = 1\nnumber = 2"), 7),
        (GOOD.replace("diameter = 6.0", "diameter = 6,0"), 8),
        ("a = " + "[" * 5000 + "]" * 5000, 1),
        ("a = " + "9" * 6000, 1),
        ("a = 2026-02-30\n", 1),
    ],
)
def test_broken_toml_is_refused_by_line(text, line):
    with pytest.raises(TableError, match="TOML") as caught:
        open_table(text, "router.toml")
    assert caught.value.place.line == line
    (found,) = problems(text, "router.toml")
    assert (found.line, found.level) == (line, "wrong")


def test_lines_are_right_inside_multi_line_arrays_with_comments():
    rows = "readings = [ # the morning's\n\n  # a comment with ] and }\n"
    rows += "  { programmed = 10.0, x = 9.9 }, { programmed = 20.0,\n x = -1 },\n"
    text = GOOD.replace(READINGS, rows + '  { programmed = 30.0, note = "# ] }", x = 0 } ]\n')
    assert [(p.line, p.key) for p in problems(text)] == [
        (21, "condition 1, readings 2, x"), (22, "condition 1, readings 3, x")
    ]  # fmt: skip


def test_readings_as_tables_of_their_own_are_the_same():
    text = GOOD.replace(READINGS, "[[condition.readings]]\nprogrammed = 10.0\nx = 9.91\ny = 9.93\n")
    inline, own = open_table(GOOD).conditions[0], open_table(text).conditions[0]
    assert [(r.programmed, r.x, r.y) for r in own.readings] == [
        (r.programmed, r.x, r.y) for r in inline.readings
    ]
    assert [p.line for p in problems(text.replace("9.91", "inf"))] == [19]


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_whatever_is_broken_nothing_but_a_table_error_comes_out(data):
    text = data.draw(st.sampled_from([GOOD, FULL]))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        gone = data.draw(st.integers(0, 12))
        piece = data.draw(
            st.one_of(
                st.text(max_size=4),
                st.sampled_from(
                    ["nan", "[", "]", "{", "}", '"', "'''", '"""', "\n", "=", ".", ",", "#", "1e999",
                     "[[tool]]\n", "0x1f", "true", "-", "\\", "[a.b]\n", "x.y = 1\n", "2026-10-03"]
                ),
            )
        )  # fmt: skip
        text = text[:at] + piece + text[at + gone :]
    found = problems(text, "t")
    lines = text.count("\n") + 1
    assert all(1 <= p.line <= lines and p.what for p in found)
    if any(p.level == "wrong" for p in found):
        with pytest.raises(TableError):
            open_table(text, "t")
    else:
        assert open_table(text, "t").file == "t"


#: a value of every type that TOML has, and numbers that are none.
TYPES = {
    "text": '"a text"',
    "number": "7.25",
    "switch": "true",
    "day": "2026-10-03",
    "time": "12:00:00",
    "list": "[1, 2]",
    "table": "{ a = 1 }",
    "nan": "nan",
    "infinite": "-inf",
    "huge": "1e300",
}
#: what a key that begins a line of FULL may be; all others must be a number.
TAKES = {
    "text": {"name", "material", "note"},
    "day": {"fitted"},
    "choice": {
        "schema", "units", "spindle", "spindle_axis", "compensation", "side", "cut", "form", "method",
        "instrument", "tool",
    },
    "list": {"readings"},
    "whole": {"decimals", "number", "flutes"},
    "share": {"reach"},
}  # fmt: skip


@pytest.mark.parametrize("kind", TYPES)
def test_a_value_of_another_type_is_refused_on_its_line_under_every_key(kind):
    lines = FULL.splitlines(keepends=True)
    tried = 0
    for at, line in enumerate(lines):
        key = line.split(" = ")[0]
        if " = " not in line or line.startswith((" ", "#")):
            continue
        fits = {take for take, keys in TAKES.items() if key in keys} or {"number"}
        if kind in fits:
            continue
        end = at + 1 if not line.rstrip().endswith("[") else lines.index("]\n", at) + 1
        text = "".join([*lines[:at], f"{key} = {TYPES[kind]}\n", *lines[end:]])
        wrong = [p for p in problems(text, "router.toml") if p.level == "wrong"]
        assert any(p.line == at + 1 and p.key.endswith(key) for p in wrong), (key, wrong)
        tried += 1
    assert tried > 15


@pytest.mark.parametrize("kind", TYPES)
def test_a_value_of_another_type_is_refused_on_its_line_in_a_reading(kind):
    for key, fits in (("programmed", "number"), ("x", "number"), ("date", "day"), ("note", "text")):
        if kind == fits:
            continue
        row = f"  {{ programmed = 1.0, x = 0.99, y = 0.98, {key} = {TYPES[kind]} }},\n"
        row = row.replace(f"{key} = 1.0, ", "").replace(f"{key} = 0.99, ", "")
        start = FULL.index("  { programmed = 1.0")
        text = FULL[:start] + row + FULL[FULL.index("  { programmed = 2.0") :]
        line = FULL[:start].count("\n") + 1
        wrong = [p for p in problems(text) if p.level == "wrong"]
        assert [(p.line, p.key) for p in wrong] == [(line, f"condition 1, readings 1, {key}")], (key, wrong)


def test_every_key_misspelt_gets_its_suggestion():
    for line in FULL.splitlines():
        key = line.split(" = ")[0]
        if " = " not in line or line.startswith((" ", "#")) or len(key) < 4:
            continue
        misspelt = key[:-2] + key[-1] + key[-2] if key[-1] != key[-2] else key[:-1]
        text = FULL.replace(f"\n{key} = ", f"\n{misspelt} = ", 1) if key != "schema" else FULL
        found = [p for p in problems(text) if f'Did you mean "{key}"' in p.cure]
        assert found or key == "schema", key


@pytest.mark.parametrize("factor", [25.4, 1 / 25.4])
@pytest.mark.parametrize("key", ["x", "y", "d45", "d135", "diameter"])
def test_a_reading_in_the_other_unit_is_caught_under_every_key(key, factor):
    for programmed in (4.0, 10.0, 25.0, 120.0):
        if programmed < 6.0 and factor < 1:
            continue
        value = programmed * factor * 0.99
        pair = (
            f"{key} = {value:.4f}" if key in ("x", "diameter") else f"x = {programmed}, {key} = {value:.4f}"
        )
        text = GOOD.replace("programmed = 10.0, x = 9.91, y = 9.93", f"programmed = {programmed}, {pair}")
        wrong = [(p.line, p.key) for p in problems(text) if p.level == "wrong"]
        assert wrong == [(18, f"condition 1, readings 1, {key}")]
        assert any("25.4" in p.what or "inch and mm" in p.what for p in problems(text))

"""A feature gets the one condition of its tool, material, side and cut; nothing from another."""

import pytest

from roundwright.calibration import open_table
from table_texts import CONDITION, GOOD, HEAD, MACHINE, READINGS, TOOL


def table(*conditions, tools=TOOL):
    text = HEAD + MACHINE + tools
    for tool, material, side, cut in conditions:
        text += (
            f'[[condition]]\ntool = {tool}\nmaterial = "{material}"\nside = "{side}"\ncut = "{cut}"\n'
            + READINGS
        )
    return open_table(text)


def label(found):
    return None if found is None else found.label


def test_the_exact_cut_comes_before_any():
    both = table((1, "birch ply", "hole", "any"), (1, "birch ply", "hole", "climb"))
    assert label(both.condition(1, "birch ply", "hole", "climb")) == "T1 / birch ply / hole / climb"
    assert label(both.condition(1, "birch ply", "hole", "conventional")) == "T1 / birch ply / hole / any"
    for cut in ("both", "unknown", "any"):
        assert label(both.condition(1, "birch ply", "hole", cut)) == "T1 / birch ply / hole / any"


@pytest.mark.parametrize(
    "wanted",
    [
        (2, "birch ply", "hole", "climb"),
        (1, "oak", "hole", "climb"),
        (1, "birch ply", "boss", "climb"),
        (1, "birch ply", "groove", "climb"),
        (1, "birch ply", "unknown", "climb"),
        (1, "birch ply", "hole", "conventional"),
        (1, "birch ply", "hole", "both"),
        (1, None, "hole", "climb"),
        (None, "birch ply", "hole", "climb"),
        ("drill", "birch ply", "hole", "climb"),
    ],
)
def test_nothing_is_guessed_from_another(wanted):
    assert table((1, "birch ply", "hole", "climb")).condition(*wanted) is None


@pytest.mark.parametrize("key", [1, "1", "01", "T1", "t1", " 1 ", "6 mm upcut", "6  MM Upcut"])
def test_a_tool_is_found_by_number_name_or_text_of_the_number(key):
    found = table((1, "birch ply", "hole", "climb"))
    assert found.tool(key).number == 1
    assert found.condition(key, "birch ply", "hole", "climb") is not None


@pytest.mark.parametrize("key", [0, 2, "2", "T11", "", "6 mm", "-1", "1.0", "٣"])
def test_no_tool_is_found_by_less(key):
    assert table().tool(key) is None


@pytest.mark.parametrize("material", ["birch ply", "Birch Ply", " BIRCH \t ply "])
def test_case_and_blanks_of_a_material_do_not_count(material):
    assert table((1, "birch ply", "hole", "climb")).condition(1, material, "hole", "climb") is not None


def test_a_groove_is_served_by_any_alone():
    found = table((1, "oak", "groove", "any"))
    for cut in ("both", "climb", "any"):
        assert label(found.condition(1, "oak", "groove", cut)) == "T1 / oak / groove / any"


def test_a_tool_without_number_goes_by_its_name():
    tools = '[[tool]]\nname = "Ø6 upcut"\ndiameter = 6.0\n'
    found = table(('"ø6 UPCUT"', "oak", "hole", "climb"), tools=tools)
    assert label(found.condition("Ø6 upcut", "oak", "hole", "climb")) == "Ø6 upcut / oak / hole / climb"
    assert found.condition(1, "oak", "hole", "climb") is None


def test_readings_older_than_the_bit_or_undated_do_not_count():
    rows = "".join(
        f"  {{ programmed = {10 + n}.0, diameter = 9.9{day} }},\n"
        for n, day in enumerate((", date = 2026-09-27", ", date = 2026-09-28", "", ", date = 2026-09-29"))
    )
    text = GOOD.replace(READINGS, f"readings = [\n{rows}]\n")
    fitted = open_table(text.replace("diameter = 6.0", "diameter = 6.0\nfitted = 2026-09-28"))
    assert [r.programmed for r in fitted.conditions[0].used] == [11.0, 13.0]
    assert len(fitted.conditions[0].readings) == 4
    assert len(open_table(text).conditions[0].used) == 4


def test_jaw_width_corrects_readings_of_holes_only():
    caliper = '[[instrument]]\nname = "caliper"\nlimit = 0.03\njaw_width = 0.5\n'
    rows = 'instrument = "caliper"\nreadings = [ { programmed = 5.0, diameter = 4.974937 } ]\n'
    for side, error in (("hole", 0.0), ("boss", 4.974937 - 5.0)):
        text = HEAD + MACHINE + TOOL.replace("6.0", "3.0") + caliper + CONDITION.replace("hole", side) + rows
        (reading,) = open_table(text).conditions[0].readings
        assert reading.error == pytest.approx(error, abs=1e-6)
        assert reading.diameter == 4.974937  # as read


def test_the_instrument_of_a_reading_comes_before_the_condition_s():
    gauges = '[[instrument]]\nname = "a"\nlimit = 0.03\njaw_width = 0.5\n'
    gauges += '[[instrument]]\nname = "b"\nlimit = 0.01\n'
    rows = 'instrument = "A"\nreadings = [\n  { programmed = 9.0, x = 9 },\n'
    rows += '  { programmed = 9.0, x = 9, instrument = "B" },\n]\n'
    first, second = open_table(HEAD + MACHINE + TOOL + gauges + CONDITION + rows).conditions[0].readings
    assert (first.instrument, first.jaw_width) == ("a", 0.5)
    assert (second.instrument, second.jaw_width) == ("b", 0.0)


def test_the_error_is_of_the_mean_of_x_and_y_or_of_the_single_figure():
    rows = (
        "readings = [\n { programmed = 10, x = 9.9, y = 9.8, d45 = 1 },\n { programmed = 10, x = 9.9 },\n"
        " { programmed = 10, y = 9.8 },\n { programmed = 10, diameter = 9.7, d135 = 20 },\n]\n"
    )
    readings = open_table(GOOD.replace(READINGS, rows)).conditions[0].readings
    assert [r.error for r in readings] == pytest.approx([-0.15, -0.1, -0.2, -0.3])

"""Readings as CSV: out and in again, from spreadsheets of every kind, adding only what is new."""

import pytest

from roundwright.calibration import open_table, with_readings
from roundwright.calibration.sheet import COLUMNS, not_there_yet, readings_of_sheet, sheet_of
from roundwright.errors import TableError
from source_tree import ROOT
from table_texts import GOOD, table_of

SAMPLES = sorted((ROOT / "samples").glob("*.toml"))
HEAD = ",".join(COLUMNS)


def taken(text, table=GOOD):
    opened = open_table(table)
    return not_there_yet(opened, readings_of_sheet(text, "r.csv", opened))


def test_the_columns_are_those_of_the_contract():
    assert HEAD == "tool,material,side,cut,programmed,x,y,d45,d135,diameter,instrument,date,note"


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_what_was_exported_is_all_there(path):
    text = path.read_text(encoding="utf-8")
    table = open_table(text)
    sheet = sheet_of(table)
    rows = readings_of_sheet(sheet, "r.csv", table)
    assert len(rows) == sum(len(condition.readings) for condition in table.conditions)
    assert not_there_yet(table, rows) == ()


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_an_exported_sheet_fills_an_empty_table_with_the_same_readings(path):
    text = path.read_text(encoding="utf-8")
    table = open_table(text)
    bare = text[: text.index("[[condition]]")]
    rows = readings_of_sheet(sheet_of(table), "r.csv", open_table(bare))
    filled = open_table(with_readings(bare, [addition for _, addition in rows]))
    assert sheet_of(filled) == sheet_of(table)


def test_of_equal_rows_as_many_are_added_as_the_table_lacks():
    row = "1,birch ply,hole,climb,10,9.91,9.93,,,,,,\n"
    assert taken(f"{HEAD}\n{row}") == ()
    assert [line for line, _ in taken(f"{HEAD}\n{row}{row}{row}")] == [3, 4]


def test_spreadsheets_of_other_countries_are_read():
    plain = taken("tool,material,side,cut,programmed,x,y\n1,mdf,hole,climb,20.5,20.4,20.3\n")
    for text in (
        "tool;material;side;cut;programmed;x;y\r\n1;mdf;hole;climb;20,5;20,4;20,3\r\n",
        "\ufefftool\tmaterial\tside\tcut\tprogrammed\tx\ty\n1\tmdf\thole\tclimb\t20,5\t20.4\t20,3\n",
        "Y,X,Tool,Cut,Side,Material,Programmed,,\n20.3,20.4,T1,climb,hole,mdf,20.5mm,,\n,,,,,,,,\n",
        '"tool","material","side","cut","programmed","x","y"\n"6 mm upcut",mdf,hole,climb,20.5,20.4,20.3\n',
    ):
        assert taken(text) == plain
    assert plain[0][1].reading.programmed == 20.5


def test_lengths_say_their_unit_or_have_the_table_s():
    text = "tool,material,side,cut,programmed,diameter\n1,mdf,hole,climb,3/4in,0.745\n"
    inches = table_of([(1.0, 0.99)], inch=True, tool=0.25)
    ((_, addition),) = taken(text, inches)
    assert addition.reading.programmed == pytest.approx(19.05)
    assert addition.reading.diameter == pytest.approx(0.745 * 25.4)
    assert 'material = "mdf"' in (new := with_readings(inches, [addition]))
    assert "programmed = 0.75, diameter = 0.745" in new
    assert taken(text, new) == (), "what was added is there"


def test_odd_fractions_are_found_again():
    text = "tool,material,side,cut,programmed,diameter\n1,mdf,hole,climb,127/128in,1.0in\n"
    new = with_readings(GOOD, [addition for _, addition in taken(text)])
    assert taken(text, new) == ()


ROW = "1,mdf,hole,climb,20,19.9,19.9,,,,,,"


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ("", None, "empty"),
        ("\n , \n", None, "empty"),
        (f"{HEAD},colour\n{ROW},red\n", 1, "colour"),
        (f"{HEAD},x\n{ROW},1\n", 1, "twice"),
        ("tool,material,side,cut,x\n", 1, "programmed is missing"),
        ("tool,material,side,cut,programmed,note\n", 1, "x is missing"),
        (f"{HEAD}\n{ROW}\n{ROW.replace('1,mdf', '9,mdf')}\n", 3, "no tool 9"),
        (f"{HEAD}\n{ROW},,more\n", 2, "more cells"),
        (f"{HEAD}\n{ROW.replace('hole', 'Loch')}\n", 2, "Loch"),
        (f"{HEAD}\n{ROW.replace('climb', 'both')}\n", 2, "both"),
        (f"{HEAD}\n{ROW.replace('20,19.9', '20,19.9.1')}\n", 2, "x: '19.9.1' is not a length"),
        (f"{HEAD}\n{ROW.replace('20,19.9', '20,-19.9')}\n", 2, "x: -19.9 must be more than 0"),
        (f"{HEAD}\n{ROW.replace('19.9', '')}\n", 2, "nothing is measured"),
        (f"{HEAD}\n{ROW.replace('mdf', '')}\n", 2, "material is missing"),
        (f"{HEAD}\n1,mdf,hole,climb,20,19.9,19.9,,,,,3/10/2026,\n", 2, "2026-10-03"),
        (f'{HEAD}\n{ROW[:-1]},"{"n" * 200_000}"\n', 2, "no CSV"),
    ],
)
def test_what_is_wrong_is_named_with_its_line(text, line, word):
    with pytest.raises(TableError, match=word) as caught:
        taken(text)
    assert caught.value.place.name == "r.csv" and caught.value.place.line == line

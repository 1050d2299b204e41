"""A table shown: 80 columns of text in its own units, JSON in millimetres, CSV that a spreadsheet reads."""

import csv
import io
import json

import pytest

from roundwright.calibration import Solution, curve_of, new_table_text, open_table, solve
from roundwright.report.table import CSV_COLUMNS, SCHEMA, table_as_csv, table_as_json, table_as_text
from table_texts import GOOD, table_of

PAIRS = [(10.0, 9.92), (10.0, 9.94), (25.0, 24.84), (60.0, 59.62)]


def test_text_gives_readings_errors_corrections_and_u_by_diameter():
    table = open_table(table_of(PAIRS, limit=0.03, tool=6.0), "router.toml")
    rows = [line.split() for line in table_as_text(table).splitlines()]
    assert ["shop-router", "(router.toml),", "lengths", "in", "mm"] in rows
    curve = curve_of(table.conditions[0], table)
    for diameter, readings, measured, error in ((10.0, 2, "9.930", "-0.070"), (60.0, 1, "59.620", "-0.380")):
        answer = solve(curve, diameter, 0.1)
        assert isinstance(answer, Solution) and answer.uncertainty is not None
        change, u = f"{answer.programmed - diameter:+.3f}", f"{answer.uncertainty:.3f}"
        assert [f"{diameter:g}", str(readings), measured, error, change, u] in rows
    assert "Serves diameters from 9 to 66" in table_as_text(table)


def test_text_says_why_there_is_no_u_or_no_correction():
    assert "No U: no diameter was cut and measured twice" in " ".join(table_as_text(open_table(GOOD)).split())
    turned = " ".join(table_as_text(open_table(table_of([(10.0, 9.9), (10.5, 9.3)]))).split())
    assert "No correction: the readings of T1 / birch ply / hole / climb at 10 and 10.5" in turned
    assert " - - " in turned
    empty = table_as_text(open_table(table_of([])))
    assert "No readings yet" in empty
    old = GOOD.replace("diameter = 6.0", "diameter = 6.0\nfitted = 2026-09-28")
    assert "1 kept, not used" in table_as_text(open_table(old))
    assert "nothing is corrected" in table_as_text(open_table(new_table_text("m", False)))


@pytest.mark.parametrize("inch", [False, True])
def test_text_keeps_to_80_columns(inch):
    text = table_of([(0.375, 0.37), (1.25, 1.24)], inch=inch, limit=0.001).replace(
        "birch ply", "very long material " * 6
    )
    shown = table_as_text(open_table(text, "a-folder/with/a/long/name/" * 3 + "router.toml"))
    assert max(map(len, shown.splitlines())) <= 80
    assert "0.375" in shown and ("lengths in in" in " ".join(shown.split())) is inch


def test_json_is_in_millimetres_and_holds_every_reading():
    table = open_table(table_of([(p / 25.4, m / 25.4) for p, m in PAIRS], inch=True, limit=0.001), "r.toml")
    listing = json.loads(table_as_json(table))
    assert listing["schema"] == SCHEMA
    assert listing["table"] == {"name": "shop-router", "file": "r.toml", "units": "in"}
    (condition,) = listing["conditions"]
    assert condition["condition"] == "T1 / birch ply / hole / climb"
    assert [d["programmed"] for d in condition["diameters"]] == pytest.approx([10.0, 25.0, 60.0])
    assert [d["readings"] for d in condition["diameters"]] == [2, 1, 1]
    assert condition["diameters"][0]["error"] == pytest.approx(-0.07)
    assert condition["diameters"][0]["expanded_uncertainty"] > 0
    assert [r["programmed"] for r in condition["readings"]] == pytest.approx([p for p, _ in PAIRS])
    assert all(r["used"] for r in condition["readings"])
    assert condition["serves"] == pytest.approx([9.0, 66.0])


def test_csv_has_a_row_for_each_diameter_in_the_table_s_units():
    table = open_table(table_of([(0.375, 0.37), (1.25, 1.24)], inch=True))
    rows = list(csv.DictReader(io.StringIO(table_as_csv(table))))
    assert tuple(rows[0]) == CSV_COLUMNS
    assert [row["programmed"] for row in rows] == ["0.375", "1.25"]
    assert [float(row["error"]) for row in rows] == pytest.approx([-0.005, -0.01])
    assert rows[0]["uncertainty"] == "" and "measured twice" in rows[0]["why"]


def test_the_right_readings_are_marked_used():
    rows = "y = 9.93, date = 2026-09-27 },\n  { programmed = 10.0, x = 9.91, y = 9.93, date = 2026-10-01 },"
    text = GOOD.replace("y = 9.93 },", rows).replace("diameter = 6.0", "diameter = 6.0\nfitted = 2026-09-28")
    (condition,) = json.loads(table_as_json(open_table(text)))["conditions"]
    assert [r["used"] for r in condition["readings"]] == [False, True]

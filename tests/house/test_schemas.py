"""The JSON Schemas of `shared/schemas`: sound, and kept by what is printed and by the project's tables."""

from __future__ import annotations

import json
import tomllib
from datetime import date
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from command import run
from roundwright.calibration import new_table_text, open_table
from roundwright.errors import TableError
from roundwright.shared import shared_text
from source_tree import ROOT
from table_texts import GOOD

NAMES = ("diagnosis", "listing", "record", "table", "table-listing")
SAMPLES = ROOT / "samples"
ROUTER, MILL = SAMPLES / "shop-router.toml", SAMPLES / "shop-mill.toml"
TABLES = sorted([ROUTER, MILL, *(ROOT / "tests" / "whole").rglob("table.toml")])


def schema(name: str) -> dict[str, Any]:
    return json.loads(shared_text("schemas", f"roundwright.{name}-1.json"))


def faults(name: str, value: Any) -> list[str]:
    return [error.message for error in Draft202012Validator(schema(name)).iter_errors(value)]


def toml(text: str) -> Any:
    """A table as JSON sees it: dates are text."""
    return json.loads(json.dumps(tomllib.loads(text), default=date.isoformat))


def printed(*arguments: Any) -> Any:
    result = run(*arguments)
    assert result.status == 0, result.err
    return json.loads(result.out)


def test_every_schema_is_sound_and_named_after_its_id():
    files = {path.name for path in (ROOT / "shared" / "schemas").iterdir()}
    assert files == {f"roundwright.{name}-1.json" for name in NAMES}
    for name in NAMES:
        Draft202012Validator.check_schema(schema(name))
        assert schema(name)["$id"] == schema(name)["properties"]["schema"]["const"] == f"roundwright.{name}/1"


@pytest.mark.parametrize(
    ("program", "table", "more"),
    [
        ("bearing-block.nc", ROUTER, ()),
        ("bearing-block.nc", ROUTER, ("-m", "mdf", "--target", "20.0=H8")),
        ("bearing-block-inch.nc", MILL, ()),
        ("jig-plate.nc", ROUTER, ("-m", "mdf")),
        ("beech-coupon.nc", ROUTER, ("-m", "beech")),
    ],
)
def test_listing_and_record_of_the_samples(tmp_path, program, table, more):
    record = tmp_path / "record.json"
    job = ("correct", "-t", table, *more, SAMPLES / program)
    assert faults("listing", printed(*job, "--dry-run", "--format", "json")) == []
    assert run(*job, "-o", tmp_path / "out.nc", "--record", record).status == 0
    assert faults("record", json.loads(record.read_text())) == []


@pytest.mark.parametrize("table", TABLES, ids=lambda path: path.parent.name + "/" + path.stem)
def test_every_table_and_what_is_shown_of_it(table):
    assert faults("table", toml(table.read_text(encoding="utf-8"))) == []
    assert faults("table-listing", printed("table", "show", "-t", table, "--format", "json")) == []
    assert faults("diagnosis", printed("diagnose", "-t", table, "--format", "json")) == []


@pytest.mark.parametrize("inch", [False, True])
def test_a_new_table_with_every_key_uncommented(inch):
    text = new_table_text("mill", inch)
    assert faults("table", toml(text)) == []
    lines = [
        line[1:] if line.startswith("#") and not line.startswith("# ") else line for line in text.splitlines()
    ]
    whole = toml("\n".join(lines))
    assert faults("table", whole) == []
    known = schema("table")
    for key, part in whole.items():
        if key in known["$defs"]:
            assert set(part[0]) == set(known["$defs"][key]["properties"]), key
        elif key != "schema":
            assert set(part) == set(known["properties"][key]["properties"]), key


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('units = "mm"', 'units = "cm"'),
        ('units = "mm"', 'units = "mm"\ncolour = "red"'),
        ('side = "hole"', 'side = "slot"'),
        ('cut = "climb"\n', ""),
        ("diameter = 6.0", "diameter = 0.0"),
        ("limit = 0.03", 'limit = "0.03"'),
        ("x = 9.91, y = 9.93", "x = 9.91, diameter = 9.93"),
        ("x = 9.91, y = 9.93", "d45 = 9.91"),
        ('number = 1\nname = "6 mm upcut"\n', ""),
    ],
)
def test_schema_and_product_refuse_the_same(old, new):
    assert faults("table", toml(GOOD)) == [] and old in GOOD
    spoiled = GOOD.replace(old, new, 1)
    assert faults("table", toml(spoiled))
    with pytest.raises(TableError):
        open_table(spoiled)

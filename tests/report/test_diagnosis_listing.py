"""The diagnosis as JSON after its schema, and as text of at most 80 columns."""

import json

import jsonschema
import pytest

from faulty_machine import WAYS, Faults, Shop
from roundwright.calibration import open_table
from roundwright.report.diagnosis import diagnosis_as_json, diagnosis_as_text
from roundwright.shared import shared_text
from source_tree import ROOT
from table_texts import GOOD

SCHEMA = json.loads(shared_text("schemas", "roundwright.diagnosis-1.json"))
SHOP = Shop(Faults(-8e-3, 4e-4, 1.2e-3, 0.03, 0.012, -0.11), 0.004, 0.004)


def tables():
    yield SHOP.table(*(SHOP.condition(side, cut) for side in ("hole", "boss") for cut in WAYS))
    yield SHOP.table(SHOP.condition(figures="diameter", sizes=(20.0,)), inch=True)
    yield SHOP.table()
    yield open_table(GOOD)
    for name in ("shop-router", "shop-mill"):
        yield open_table((ROOT / "samples" / f"{name}.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("table", list(tables()), ids=range(6))
def test_json_follows_its_schema_and_text_its_width(table):
    listing = json.loads(diagnosis_as_json(table))
    jsonschema.validate(listing, SCHEMA)
    assert len(listing["conditions"]) == len(table.conditions)
    text = diagnosis_as_text(table)
    assert all(len(line) <= 80 for line in text.splitlines()), text
    assert text.endswith("\n") and "None" not in text and "nan" not in text


def test_json_is_in_ppm_mrad_and_mm():
    exact = Shop(Faults(-8e-3, 4e-4, 1.2e-3, 0.03, 0.012, -0.11))
    table = exact.table(*(exact.condition(cut=cut) for cut in WAYS), inch=True)
    first = json.loads(diagnosis_as_json(table))["conditions"][0]
    keys = ("scale_x", "scale_y", "squareness", "lost_motion_x", "lost_motion_y", "constant")
    assert [first[key]["value"] for key in keys] == pytest.approx((-8000, 400, 1.2, 0.03, 0.012, -0.11))
    assert first["condition"] == "T1 / acetal / hole / climb" and first["readings"] == 4
    assert first["constant"]["u"] == pytest.approx(0.03 / 3**0.5, rel=1e-3)


def test_a_wrong_listing_would_be_seen():
    listing = json.loads(diagnosis_as_json(open_table(GOOD)))
    listing["conditions"][0]["scale_x"] = {"value": 1.0}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(listing, SCHEMA)

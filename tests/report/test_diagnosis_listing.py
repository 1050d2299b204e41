"""The diagnosis as JSON after its schema, and as text of at most 80 columns."""

import json

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from faulty_machine import WAYS, Faults, Shop
from roundwright.calibration import Condition, Reading, open_table
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


FIGURE = st.integers(-300, 300).map(lambda n: n / 1000)
KINDS = ("x", "y", "x y", "diameter", "x y d45 d135", "x y d45", "y d135")


@st.composite
def any_condition(draw):
    """A condition with a few readings of whatever figures, instruments and sizes."""
    side = draw(st.sampled_from(["hole", "boss", "groove"]))
    cut = "any" if side == "groove" else draw(st.sampled_from(["climb", "conventional", "any"]))
    readings = []
    for _ in range(draw(st.integers(0, 7))):
        size = draw(st.sampled_from([5.0, 20.0, 20.05, 20.134, 60.0]))
        figures = {key: size + draw(FIGURE) for key in draw(st.sampled_from(KINDS)).split()}
        instrument = draw(st.sampled_from(["caliper", None, "unknown"]))
        note = draw(st.sampled_from(["", "turned"]))
        readings.append(Reading(size, **figures, instrument=instrument, note=note))
    return Condition(1, draw(st.sampled_from(["oak", "steel"])), side, cut, readings=tuple(readings))


@settings(max_examples=150, deadline=None)
@given(st.lists(any_condition(), max_size=4), st.booleans())
def test_whatever_was_read_the_diagnosis_is_sound(conditions, inch):
    table = SHOP.table(*conditions, inch=inch)
    listing = json.loads(diagnosis_as_json(table), parse_constant=lambda name: pytest.fail(name))
    jsonschema.validate(listing, SCHEMA)
    assert [one["readings"] for one in listing["conditions"]] == [len(one.readings) for one in conditions]
    text = diagnosis_as_text(table)
    assert all(len(line) <= 80 for line in text.splitlines()) and "nan" not in text and "inf" not in text

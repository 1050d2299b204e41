"""What is typed on the command line means one thing, or is refused."""

from __future__ import annotations

import pytest

from roundwright.cli import params
from roundwright.errors import SettingsError

WRONG = (ValueError, SettingsError)


@pytest.mark.parametrize("text", ["9.91mm", "0.375in", "3/8in", "20", "  6 mm "])
def test_sizes_are_kept_as_typed(text):
    assert params.size(text) == text.strip()


@pytest.mark.parametrize("text", ["", "0", "-1", "0mm", "9,91mm", "1e3", "6 cm", "3/0in", "nan", "inf"])
def test_what_is_no_size_is_refused(text):
    with pytest.raises(WRONG):
        params.size(text)


@pytest.mark.parametrize(
    ("text", "unit"), [("6", ""), ("6mm", "mm"), ("6 MM", "mm"), ("3/8in", "in"), ('1"', "in")]
)
def test_the_unit_is_seen(text, unit):
    assert params.unit_of(text) == unit


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        ("20=19.91", ("20", "19.91")),
        ("20mm=19.91mm", ("20mm", "19.91mm")),
        ("20=19.91mm", ("20mm", "19.91mm")),
        ("3/8in=0.37", ("3/8in", "0.37in")),
        ("1in=25.3mm", ("1in", "25.3mm")),
    ],
)
def test_a_unit_on_one_side_of_a_reading_serves_both(text, pair):
    assert params.reading(text) == pair


@pytest.mark.parametrize("text", ["20", "20=", "=19.9", "20=x", "20=-1"])
def test_half_a_reading_is_refused(text):
    with pytest.raises(WRONG):
        params.reading(text)


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("2", (None, "2")),
        ("6 mm upcut", (None, "6 mm upcut")),
        ("1=2", (1, "2")),
        ("T12=6 mm upcut", (12, "6 mm upcut")),
        ("@2=1", ("@2", "1")),
        ("upcut = long", (None, "upcut = long")),
    ],
)
def test_tools_are_told_apart(text, meaning):
    assert params.tool(text) == meaning


@pytest.mark.parametrize("text", ["", " ", "=1", "@=1", "@x=1", "1=", "@2= "])
def test_what_names_no_tool_is_refused(text):
    with pytest.raises(ValueError, match="names no tool"):
        params.tool(text)


def test_a_tool_s_name_may_hold_an_equals_sign():
    assert params.tool_diameter("d=6 upcut=6mm") == ("d=6 upcut", "6mm")
    with pytest.raises(WRONG):
        params.tool_diameter("6mm")


@pytest.mark.parametrize(
    ("text", "meaning"),
    [("hole", (None, "hole")), ("c3=boss", ("C3", "boss")), ("C1 = groove", ("C1", "groove"))],
)
def test_sides_are_for_one_or_for_all_silent(text, meaning):
    assert params.side(text) == meaning


@pytest.mark.parametrize("text", ["", "unknown", "C3=", "C3=unknown", "=hole", "Hole "])
def test_what_is_no_side_is_refused(text):
    with pytest.raises(ValueError, match="no side"):
        params.side(text)


@pytest.mark.parametrize(("text", "key"), [("c12", "C12"), ("20.0", "20.0"), ("3/8in", "3/8in")])
def test_features_are_named_by_id_or_size(text, key):
    assert params.feature_key(text) == key


def test_what_names_no_feature_is_refused():
    with pytest.raises(WRONG):
        params.feature_key("the big one")

"""`--target`: what is typed, what the listing says of it, and what is refused."""

from __future__ import annotations

import csv
import io
import json

import jsonschema
import pytest

import command
from command import run
from roundwright.cli import params
from roundwright.errors import SettingsError
from roundwright.shared import shared_text

T = ("correct", "-t", "router.toml")
SCHEMA = json.loads(shared_text("schemas", "roundwright.listing-1.json"))
REPEATS = """instrument = "caliper"
readings = [
  { programmed = 10.0, x = 9.88, y = 9.92 },
  { programmed = 10.0, x = 9.91, y = 9.93 },
  { programmed = 20.0, x = 19.83, y = 19.87 },
  { programmed = 30.0, x = 29.79, y = 29.81 },
]
[[instrument]]
name = "caliper"
limit = 0.02
"""


@pytest.fixture
def repeated(shop):
    """The folder, its table with repeated cuts along X and Y."""
    head = command.TABLE.partition("readings")[0]
    (shop / "router.toml").write_text(head + REPEATS, encoding="utf-8")
    return shop


def listed(*options):
    result = run(*T, "-n", "--format", "json", *options, "panel.nc")
    assert result.status == 0, result.err
    shown = json.loads(result.out)
    jsonschema.validate(shown, SCHEMA)
    return shown["features"]


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        ("C3=H8", ("C3", "H8")),
        ("c3 = js7", ("C3", "js7")),
        ("20.0=H9", ("20.0", "H9")),
        ("C1=22.05mm", ("C1", "22.05mm")),
        ("3/4in=3/4in", ("3/4in", "3/4in")),
        ("C1=Z99", ("C1", "Z99")),
    ],
)
def test_targets_are_key_and_value(text, pair):
    assert params.target(text) == pair


@pytest.mark.parametrize(
    "text", ["", "C1", "C1=", "=H8", "C1=H", "C1=8H", "C1=-20", "C1=0", "big=H8", "C1=H8=H9"]
)
def test_what_is_no_target_is_refused(text):
    with pytest.raises((ValueError, SettingsError)):
        params.target(text)


def test_the_listing_says_tolerance_nominal_and_probability(repeated):
    first, second = listed("--target", "C1=H11")
    assert first["target"] == {
        "diameter": 20.065,
        "lower": 20.0,
        "upper": 20.13,
        "class": "H11",
        "nominal": 20.0,
    }
    change = first["correction"]
    assert change["corrected_diameter"] + change["expected_error"] == pytest.approx(20.065, abs=2e-6)
    assert 0.5 < first["probability"] < 1
    assert first["ovality"] == pytest.approx(0.02 - (change["corrected_diameter"] - 20) / 10 * 0.01, abs=1e-5)
    assert not {"target", "probability", "ovality", "doubt"} & set(second)
    text = " ".join(run(*T, "-n", "--target", "C1=H11", "panel.nc").out.decode().split())
    share = round(100 * first["probability"])
    assert "C1: 20.065, the middle of H11 of 20.000 (20.000 to 20.130 mm)" in text
    assert f"{share} % likely that smallest and largest diameter lie within" in text


def test_without_repeats_the_listing_says_that_it_cannot_be_told(shop):
    (first, _) = listed("--target", "20=H9")
    assert (first["target"]["class"], first["probability"]) == ("H9", None)
    assert "twice" in first["doubt"]
    text = " ".join(run(*T, "-n", "--target", "20=H9", "panel.nc").out.decode().split())
    assert "how likely it lies within cannot be told: no diameter was cut and measured twice" in text


def test_a_diameter_has_no_limits(repeated):
    (first, _) = listed("--target", "C1=20.2")
    assert first["target"] == {"diameter": 20.2, "lower": None, "upper": None, "class": None, "nominal": None}
    assert first["probability"] is None
    assert "C1: 20.200 mm" in run(*T, "-n", "--target", "C1=20.2", "panel.nc").out.decode()


def test_csv_has_columns_for_it(repeated):
    out = run(*T, "-n", "--format", "csv", "--target", "C1=H11", "panel.nc").out.decode()
    first, second = csv.DictReader(io.StringIO(out, newline=""))
    assert (first["target"], first["target_lower"], first["target_class"]) == ("20.065", "20.0", "H11")
    assert float(first["probability"]) > 0.5
    assert second["target"] == second["probability"] == ""


def test_the_program_is_cut_for_the_target(repeated):
    """The pocket's wall of 20 has the radius that the listing says, its neighbour is as without a target."""
    (first, _) = listed("--target", "C1=20.2")
    radius = first["correction"]["corrected_path_diameter"] / 2
    aimed = run(*T, "--target", "C1=20.2", "panel.nc").out.decode()
    plain = run(*T, "panel.nc").out.decode()
    assert f"I-{radius:.3f}" in aimed
    assert f"I-{radius:.3f}" not in plain
    differing = [a for a, b in zip(aimed.splitlines(), plain.splitlines(), strict=True) if a != b]
    assert 0 < len(differing) < 12


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ("C9=H8", ("no such feature", "C1 (hole 20.000 mm)")),
        ("33=H8", ("no hole of this diameter", "C2 (hole")),
        ("20=h8", ("no boss of this diameter",)),
        ("C1=h8", ("C1 is a hole", "Write H8")),
        ("C1=Q8", ("no tolerance class", "d e f g h js k m n p")),
        ("C1=H4", ("grade 4", "5 to 16")),
    ],
)
def test_what_cannot_be_meant_is_refused(repeated, target, words):
    result = run(*T, "--target", target, "panel.nc")
    assert (result.status, result.out) == (1, b"")
    for word in words:
        assert word in " ".join(result.err.split())


@pytest.mark.parametrize("targets", [("C1",), ("C1=wide",), ("C1=H8", "C1=H9")])
def test_wrong_usage(repeated, targets):
    typed = [word for target in targets for word in ("--target", target)]
    result = run(*T, *typed, "panel.nc")
    assert (result.status, result.out) == (2, b"")
    assert "--target" in result.err


def test_a_bare_length_in_a_program_of_two_units_is_refused(repeated):
    (repeated / "both.nc").write_text("G21\nG0 X1\nG20\nG0 X2\nM30\n")
    result = run(*T, "--target", "C1=20.2", "both.nc")
    assert result.status == 1
    assert "inches and millimetres" in result.err


def test_what_is_left_alone_keeps_its_reason(repeated):
    result = run(*T, "-n", "--format", "json", "--target", "C3=H8", "open.nc")
    third = json.loads(result.out)["features"][2]
    assert (third["status"], third["reason"]) == ("left-alone", "side-unknown")
    far = listed("--target", "C1=25")[0]
    assert (far["reason"], far["target"]["diameter"], far["probability"]) == ("over-limit", 25.0, None)


@pytest.mark.parametrize("key", ["target", "probability", "doubt", "ovality"])
def test_the_schema_wants_the_keys_together(repeated, key):
    result = run(*T, "-n", "--format", "json", "--target", "C1=H8", "panel.nc")
    shown = json.loads(result.out)
    shown["features"][0].pop(key)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(shown, SCHEMA)

"""The listing for programs: the contract's keys, in mm, lines from 1."""

from __future__ import annotations

import csv
import io
import json
from hashlib import sha256
from typing import get_args

import jsonschema
import numpy as np
import pytest
from msgspec.structs import replace

import outcomes
from roundwright.plan.plan import Reason, WallFeed
from roundwright.read.program import UNREAD_REASONS, Unread, UnreadReason
from roundwright.report.listing import COLUMNS, listing, listing_csv, listing_json, unread_ranges
from roundwright.settings import Cut, Side
from roundwright.shared import shared_text

SCHEMA = json.loads(shared_text("schemas", "roundwright.listing-1.json"))
CHECK = jsonschema.Draft202012Validator(SCHEMA)


def test_the_listing_says_what_was_found_and_what_it_gets():
    shown = listing(outcomes.outcome())
    CHECK.validate(shown)
    first = shown["features"][0]
    evidence = first.pop("evidence")
    assert "inside" in evidence
    assert first == {
        "id": "C1",
        "side": "hole",
        "plane": "XY",
        "frame": "G54",
        "centre": [50.0, 40.0],
        "z": [-3.0, -3.0],
        "tool": {"number": 1, "diameter": 6.0},
        "path_diameter": 14.0,
        "diameter": 20.0,
        "turn": "ccw",
        "cut": "climb",
        "form": ["arc"],
        "passes": 1,
        "feed": None,
        "lines": [8, 12],
        "status": "corrected",
        "reason": None,
        "why": None,
        "notes": [],
        "correction": {
            "diameter": 0.134,
            "corrected_diameter": 20.134,
            "corrected_path_diameter": 14.134,
            "expected_error": -0.134,
            "expanded_uncertainty": 0.041,
            "condition": "T1 / birch ply / hole / climb",
            "basis": "between 10 and 25",
        },
    }


def test_the_program_is_named_and_hashed():
    run = outcomes.outcome()
    shown = listing(run)["program"]
    assert shown["name"] == "panel.nc"
    assert shown["sha256"] == sha256(outcomes.PROGRAM.encode()).hexdigest()
    assert (shown["lines"], shown["units"], shown["stamped"]) == (outcomes.PROGRAM.count("\n"), "mm", False)


def test_lengths_are_mm_whatever_the_program_s_units():
    inches = outcomes.HEAD.replace("G21", "G20") + outcomes.pocket(2, 1, (0.1, 0.25))
    shown = listing(outcomes.outcome(inches, outcomes.Cutter("quarter", 6.35, 1)))
    CHECK.validate(shown)
    assert shown["program"]["units"] == "in"
    assert shown["features"][0]["centre"] == [50.8, 25.4]
    assert shown["features"][0]["diameter"] == 19.05


def test_what_is_not_known_is_null():
    run = outcomes.outcome(cutter=None, table=None)
    shown = listing(run)
    CHECK.validate(shown)
    assert shown["table"] is None
    feature = shown["features"][0]
    assert feature["reason"] == "tool-unknown"
    assert feature["why"]
    assert feature["tool"] == {"number": 1, "diameter": None}
    assert feature["diameter"] is None
    assert feature["correction"] is None


def test_a_circle_at_an_unknown_position_has_no_centre():
    program = outcomes.HEAD + "G1 X[#1] Y[#2] F900\nG1 Z-3 F300\nG3 I-7 J0\nM30\n"
    shown = listing(outcomes.outcome(program))
    CHECK.validate(shown)
    assert [f["centre"] for f in shown["features"]] == [None]
    assert shown["features"][0]["reason"] == "position-unknown"


def test_unread_blocks_of_one_reason_are_joined():
    lines = np.array([3, 4, 5, 6, 7, 9], np.int32)
    why = ["expression", "expression", "variable", "variable", "expression", "expression"]
    blocks = Unread(lines, np.array([UNREAD_REASONS.index(reason) for reason in why], np.uint8))
    assert unread_ranges(blocks) == [
        {"lines": [4, 5], "reason": "expression"},
        {"lines": [6, 7], "reason": "variable"},
        {"lines": [8, 8], "reason": "expression"},
        {"lines": [10, 10], "reason": "expression"},
    ]
    assert listing(outcomes.outcome())["unread"], "the program holds some"


def test_lengths_are_rounded_to_a_millionth_and_no_zero_is_negative():
    run = outcomes.outcome(corrections=[lambda f: outcomes.corrected(f, -1e-9)] + [outcomes.skipped] * 3)
    change = listing(run)["features"][0]["correction"]
    assert str(change["diameter"]) == "0.0"
    assert change["corrected_diameter"] == 20.0


def test_json_is_ascii_and_holds_the_listing():
    run = outcomes.outcome(material="Nußbaum", warnings=("Vorsicht: ü",))
    text = listing_json(run)
    assert text.isascii()
    assert json.loads(text) == listing(run)


def test_csv_is_one_row_a_feature():
    run = outcomes.outcome(corrections=[
        outcomes.corrected, outcomes.on_size, lambda f: outcomes.left(f, "skipped", 'as "you"\nasked, here'),
        outcomes.left,
    ])  # fmt: skip
    text = listing_csv(run)
    assert text.split("\r\n")[0] == ",".join(COLUMNS)
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    shown = listing(run)["features"]
    assert [row["id"] for row in rows] == [f["id"] for f in shown]
    assert rows[0]["correction"] == "0.134"
    assert (rows[0]["centre_1"], rows[0]["first_line"], rows[0]["tool_diameter"]) == ("50.0", "8", "6.0")
    assert rows[2]["why"] == 'as "you"\nasked, here'
    assert rows[2]["correction"] == ""


def test_the_schema_knows_every_word_that_the_types_know():
    feature = SCHEMA["$defs"]["feature"]["properties"]
    assert set(feature["reason"]["enum"]) == {*get_args(Reason), None}
    assert set(feature["side"]["enum"]) == set(get_args(Side))
    assert set(feature["cut"]["enum"]) == set(get_args(Cut))
    unread = SCHEMA["properties"]["unread"]["items"]["properties"]["reason"]["enum"]
    assert set(unread) == set(get_args(UnreadReason))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda f: f.update(status="fine"),
        lambda f: f.update(reason="no-table"),
        lambda f: f.update(correction=None),
        lambda f: f.pop("lines"),
        lambda f: f.update(colour="red"),
    ],
)
def test_the_schema_refuses_what_is_no_listing(spoil):
    shown = listing(outcomes.outcome())
    spoil(shown["features"][0])
    assert not CHECK.is_valid(shown)


def test_notes_are_shown():
    run = outcomes.outcome()
    noted = replace(run.plan.corrections[0].feature, notes=("one", "two"))
    run = outcomes.outcome(corrections=[lambda f: outcomes.corrected(noted)] + [outcomes.skipped] * 3)
    assert listing(run)["features"][0]["notes"] == ["one", "two"]
    assert "one; two" in listing_csv(run)


def test_feeds_stand_beside_each_other_in_mm_a_minute():
    run = outcomes.outcome()
    feeds = {"C1": WallFeed(900.0, 1285.7142857, 16e3), "C2": WallFeed(None, None, 16e3)}
    run.plan = replace(run.plan, feeds=feeds | {"C3": WallFeed(900.0, None, None)})
    shown = listing(run)
    CHECK.validate(shown)
    assert [feature["feed"] for feature in shown["features"]] == [
        {"programmed": 900.0, "edge": 1285.714286},
        None,
        {"programmed": 900.0, "edge": None},
        None,
    ]
    rows = list(csv.DictReader(io.StringIO(listing_csv(run), newline="")))
    assert [(row["feed"], row["edge_feed"]) for row in rows[:2]] == [("900.0", "1285.714286"), ("", "")]

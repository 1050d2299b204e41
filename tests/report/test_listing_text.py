"""The listing for people: 80 columns, the program's units, reasons in words."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace

import outcomes
from roundwright.plan.plan import WallFeed
from roundwright.report.html import report_html
from roundwright.report.text import WIDTH, listing_text


def lines(run, units=None):
    text = listing_text(run, units)
    assert text.endswith("\n")
    assert all(len(line) <= WIDTH and line == line.rstrip() for line in text.split("\n")), text
    return text.splitlines()


def test_one_line_a_feature_with_what_it_gets():
    shown = lines(outcomes.outcome())
    assert shown[0] == "panel.nc: 40 lines, table as measured, birch ply, lengths in mm"
    assert " ".join(shown[2].split()) == "id side diameter centre tool cut change new status"
    assert " ".join(shown[3].split()) == "C1 hole 20.000 50.000 40.000 T1 climb +0.134 20.134 corrected"


def test_inches_have_four_decimals_and_units_can_be_asked_for():
    run = outcomes.outcome(
        outcomes.HEAD.replace("G21", "G20") + outcomes.pocket(2, 1, (0.1, 0.25)),
        outcomes.Cutter("quarter", 6.35, 1),
        corrections=[lambda f: outcomes.corrected(f, 0.0254)],
    )
    shown = "\n".join(lines(run))
    assert "2.0000 1.0000" in shown
    assert "+0.0010" in shown
    assert "+/-0.0016 in" in shown
    shown = "\n".join(lines(run, "mm"))
    assert "50.800 25.400" in shown
    assert "+0.025 " in shown


def test_the_reason_stands_below_in_words_and_once_for_all_that_share_it():
    why = "the table has no readings for T1 / birch ply / hole / climb: cut a test piece and add them to it"
    bare = lambda f: outcomes.left(f, "no-calibration", why)  # noqa: E731
    shown = lines(outcomes.outcome(corrections=[bare, bare, outcomes.corrected, outcomes.left]))
    text = " ".join(" ".join(shown).split())
    assert f"no-calibration: {why}" in text
    assert "no-calibration, as C1" in text
    assert text.count(why) == 1
    assert "--side C4=hole" in text


def within_the_deadband(feature):
    """On size, for the correction of 0.05 is smaller than what the table lets be."""
    return replace(outcomes.on_size(feature), change=0.05, corrected=feature.diameter + 0.05)


def test_what_is_on_size_is_given_no_new_diameter():
    made = [within_the_deadband, outcomes.on_size, outcomes.corrected, outcomes.left]
    shown = lines(outcomes.outcome(corrections=made))
    assert " ".join(shown[3].split()) == "C1 hole 20.000 50.000 40.000 T1 climb - - on size"
    told = " ".join(" ".join(shown).split())
    assert told.count("stays as programmed, for a correction of +0.050 mm is within the deadband") == 1
    page = report_html(outcomes.outcome(corrections=made))
    row = re.search(r'<tr data-id="C1">.*?</tr>', page, re.DOTALL)[0]
    assert "20.050" not in row and "+0.050" not in row
    assert page.count("correction of +0.050 mm is within the deadband") == 1


def test_totals_at_the_end():
    run = outcomes.outcome(
        corrections=[outcomes.corrected, outcomes.on_size, outcomes.skipped, outcomes.left],
        warnings=("one", "two"),
    )
    shown = lines(run)
    at = next(k for k, line in enumerate(shown) if line.startswith("4 circular features"))
    said = " ".join(" ".join(shown[at:]).split())
    assert said.startswith(
        "4 circular features: 1 corrected, 1 on size, 2 left alone (1 side-unknown, 1 skipped)."
    )
    assert "not read: lines 37 to 38 (variable)" in said
    assert shown[-1] == "2 warnings"


def test_features_of_one_basis_are_joined_and_a_missing_spread_is_said():
    bare = lambda f: outcomes.corrected(f, uncertainty=None)  # noqa: E731
    run = outcomes.outcome(corrections=[outcomes.corrected, bare, outcomes.corrected, outcomes.skipped])
    shown = lines(run)
    assert "From the readings of T1 / birch ply / hole / climb:" in shown
    assert "     C1 C3: between 10 and 25; next cut within +/-0.041 mm (95 %)" in shown
    assert "     C2: between 10 and 25; spread not known, no repeated cuts" in shown


def test_a_program_without_circles_says_so():
    shown = lines(outcomes.outcome("G21\nG1 X5 F100\n"))
    assert shown[-1] == "No circular feature found."


def test_what_is_already_corrected_or_without_table_is_said():
    shown = lines(outcomes.outcome(stamped=True, table=None, material=None))
    assert shown[0] == "panel.nc: 40 lines, already corrected, no table, lengths in mm"


@pytest.mark.parametrize("size", [1.0, 1234.5678, 123456.789])
def test_nothing_is_wider_than_the_page(size):
    run = outcomes.outcome(name="a-very-long-name-" * 6 + ".nc", material="plywood " * 14)
    wide = replace(run.plan.corrections[0].feature.wall, centre=(-size, -size), radius=size)
    feature = replace(
        run.plan.corrections[0].feature,
        id="C10000", wall=wide, diameter=2 * size, cut="conventional", notes=("word " * 40,),
        cutter=outcomes.Cutter("a tool with quite a long name", 6.0, None),
    )  # fmt: skip
    run.plan = replace(
        run.plan, corrections=(outcomes.corrected(feature), outcomes.left(feature, "thread", "x" * 90))
    )
    assert "C10000" in "\n".join(lines(run))


def test_a_program_full_of_blocks_that_cannot_be_read_stays_short():
    shown = lines(outcomes.outcome(outcomes.HEAD + "G1 X[#1] F9\nG1 X1\n" * 30))
    assert sum(line.startswith("not read") for line in shown) == 9
    assert shown[-1] == "not read: 22 more, all in --format json"


@pytest.mark.parametrize(
    ("units", "unit", "shown"),
    [("mm", "mm", "900 programmed, 1286 at the edge"), ("in", "in", "35.4 programmed, 50.6 at the edge")],
)
def test_feeds_take_one_line_for_all_features_that_share_them(units, unit, shown):
    run = outcomes.outcome()
    feeds = {"C1": WallFeed(900.0, 1285.714, 16e3), "C2": WallFeed(None, None, 16e3)}
    run.plan = replace(run.plan, feeds=feeds | {"C3": WallFeed(900.0, 1285.714, 16e3)})
    text = lines(run, units)
    at = text.index(f"Feeds in {unit}/min, for information:")
    assert text[at + 1 : at + 3] == [f"     C1 C3: {shown}", ""]

"""The listing and the calibration table as a terminal shows them: nothing lost, nothing cut off."""

from __future__ import annotations

import re

import pytest

import command
import outcomes
from roundwright.calibration import open_table
from roundwright.report.screen import Screen, listing_on_screen, table_on_screen
from roundwright.report.table import table_as_text
from roundwright.report.text import listing_text

COLOUR = re.compile("\x1b\\[[0-9;]*m")
WIDE, NARROW = Screen(120, colour=False), Screen(40, colour=False)
SIGNS = "\N{BLACK CIRCLE}\N{WHITE SQUARE}\N{BLACK UP-POINTING TRIANGLE}"


def mixed(**changes):
    """A corrected feature, one on size, one left alone."""
    pockets = "".join(outcomes.pocket(x, 40, (2, 4.5, 7)) for x in (50, 120, 190))
    make = [
        lambda f: outcomes.corrected(f, 0.1),
        lambda f: outcomes.on_size(f),
        lambda f: outcomes.left(f, "no-calibration", "the table has no readings: cut a [bold]test[/] piece"),
    ]
    return outcomes.outcome(outcomes.HEAD + pockets + "M30\n", corrections=make, **changes)


def words(text):
    return re.sub(f"[{SIGNS}\N{BOX DRAWINGS LIGHT HORIZONTAL}]", " ", text).split()


def test_the_screen_says_all_that_the_text_says():
    outcome = mixed()
    shown, text = listing_on_screen(outcome, None, WIDE), listing_text(outcome)
    assert sorted(set(words(shown))) == sorted(set(words(text)))
    assert "[bold]test[/]" in shown  # what looks like markup is none
    for name, sign in zip(("C1", "C2", "C3"), SIGNS, strict=True):
        assert re.search(f"(?m)^ *{name} .* {sign} ", shown)


@pytest.mark.parametrize("width", range(40, 140, 7))
def test_no_line_is_wider_than_the_screen_and_no_figure_is_cut(width):
    outcome = mixed()
    shown = listing_on_screen(outcome, None, Screen(width, colour=False))
    assert "\N{HORIZONTAL ELLIPSIS}" not in shown
    if "\N{BOX DRAWINGS LIGHT HORIZONTAL}" in shown:
        assert max(len(line) for line in shown.splitlines()) <= max(width, 80)
    else:
        assert shown == listing_text(outcome)


def test_colour_changes_nothing_else():
    outcome = mixed()
    for plain in (WIDE, NARROW):
        coloured = listing_on_screen(outcome, None, Screen(plain.width, colour=True))
        assert len(COLOUR.findall(coloured)) >= 4
        assert COLOUR.sub("", coloured) == listing_on_screen(outcome, None, plain)


def test_a_program_without_circles_is_told_as_in_text():
    outcome = outcomes.outcome("G21 G90\nM30\n", corrections=[])
    assert listing_on_screen(outcome, None, WIDE) == listing_text(outcome)


def test_the_table_is_shown_with_all_its_words():
    table = open_table(command.TABLE, "router.toml")
    assert sorted(set(words(table_on_screen(table, WIDE)))) == sorted(set(words(table_as_text(table))))

"""Broken tables as people break them: every message says the line, the key and what to do about it."""

from __future__ import annotations

import re

import pytest

from roundwright.calibration import open_table
from roundwright.errors import TableError

SOUND = """\
schema = "roundwright.table/1"
[machine]
name = "shop"
units = "mm"
[defaults]
material = "ply"
[limits]
correction = 2.0
[[tool]]
number = 1
diameter = 6.0
[[instrument]]
name = "caliper"
limit = 0.03
[[condition]]
tool = 1
material = "ply"
side = "hole"
cut = "climb"
instrument = "caliper"
readings = [
  { programmed = 10.0, x = 9.91, y = 9.93, date = 2026-10-03 },
  { programmed = 25.0, x = 24.83, y = 24.85 },
]
"""
#: a condition that the sound table has already.
CONDITION = """\
[[condition]]
tool = 1
material = "ply"
side = "hole"
cut = "climb"
"""
#: what is broken: a piece of the sound table, what stands there instead, and the line that the message names.
BROKEN: dict[str, tuple[str, str, int]] = {
    "empty": (SOUND, "", 1),
    "not toml": (SOUND, "hello", 1),
    "broken quote": ('p"', "p", 3),
    "broken bracket": ("e]", "e", 2),
    "missing brace": (" date = 2026-10-03 },", "", 23),
    "comma decimal": ("6.", "6,", 11),
    "missing comma": ("93,", "93", 22),
    "schema missing": ('schema = "roundwright.table/1"\n', "", 1),
    "schema other": ("/1", "/9", 1),
    "schema number": ('"roundwright.table/1"', "1", 1),
    "no machine": ('machine]\nname = "shop"\nunits = "mm"\n[', "", 1),
    "no name": ('name = "shop"\n', "", 2),
    "no units": ('units = "mm"\n', "", 2),
    "units cm": ('"m', '"c', 4),
    "units number": ('"mm"', "25.4", 4),
    "name number": ('"shop"', "7", 3),
    "name empty": ("shop", "", 3),
    "spindle bad": ("[d", 'spindle = "cw"\n[d', 5),
    "axis bad": ("[d", 'spindle_axis = "W"\n[d', 5),
    "decimals float": ("[d", "decimals = 2.5\n[d", 5),
    "decimals neg": ("[d", "decimals = -1\n[d", 5),
    "decimals 99": ("[d", "decimals = 99\n[d", 5),
    "decimals true": ("[d", "decimals = true\n[d", 5),
    "unknown key": ("[d", 'spindel = "clockwise"\n[d', 5),
    "unknown section": ("\n]\n", "\n]\n[toool]\nx=1\n", 25),
    "[tool] single": ("[tool]", "tool", 9),
    "typo diameter": ("ete", "et", 9),
    "neg diameter": ("ter = ", "ter = -", 11),
    "zero diameter": ("6.", "", 11),
    "string diameter": ("6.0", '"6"', 11),
    "nan diameter": ("6.0", "nan", 11),
    "inf diameter": ("6.0", "inf", 11),
    "bool diameter": ("6.0", "true", 11),
    "list diameter": ("6.0", "[6.0]", 11),
    "mm suffix": ("6.0", "6.0mm", 11),
    "tool number float": ("r = 1", "r = 1.5", 10),
    "tool number string": ("r = 1", 'r = "1"', 10),
    "tool number neg": ("ber = ", "ber = -", 10),
    "no tool number": ("number = 1\n", "", 9),
    "no tool diameter": ("diameter = 6.0\n", "", 9),
    "dup tool": ("[[i", "[[tool]]\nnumber = 1\ndiameter = 4.0\n[[i", 13),
    "dup key": ("[[i", "diameter = 5.0\n[[i", 12),
    "dup condition": (
        "\n]\n",
        '\n]\n[[condition]]\ntool = 1\nmaterial = "ply"\nside = "hole"\ncut = "climb"\ninstrument = "caliper"\nreadings = [\n  { programmed = 10.0, x = 9.91, y = 9.93, date = 2026-10-03 },\n  { programmed = 25.0, x = 24.83, y = 24.85 },\n]\n',  # noqa: E501
        25,
    ),
    "dup instrument": ("[[c", '[[instrument]]\nname = "caliper"\nlimit = 0.02\n[[c', 16),
    "form bad": ("[[i", 'form = "flat"\n[[i', 12),
    "fitted string": ("[[i", 'fitted = "yesterday"\n[[i', 12),
    "flutes float": ("[[i", "flutes = 2.5\n[[i", 12),
    "limit neg": ("it = ", "it = -", 14),
    "limit nan": ("0.03", "nan", 14),
    "cond tool unknown": ("l = 1", "l = 2", 16),
    "cond no tool": ("tool = 1\n", "", 15),
    "side bad": ("hol", "bor", 18),
    "cut bad": ("imb", "imbing", 19),
    "no side": ('side = "hole"\n', "", 15),
    "instrument unknown": ('t = "cal', 't = "call', 20),
    "method bad": ("instrument ", 'method = "spline"\ninstrument ', 20),
    "feed neg": ("instrument ", "feed = -1\ninstrument ", 20),
    "material number": ('material = "ply"\ns', "material = 3\ns", 17),
    "readings string": (
        "[\n  { programmed = 10.0, x = 9.91, y = 9.93, date = 2026-10-03 },\n  { programmed = 25.0, x = 24.83, y = 24.85 },\n]",  # noqa: E501
        '"10=9.9"',
        21,
    ),
    "readings number list": (
        "\n  { programmed = 10.0, x = 9.91, y = 9.93, date = 2026-10-03 },\n  { programmed = 25.0, x = 24.83, y = 24.85 },\n",  # noqa: E501
        "10.0, 9.9",
        21,
    ),
    "reading no programmed": ("programmed = 10.0, ", "", 22),
    "reading no measured": ("x = 9.91, y = 9.93, ", "", 22),
    "reading x and diameter": ("0.0, ", "0.0, diameter = 9.9, ", 22),
    "reading neg": ("0.0, x = ", "0.0, x = -", 22),
    "reading string": ("9.91", '"9.91"', 22),
    "reading nan": ("9.91", "nan", 22),
    "reading inch off": ("9.91, y = 9.93", "0.390, y = 0.391", 22),
    "reading 25.4 up": ("9.91, y = 9.93", "251.7, y = 252.2", 22),
    "date string": ("2026-10-03", '"3.10.2026"', 22),
    "date bad": ("-10", "-13", 22),
    "reading key typo": ("  { programmed = 1", "  { programed = 1", 22),
    "reading unknown key": ("0.0, ", "0.0, d", 22),
    "def tool unknown": ("[l", "tool = 9\n[l", 7),
    "def side bad": ("[l", 'side = "pocket"\n[l', 7),
    "limit zero": ("2.", "", 8),
    "limit string": ("2.0", '"2 mm"', 8),
    "reach 10": ("correction = 2.", "reach = 1", 8),
    "sagitta neg": ("orrection = 2.0", "hord_sagitta = -1", 8),
    "key case": ("nu", "Nu", 9),
    "machine list": ("machine", "[machine]", 2),
}


def message(text: str) -> TableError:
    with pytest.raises(TableError) as refusal:
        open_table(text, "shop.toml")
    return refusal.value


@pytest.mark.parametrize("name", BROKEN)
def test_line_key_and_cure(name: str) -> None:
    old, new, line = BROKEN[name]
    assert SOUND.count(old) == 1
    error = message(SOUND.replace(old, new))
    assert error.place is not None and error.place.line == line
    assert error.place.name == "shop.toml" and str(error).startswith(f"shop.toml:{line}: ")
    key, colon, what = error.what.partition(": ")
    assert colon and what and re.fullmatch(r"[a-z0-9_., ]+|this is no valid TOML|toool|condition 2", key)
    assert len(error.cure) > 15 and error.cure[0].isupper()
    assert "Control characters" not in error.what and "\\x00" not in error.what


@pytest.mark.parametrize(
    ("name", "what", "cure"),
    [
        ("broken quote", "a text has no end", "closing quote"),
        ("comma decimal", "a comma out of place", "with a point"),
        ("mm suffix", "a number with something else", "without unit"),
        ("date bad", "no such date", "2026-10-03"),
        ("dup key", "a key stands twice", "Take one of the two away"),
        ("typo diameter", "tool 1, diameter: is missing", 'Is "diametr" meant for it?'),
        ("reading key typo", "readings 1, programmed: is missing", 'Is "programed" meant for it?'),
        ("key case", "tool 1, number: is missing", 'Is "Number" meant for it?'),
        ("unknown key", "machine.spindel: this key is not known", 'Did you mean "spindle"?'),
        ("decimals float", "2.5 is no whole number", "without a fraction"),
        ("limit string", "is no number", "without quotes or unit"),
        ("readings string", "a list of tables is wanted", "readings = [{ programmed = 20.0"),
        ("machine list", "a table with keys is wanted", "Write [machine] on a line of its own"),
        ("reading inch off", "off by a factor of about 25.4", "the unit that [machine] states"),
        ("reading 25.4 up", "off by a factor of about 25.4", "the unit that [machine] states"),
    ],
)
def test_what_a_machinist_can_act_on(name: str, what: str, cure: str) -> None:
    old, new, _ = BROKEN[name]
    error = message(SOUND.replace(old, new))
    assert what in error.what and cure in error.cure


def test_the_sound_table_is_taken() -> None:
    assert open_table(SOUND, "shop.toml").name == "shop"

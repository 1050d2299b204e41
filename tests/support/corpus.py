"""The folder of real programs beside the repository, and one run of the main job over each of them.

Nothing of them is copied here; tests that use them skip where the folder is absent.
"""

import csv
import re
import tomllib
from collections.abc import Collection
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

import sweep
from roundwright.calibration import open_table
from roundwright.errors import RoundwrightError
from roundwright.pipeline import Outcome, correct, list_features
from roundwright.read import read_program
from roundwright.settings import Settings
from roundwright.trace import trace_moves

FOLDER = Path(__file__).parents[3] / "shared" / "corpus"
#: for tests of real programs.
needed = pytest.mark.skipif(not FOLDER.exists(), reason="the folder of real programs is absent")
#: circles in them, read by hand.
_LABELS = Path(__file__).parents[1] / "whole" / "corpus_labels.toml"
LABELS = tomllib.loads(_LABELS.read_text(encoding="utf-8"))["circle"]
#: where the folder's list knows no tool, a made-up one lets the program run all the same.
MADE_UP = 3.0
_NUMBERED = re.compile(r"T(\d+) (?:D([\d.]+)|(\d+)/(\d+)in|([\d.]+)in)")
_NAMED = re.compile(r"name (\d{3})\b")  # thousandths of an inch in the program's name
_BARE = re.compile(r"^(?:D|name )?([\d.]+)")
TABLE = """schema = "roundwright.table/1"
[machine]
name = "trial"
units = "mm"
[defaults]
material = "birch ply"
[limits]
correction = 20.0
reach = 0.5
"""


@dataclass(frozen=True)
class Entry:
    """One program of the folder: its tools' diameters in mm by number, None for a single unnamed one."""

    path: Path
    tools: dict[int | None, float]
    known: bool
    note: str


def inch_of(path: Path) -> bool:
    moves = trace_moves(read_program(path.read_bytes(), path.name))
    return any(state.inch for state in moves.states[-1:])


@cache
def entries() -> dict[str, Entry]:
    """All programs that the folder's list names, by name, with the tools that it knows; none without it."""
    if not FOLDER.exists():
        return {}
    with (FOLDER / "MANIFEST.tsv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE))
    return {entry.path.name: entry for entry in map(_entry, rows)}


def _entry(row: dict[str, str]) -> Entry:
    path = FOLDER / row["file"]
    text = row["tool_diameter_known"]
    tools: dict[int | None, float] = {}
    for number, decimal, top, bottom, inches in _NUMBERED.findall(text):
        said = decimal or inches
        tools[int(number)] = float(said) if said else int(top) / int(bottom)
    named, bare = _NAMED.search(text), _BARE.match(text)
    if named:
        tools[None] = int(named[1]) / 1000
    elif not tools and bare and "vee" not in text:
        tools[None] = float(bare[1])
    scale = 25.4 if tools and inch_of(path) else 1.0
    tools = {number: diameter * scale for number, diameter in tools.items()}
    return Entry(path, tools or {None: MADE_UP}, bool(tools), row["note"])


def table_for(entry: Entry):
    """Every hole comes out 2 % small and every boss 2 % large, from 0.5 to 200 mm."""
    text = TABLE
    for number, diameter in entry.tools.items():
        key = f"number = {number}\n" if number is not None else ""
        text += f'[[tool]]\n{key}name = "cutter {number}"\ndiameter = {diameter}\n'
        for side, share in (("hole", 0.98), ("boss", 1.02)):
            tool = number if number is not None else f'"cutter {number}"'
            text += f'[[condition]]\ntool = {tool}\nmaterial = "birch ply"\n'
            text += f'side = "{side}"\ncut = "any"\nreadings = ['
            text += ", ".join(f"{{ programmed = {d}, diameter = {d * share} }}" for d in (0.5, 200.0)) + "]\n"
    return open_table(text, "trial.toml")


def settings_for(entry: Entry) -> Settings:
    """One tool for all where the list knows only one, else by number."""
    if len(entry.tools) == 1:
        return Settings(again=True, tools={None: f"cutter {next(iter(entry.tools))}"})
    return Settings(again=True)


@dataclass(frozen=True)
class Run:
    """What came of one program: an outcome, or the refusal."""

    entry: Entry
    outcome: Outcome | None
    refusal: RoundwrightError | None


def run(entry: Entry, dry: bool = False) -> Run:
    """Correct (or list) one program; only a RoundwrightError is a refusal."""
    data = entry.path.read_bytes()
    job = list_features if dry else correct
    try:
        return Run(entry, job(data, entry.path.name, table_for(entry), settings_for(entry)), None)
    except RoundwrightError as refusal:
        return Run(entry, None, refusal)


@cache
def corrected(name: str) -> Run:
    """What came of correcting one program, by its name."""
    return run(entries()[name])


def hear_only(monkeypatch: pytest.MonkeyPatch, codes: Collection[float]) -> None:
    """Make the plain interpreter of `sweep` pass over codes that it does not know, but for these."""
    heard = sweep._set

    def listen(state, letter, value):
        try:
            heard(state, letter, value)
        except ValueError:
            assert value not in codes

    monkeypatch.setattr(sweep, "_set", listen)

"""The table's conditions with their readings: references resolved, figures held against each other."""

from __future__ import annotations

from typing import cast

from roundwright.calibration.entry import Entry, shown
from roundwright.calibration.reading import Reading
from roundwright.calibration.sections import SIDES, instrument_name_of, mixed_up, tool_key_of
from roundwright.calibration.table import (
    Condition,
    CutSide,
    CutWay,
    Instrument,
    Method,
    Tool,
    find_tool,
    folded,
)

CUTS = ("climb", "conventional", "any")
FIGURES = ("x", "y", "d45", "d135", "diameter")
#: a reading is doubtful where it is off by more than both of these.
DOUBT_LENGTH = 5.0  # mm
DOUBT_SHARE = 0.20


def conditions_of(
    entries: list[Entry], tools: tuple[Tool, ...], instruments: tuple[Instrument, ...]
) -> tuple[Condition, ...]:
    """The conditions; no two of one tool, material, side and cut."""
    conditions = tuple(_condition(entry, tools, instruments) for entry in entries)
    seen: dict[object, int] = {}
    for entry, condition in zip(entries, conditions, strict=True):
        mark = (condition.tool, folded(condition.material or ""), condition.side, condition.cut)
        if condition.tool is None or not condition.material:
            continue
        if mark in seen:
            cure = "Move the readings into one of the two."
            entry.wrong("", f"{condition.label} stands already on line {seen[mark]}", cure)
        seen.setdefault(mark, condition.line)
    return conditions


def _condition(entry: Entry, tools: tuple[Tool, ...], instruments: tuple[Instrument, ...]) -> Condition:
    key = tool_key_of(entry, tools, need="Say which tool cut it: its number, or its name in quotes.")
    tool = None if key is None else find_tool(tools, key)
    material = entry.text("material", need='Say what was cut: material = "birch ply".')
    side = cast(CutSide, entry.choice("side", SIDES, need='Say side = "hole", "boss" or "groove".') or "hole")
    cut = _cut(entry, side)
    feed = entry.length("feed")
    speed = entry.number("speed", above=0.0)
    method = cast(Method, entry.choice("method", ("interpolate", "trend")) or "interpolate")
    instrument = instrument_name_of(entry, instruments)
    readings = tuple(
        _reading(item, side, instrument, instruments, tool) for item in entry.entries("readings")
    )
    if not readings:
        entry.doubt("readings", "there are none yet", "Cut circles of a few diameters and add them.")
    entry.close()
    fitted = tool.fitted if tool is not None else None
    return Condition(key, material, side, cut, feed, speed, method, instrument, readings, fitted, entry.line)


def _cut(entry: Entry, side: str) -> CutWay:
    need = "" if side == "groove" else 'Say cut = "climb", "conventional" or "any".'
    cut = entry.choice("cut", CUTS, need=need)
    if side == "groove" and cut not in (None, "any"):
        entry.wrong("cut", "a groove is cut both ways at once", 'Write cut = "any".')
    return cast(CutWay, cut or "any")


def _reading(
    entry: Entry, side: str, usual: str | None, instruments: tuple[Instrument, ...], tool: Tool | None
) -> Reading:
    programmed = entry.length("programmed", need="Give the diameter that was programmed.")
    x, y, d45, d135, diameter = (entry.length(key) for key in FIGURES)
    instrument = instrument_name_of(entry, instruments) or usual
    date = entry.day("date")
    note = entry.take("note")
    if note is not None and not isinstance(note, str):
        entry.wrong("note", f"{shown(note)} is no text", "Write it in quotes.")
    entry.close()
    _figures_agree(entry)
    if programmed is not None:
        _near(entry, programmed, dict(zip(FIGURES, (x, y, d45, d135, diameter), strict=True)))
        if side == "hole" and tool is not None and programmed < tool.diameter and tool.form == "cylindrical":
            cure = "Look at the tool's diameter, and whether inch and mm are mixed up."
            entry.doubt("programmed", "this hole is smaller than the tool", cure)
    jaws = next((i.jaw_width for i in instruments if i.name == instrument), 0.0) if side == "hole" else 0.0
    return Reading(
        programmed or 1.0, x, y, d45, d135, diameter, instrument, date, str(note or ""), jaws, entry.line
    )


def _figures_agree(entry: Entry) -> None:
    """A reading has X, Y or both, or else one figure."""
    axes = entry.has("x") or entry.has("y")
    if axes and entry.has("diameter"):
        cure = "Keep x and y, or diameter alone; a second measurement is a reading of its own."
        entry.wrong("diameter", "this stands beside x or y, and only one of them can count", cure)
    elif not axes and not entry.has("diameter"):
        what = "nothing is measured along X or Y" if _diagonal(entry) else "nothing is measured"
        entry.wrong("", what, "Give x and y, or diameter.")


def _diagonal(entry: Entry) -> bool:
    return entry.has("d45") or entry.has("d135")


def _near(entry: Entry, programmed: float, figures: dict[str, float | None]) -> None:
    """Note the first figure that is far from the programmed diameter."""
    for key, figure in figures.items():
        if figure is None:
            continue
        if mixed_up(figure, programmed):
            cure = "Every length of this file is in the unit that [machine] states."
            entry.wrong(key, "this is off by a factor of about 25.4: inch and mm are mixed up", cure)
            return
        off = abs(figure - programmed)
        if off > DOUBT_LENGTH and off > DOUBT_SHARE * programmed:
            share = 100 * off / programmed
            entry.doubt(key, f"this is {share:.0f} % off the programmed diameter", "Measure it again.")
            return

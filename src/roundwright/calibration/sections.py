"""The table's sections but the conditions: machine, defaults, limits, tools and instruments."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, TypeVar, cast

from roundwright.calibration.entry import Entry, listed, shown
from roundwright.calibration.table import (
    CutSide,
    Defaults,
    Instrument,
    Limits,
    Tool,
    ToolForm,
    ToolKey,
    find_tool,
    folded,
    number_in,
)
from roundwright.calibration.text import likely
from roundwright.settings import Machine
from roundwright.units import GRAIN_DIGITS, INCH

SIDES = ("hole", "boss", "groove")
FORMS = ("cylindrical", "tapered", "ball", "vee")
#: a tool that measures this much more or less than programs assume is doubtful.
_TOOL_DOUBT = 0.10
#: how near to 25.4 (or its inverse) a ratio of two lengths must be to be taken for an inch/mm mix-up.
_MIX_UP = 0.20

Item = TypeVar("Item")


def machine_of(entry: Entry, limits: Entry) -> tuple[str, Machine]:
    """The machine's name, and what finding circles must know of it. Sets the unit of all that follows."""
    unit = entry.choice(
        "units", ("mm", "in"), need='Say the unit of all lengths in this file: units = "mm" or "in".'
    )
    entry.notes.inch = unit == "in"
    name = entry.text("name", need='Name the machine: name = "shop-router".')
    spindle = entry.choice("spindle", ("clockwise", "counter-clockwise"))
    axis = entry.choice("spindle_axis", ("X", "Y", "Z"))
    compensation = entry.choice("compensation", ("contour", "wear"))
    decimals = entry.whole("decimals", least=1, most=GRAIN_DIGITS)
    sagitta = limits.length("chord_sagitta")
    entry.close()
    return name or "", Machine(
        spindle_axis=cast(Literal["X", "Y", "Z"], axis or "Z"),
        clockwise=spindle != "counter-clockwise",
        contour=compensation != "wear",
        chord_sagitta=Machine().chord_sagitta if sagitta is None else sagitta,
        decimals=decimals,
    )


def limits_of(entry: Entry) -> Limits:
    """The limits, with the defaults (physical lengths) where the file is silent."""
    correction = entry.length("correction")
    reach = entry.number("reach", least=0.0, most=1.0)
    deadband = entry.length("deadband", above=float("-inf"), least=0.0)
    entry.close()
    usual = Limits()
    return Limits(
        usual.correction if correction is None else correction,
        usual.reach if reach is None else reach,
        usual.deadband if deadband is None else deadband,
    )


def defaults_of(entry: Entry, tools: tuple[Tool, ...]) -> Defaults:
    """What holds where program and command line are silent."""
    material = entry.text("material")
    tool = tool_key_of(entry, tools)
    side = entry.choice("side", SIDES)
    cut = entry.choice("cut", ("climb", "conventional"))
    entry.close()
    return Defaults(
        material, tool, cast("CutSide | None", side), cast("Literal['climb', 'conventional'] | None", cut)
    )


def tools_of(entries: list[Entry]) -> tuple[Tool, ...]:
    """The tools; no two of one number or name."""
    tools = tuple(_tool(entry) for entry in entries)
    _no_twins(entries, tools, "number", lambda tool: tool.number)
    _no_twins(entries, tools, "name", lambda tool: folded(tool.name))
    for entry, tool in zip(entries, tools, strict=True):
        number = number_in(tool.name)
        if number not in (None, tool.number) and any(t.number == number for t in tools):
            entry.wrong("name", f"{shown(tool.name)} reads like another tool's number", "Name it otherwise.")
    return tools


def _tool(entry: Entry) -> Tool:
    number = entry.whole("number", least=0, most=10**9 - 1)
    name = entry.text("name")
    if number is None and name is None and not (entry.has("number") or entry.has("name")):
        entry.missing("number", "Give the tool a number or a name.")
    diameter = entry.length("diameter", need="Give the diameter that programs are made for.") or 1.0
    measured = entry.length("measured")
    if measured is not None and abs(measured - diameter) > _TOOL_DOUBT * diameter:
        cure = "Measure it again, or mend the diameter."
        if mixed_up(measured, diameter):
            entry.wrong("measured", "this is off by a factor of 25.4: inch and mm are mixed up", cure)
        else:
            entry.doubt("measured", "this is over 10 % off the tool's diameter", cure)
    flutes = entry.whole("flutes", least=1, most=100)
    form = entry.choice("form", FORMS) or "cylindrical"
    fitted = entry.day("fitted")
    entry.close()
    name = name or f"T{number}"
    return Tool(number, name, diameter, measured, flutes, cast(ToolForm, form), fitted, entry.line)


def instruments_of(entries: list[Entry]) -> tuple[Instrument, ...]:
    """The instruments; no two of one name."""
    instruments = tuple(_instrument(entry) for entry in entries)
    _no_twins(entries, instruments, "name", lambda instrument: folded(instrument.name))
    return instruments


def _instrument(entry: Entry) -> Instrument:
    name = entry.text("name", need='Name it, as readings will: name = "caliper".')
    limit = entry.length("limit", need="Say within plus or minus how much its readings are.")
    jaws = entry.length("jaw_width", above=float("-inf"), least=0.0)
    entry.close()
    return Instrument(name or "", limit or 1.0, jaws or 0.0)


def tool_key_of(entry: Entry, tools: tuple[Tool, ...], need: str = "") -> ToolKey | None:
    """The key of the tool that the entry's `tool` names, by number or name; it must be in the table."""
    value = entry.take("tool", need)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | str):
        entry.wrong("tool", f"{shown(value)} is no tool", "Give its number, or its name in quotes.")
        return None
    tool = find_tool(tools, value)
    if tool is None:
        entry.wrong("tool", f"there is no tool {shown(value)} in this table", _which(str(value), tools))
        return None
    return tool.key


def instrument_name_of(entry: Entry, instruments: tuple[Instrument, ...]) -> str | None:
    """The name of the instrument that the entry's `instrument` names; it must be in the table."""
    value = entry.text("instrument")
    if value is None:
        return None
    names = [instrument.name for instrument in instruments]
    for name in names:
        if folded(name) == folded(value):
            return name
    meant = likely(value, names)
    cure = f'Did you mean "{meant[0]}"?' if meant else "Add it as an [[instrument]] with its limit."
    entry.wrong("instrument", f"there is no instrument {shown(value)} in this table", cure)
    return None


def mixed_up(one: float, other: float) -> bool:
    """Whether two lengths that should be alike differ by about 25.4: one is in inches, one in mm."""
    ratio = max(one, other) / min(one, other) / INCH
    return abs(ratio - 1.0) <= _MIX_UP


def _which(value: str, tools: tuple[Tool, ...]) -> str:
    if not tools:
        return "Add it as a [[tool]] with its diameter."
    names = [str(tool.key) for tool in tools]
    meant = likely(value, [*names, *(tool.name for tool in tools)])
    hint = f'Did you mean "{meant[0]}"? ' if meant else ""
    return f"{hint}Known: {listed(names[:12])}. Or add a [[tool]]."


def _no_twins(
    entries: list[Entry], items: tuple[Item, ...], key: str, identity: Callable[[Item], object]
) -> None:
    """Note every item whose identity an earlier one has."""
    seen: dict[object, int] = {}
    for entry, item in zip(entries, items, strict=True):
        mark = identity(item)
        if mark in (None, "") or not entry.has(key):
            continue
        if mark in seen:
            what = f"{shown(entry.values[key])} stands already on line {seen[mark]}"
            entry.wrong(key, what, "Take one of the two away, or rename it.")
        seen.setdefault(mark, entry.line)

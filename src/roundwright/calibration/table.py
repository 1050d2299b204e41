"""The calibration table of one machine as frozen values, and how a feature's condition is looked up."""

from __future__ import annotations

import re
from datetime import date as Day
from sys import intern
from typing import Literal

from msgspec import Struct

from roundwright.calibration.reading import Reading
from roundwright.settings import Machine

ToolForm = Literal["cylindrical", "tapered", "ball", "vee"]
ToolKey = int | str
CutSide = Literal["hole", "boss", "groove"]
CutWay = Literal["climb", "conventional", "any"]
Method = Literal["interpolate", "trend"]

#: a number as it is typed to name a tool: "1", "01" or "T1".
_NUMBER = re.compile(r"[Tt]?([0-9]{1,9})")


class Defaults(Struct, frozen=True):
    """What holds where neither the program nor the command line says it; None where nothing does."""

    material: str | None = None
    tool: ToolKey | None = None
    side: CutSide | None = None
    cut: Literal["climb", "conventional"] | None = None


class Limits(Struct, frozen=True):
    """How far a correction may go. Lengths in mm; `reach` is a fraction of the end diameter."""

    correction: float = 2.0
    reach: float = 0.10
    deadband: float = 0.0


class Tool(Struct, frozen=True):
    """A cutter of the machine. `diameter` in mm is what programs are made for."""

    number: int | None
    name: str
    diameter: float
    measured: float | None = None
    flutes: int | None = None
    form: ToolForm = "cylindrical"
    fitted: Day | None = None
    line: int = 0

    @property
    def key(self) -> ToolKey:
        """Its number, or its name where it has none."""
        return self.name if self.number is None else self.number


class Instrument(Struct, frozen=True):
    """What readings are taken with: within plus or minus `limit`; `jaw_width` of flat jaws. mm."""

    name: str
    limit: float
    jaw_width: float = 0.0


class Condition(Struct, frozen=True):
    """The readings of one tool, material, side and cut.

    `tool` and `material` are None only where readings serve every tool and material (`measured_table`).
    `fitted` is the day on which the tool's present bit was fitted. `feed` is in mm/min.
    """

    tool: ToolKey | None
    material: str | None
    side: CutSide
    cut: CutWay
    feed: float | None = None
    speed: float | None = None
    method: Method = "interpolate"
    instrument: str | None = None
    readings: tuple[Reading, ...] = ()
    fitted: Day | None = None
    line: int = 0

    @property
    def label(self) -> str:
        """How it is named to people: "T1 / birch ply / hole / climb"."""
        if self.tool is None:
            return intern(f"as measured / {self.side} / {self.cut}")
        tool = f"T{self.tool}" if isinstance(self.tool, int) else self.tool
        return intern(f"{tool} / {self.material} / {self.side} / {self.cut}")

    @property
    def used(self) -> tuple[Reading, ...]:
        """The readings that count: all, or those that are not older than the tool's present bit.

        A reading without a date cannot be shown to be of a bit with one, so it does not count either.
        """
        since = self.fitted
        if since is None:
            return self.readings
        return tuple(r for r in self.readings if r.date is not None and r.date >= since)


class Table(Struct, frozen=True):
    """One machine's calibration table. Lengths in mm; `inch` says what unit its text is in."""

    name: str
    file: str
    inch: bool
    machine: Machine
    defaults: Defaults
    limits: Limits
    tools: tuple[Tool, ...]
    instruments: tuple[Instrument, ...]
    conditions: tuple[Condition, ...]

    def tool(self, key: ToolKey) -> Tool | None:
        """The tool of that number, or name, or text of a number; None where there is none."""
        return find_tool(self.tools, key)

    def instrument(self, name: str) -> Instrument | None:
        """The instrument of that name; None where there is none."""
        return next((i for i in self.instruments if folded(i.name) == folded(name)), None)

    def condition(self, tool: ToolKey | None, material: str | None, side: str, cut: str) -> Condition | None:
        """The one condition with this tool, material, side and cut, or with the cut `any`; else None.

        `cut` may be anything that a feature's cut can be: "both" and "unknown" are served by `any` alone,
        and so is a groove. Nothing is taken from another tool, material or side.
        """
        ways = ("any",) if side == "groove" else (cut, "any")
        for way in ways:
            for condition in self.conditions:
                if (
                    condition.side == side
                    and condition.cut == way
                    and self._serves(condition, tool, material)
                ):
                    return condition
        return None

    def own_condition(self, tool: ToolKey, material: str, side: str, cut: str) -> Condition | None:
        """The condition of exactly this tool, material, side and cut, where there is one."""
        for condition in self.conditions:
            own = (condition.side, condition.cut) == (side, cut) and condition.tool is not None
            if own and self._serves(condition, tool, material):
                return condition
        return None

    def _serves(self, condition: Condition, tool: ToolKey | None, material: str | None) -> bool:
        if condition.tool is None:
            return True
        if tool is None or material is None or condition.material is None:
            return False
        wanted = self.tool(tool)
        return (
            wanted is not None
            and wanted == self.tool(condition.tool)
            and folded(condition.material) == folded(material)
        )


def find_tool(tools: tuple[Tool, ...], key: ToolKey) -> Tool | None:
    """The tool of that number, or name (case and blanks aside), or text of a number ("1", "T1")."""
    if isinstance(key, str):
        named = next((tool for tool in tools if folded(tool.name) == folded(key)), None)
        number = number_in(key)
        if named is not None or number is None:
            return named
        key = number
    return next((tool for tool in tools if tool.number == key), None)


def number_in(text: str) -> int | None:
    """The tool number that a text names ("1", "01", "T1"); None where it is none."""
    number = _NUMBER.fullmatch(text.strip())
    return None if number is None else int(number[1])


def folded(name: str) -> str:
    """The form in which names and materials are compared: blanks and case don't count."""
    return " ".join(name.split()).casefold()

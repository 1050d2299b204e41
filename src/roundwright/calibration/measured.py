"""The first day, without a table: a few measured circles that serve as one, and the text to keep them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date as Day

from msgspec.structs import replace

from roundwright.calibration.reading import Reading
from roundwright.calibration.sections import mixed_up
from roundwright.calibration.table import Condition, CutSide, Defaults, Limits, Table
from roundwright.calibration.text import quoted
from roundwright.errors import SettingsError
from roundwright.settings import Machine
from roundwright.units import millimetres

NAME = "as measured"
Pairs = Sequence[tuple[float, float]]
_TEXT = """\
schema = "roundwright.table/1"

[machine]
name = {name}
units = "{units}"

[[tool]]
number = {tool}
diameter = {diameter}  # what programs are made for; where it is 0, type it in

[[condition]]
tool = {tool}
material = {material}  # what was cut; where it is empty, type it in
side = "{side}"
cut = "any"  # climb or conventional, where you know which it was
readings = [
{rows}]
"""


def measured_table(
    pairs: Pairs,
    inch: bool,
    machine: Machine | None = None,
    *,
    side: CutSide = "hole",
    base: Table | None = None,
) -> Table:
    """A table whose one condition serves every tool, material and cut of one side.

    `pairs` are programmed and measured diameters in inches or mm; `side` is what they were measured on, and
    no other side is served. `base` is a table whose machine, tools, limits and defaults hold. There is never
    an uncertainty: no instrument is known. Raises SettingsError where a pair makes no sense.
    """
    readings = tuple(_reading(programmed, measured, inch) for programmed, measured in pairs)
    if not readings:
        raise SettingsError(
            "no measured circle was given", cure="Give one as PROGRAMMED=MEASURED, say 20=19.91."
        )
    condition = Condition(None, None, side, "any", readings=readings)
    if base is not None:
        machine = machine or base.machine
        return replace(base, inch=inch, machine=machine, instruments=(), conditions=(condition,))
    return Table(
        NAME, NAME, inch, machine or Machine(), Defaults(), Limits(), (), (), conditions=(condition,)
    )


def table_text_for(
    pairs: Pairs,
    inch: bool,
    *,
    tool_diameter: float | None = None,
    tool: int = 1,
    material: str | None = None,
    side: CutSide = "hole",
    name: str = "my-machine",
    day: Day | None = None,
) -> str:
    """The text of a table that holds these pairs, to keep and to type into.

    `tool_diameter` is in the unit of the pairs; where it is not known a 0 stands in its place, which
    `open_table` refuses by line, so that nobody forgets it. So does a material that is not known.
    Raises SettingsError as `measured_table` does.
    """
    measured_table(pairs, inch, side=side)
    dated = f", date = {day.isoformat()}" if day is not None else ""
    return _TEXT.format(
        name=quoted(name),
        units="in" if inch else "mm",
        tool=tool,
        diameter="0" if tool_diameter is None else repr(float(tool_diameter)),
        material=quoted(material or ""),
        side=side,
        rows="".join(
            f"  {{ programmed = {float(p)!r}, diameter = {float(m)!r}{dated} }},\n" for p, m in pairs
        ),
    )


def _reading(programmed: float, measured: float, inch: bool) -> Reading:
    said = f"{programmed:g}={measured:g}"
    if not all(math.isfinite(figure) and 0.0 < figure < 1e9 for figure in (programmed, measured)):
        raise SettingsError(
            f"{said} are no two diameters", cure="Give PROGRAMMED=MEASURED, both more than 0."
        )
    if mixed_up(programmed, measured):
        raise SettingsError(
            f"in {said} one figure is about 25.4 times the other: inch and mm are mixed up",
            cure="Give both in the same unit.",
        )
    if abs(measured - programmed) > 0.5 * programmed:
        raise SettingsError(
            f"in {said} the two are over 50 % apart",
            cure="Give PROGRAMMED=MEASURED of one and the same circle.",
        )
    return Reading(millimetres(programmed, inch=inch), diameter=millimetres(measured, inch=inch))

"""Which cutter cuts each section of a program: what the caller says, then the program, then the table."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

from roundwright.calibration import Table
from roundwright.errors import SettingsError
from roundwright.settings import Cutter, Settings
from roundwright.trace.moves import Section
from roundwright.units import INCH


def cutters_of(
    sections: Sequence[Section], table: Table | None, settings: Settings
) -> dict[int, Cutter | None]:
    """The cutter of each section by its index, None where it cannot be known.

    Raises SettingsError where the caller names a tool that neither the table nor `--diameter` knows.
    """
    return {k: _cutter(k, section, table, settings) for k, section in enumerate(sections)}


def doubted(
    sections: Sequence[Section],
    cutters: Mapping[int, Cutter | None],
    remarks: Iterable[tuple[int, bytes]],
    settings: Settings,
) -> tuple[Section, ...]:
    """The sections with what is doubtful of their tools, less the doubts that the caller has settled.

    `remarks` are the program's comments by line, at least those with a `STATING` in them. One that states
    another diameter than the cutter's, in either unit, puts the tool in doubt: with a wrong diameter every
    size, and even a side, would be wrong.
    """
    sized = {k: c for k, c in cutters.items() if c and c.diameter not in settings.diameters.values()}
    doubts = {
        k: f"{section.doubtful}; say which tool cuts: --tool @{k + 1}=TOOL"
        if section.doubtful and f"@{k + 1}" not in settings.tools
        else ""
        for k, section in enumerate(sections)
    }
    for line, text in remarks if sized else ():
        for k, stated in _stated(text, line, sections):
            cutter = sized.get(k)
            if cutter and not doubts[k] and not _agree(stated, cutter.diameter):
                key = sections[k].tool if sections[k].tool is not None else cutter.name
                doubts[k] = (
                    f"a comment in line {line + 1} says that this tool has a diameter of {stated:g}, "
                    f"not the table's; say which is right with --diameter {key}=DIAMETER"
                )
    return tuple(Section(section.tool, section.line, doubts[k]) for k, section in enumerate(sections))


#: "T3 ... D=6.35", "T3 ... DIA-0.25"; and "TOOL DIA. 4", "cutter diameter: 3.0". Common practice, no source.
#: In any case; compiled by the first comment. Both need the letter `STATING`.
STATING = "D"
_OF_NUMBER = rb"\bT\s*0*(\d+)\b[^;]*?\bD(?:IA(?:M(?:ETER)?)?)?\s*\.?\s*[=:-]\s*(\d*\.?\d+)"
_OF_TOOL = rb"\b(?:tool|cutter|bit|end[\s_]?mill\w*)\s+dia(?:m(?:eter)?)?\b\.?\s*[=:-]?\s*(\d*\.?\d+)"


def _stated(text: bytes, line: int, sections: Sequence[Section]) -> Iterator[tuple[int, float]]:
    """The sections that a comment speaks of, and the diameter that it states."""
    numbered = re.search(_OF_NUMBER, text, re.IGNORECASE)
    if numbered:
        for k, section in enumerate(sections):
            if section.tool == int(numbered[1]):
                yield k, float(numbered[2])
        return
    spoken = re.search(_OF_TOOL, text, re.IGNORECASE)
    if spoken:
        here = max((k for k, section in enumerate(sections) if section.line <= line), default=0)
        yield here, float(spoken[1])


def _agree(stated: float, diameter: float) -> bool:
    """Whether a stated number is the diameter (mm), in millimetres or in inches, within 1 %."""
    return any(abs(stated * unit - diameter) <= 0.01 * diameter for unit in (1.0, INCH))


def _cutter(place: int, section: Section, table: Table | None, settings: Settings) -> Cutter | None:
    said = _said(place, section, settings)
    key: int | str | None = said if said is not None else section.tool
    if key is None and place == 0 and table is not None:
        key = table.defaults.tool
    if key is None:
        return None
    tool = table.tool(key) if table is not None else None
    names = {str(key), *((tool.name, str(tool.number)) if tool else ())}
    diameter = _diameter(names, settings.diameters)
    if tool is None and diameter is None:
        if said is None:
            return None
        where = (
            f"the table {table.name} has no tool {said}" if table else f"no table says what tool {said} is"
        )
        raise SettingsError(where, cure=f"Add it to the table or say --diameter {said}=DIAMETER")
    return Cutter(
        name=tool.name if tool else str(key),
        diameter=diameter if diameter is not None else tool.diameter if tool else 0.0,
        number=tool.number if tool else key if isinstance(key, int) else None,
        cylindrical=tool is None or tool.form == "cylindrical",
    )


def _said(place: int, section: Section, settings: Settings) -> str | None:
    """What the caller says of this section: by section, by the program's number, or for all of it."""
    keys: tuple[int | str | None, ...] = (f"@{place + 1}", section.tool, None)
    return next((settings.tools[key] for key in keys if key in settings.tools), None)


def _diameter(names: set[str], diameters: Mapping[str, float]) -> float | None:
    folded = {" ".join(name.split()).casefold() for name in names}
    for name, diameter in diameters.items():
        if " ".join(name.split()).casefold().removeprefix("t") in folded or name.casefold() in folded:
            return diameter
    return None

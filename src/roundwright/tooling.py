"""Which cutter cuts each section of a program: what the caller says, then the program, then the table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from roundwright.calibration import Table
from roundwright.errors import SettingsError
from roundwright.settings import Cutter, Settings
from roundwright.trace.moves import Section


def cutters_of(
    sections: Sequence[Section], table: Table | None, settings: Settings
) -> dict[int, Cutter | None]:
    """The cutter of each section by its index, None where it cannot be known.

    Raises SettingsError where the caller names a tool that neither the table nor `--diameter` knows.
    """
    return {k: _cutter(k, section, table, settings) for k, section in enumerate(sections)}


def settled(sections: Sequence[Section], settings: Settings) -> tuple[Section, ...]:
    """The sections without the doubts that the caller has settled by naming the tool."""
    return tuple(
        Section(section.tool, section.line) if section.doubtful and f"@{k + 1}" in settings.tools else section
        for k, section in enumerate(sections)
    )


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

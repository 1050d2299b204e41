"""A table's readings as CSV, for spreadsheets, and what of such a sheet the table has not got yet."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable
from datetime import date as Day
from typing import Any, cast

from msgspec.structs import replace

from roundwright.calibration.addition import FIGURES, Addition
from roundwright.calibration.conditions import CUTS
from roundwright.calibration.reading import Reading
from roundwright.calibration.sections import SIDES
from roundwright.calibration.table import CutSide, CutWay, Table, folded
from roundwright.calibration.text import written
from roundwright.errors import Place, SettingsError, TableError
from roundwright.units import parse_length

COLUMNS = (
    *("tool", "material", "side", "cut", "programmed"),
    *("x", "y", "d45", "d135", "diameter", "instrument", "date", "note"),
)
_NEEDED = ("tool", "material", "side", "cut", "programmed")


def sheet_of(table: Table) -> str:
    """All readings of the table as CSV, one a row, in its order; lengths in the table's units."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(COLUMNS)
    for condition in table.conditions:
        head = (condition.tool, condition.material, condition.side, condition.cut)
        for reading in condition.readings:
            lengths = (reading.programmed, *(getattr(reading, key) for key in FIGURES))
            day = "" if reading.date is None else reading.date.isoformat()
            cells = (_cell(length, table) for length in lengths)
            rows.writerow([*head, *cells, reading.instrument or "", day, reading.note])
    return text.getvalue()


def readings_of_sheet(text: str, name: str, table: Table) -> tuple[tuple[int, Addition], ...]:
    """The readings of a CSV text, each with its line (from 1); `name` is the file's, for messages.

    The first row names the columns, in any order; those that hold nothing may be left out. Lengths are in
    the table's units or end in mm or in. Semicolons or tabs may stand between the columns; then decimal
    commas are taken. Raises TableError with the line of the first thing that is wrong.
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    mark = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), delimiter=mark)
    columns: list[str] | None = None
    found: list[tuple[int, Addition]] = []
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if columns is None:
                columns = _columns(cells)
                continue
            if any(cell.strip() for cell in cells[len(columns) :]):
                raise SettingsError("this row has more cells than there are columns")
            row = {key: cell.strip() for key, cell in zip(columns, cells, strict=False)}
            found.append((reader.line_num, _addition(row, table, comma=mark != ",")))
    except SettingsError as error:
        place = Place(name, reader.line_num)
        raise TableError(error.what, place=place, cure=f"{error.cure} Nothing was added.".strip()) from error
    except csv.Error as error:
        raise TableError(f"this is no CSV: {error}", place=Place(name, reader.line_num)) from error
    if columns is None:
        raise TableError("the sheet is empty", place=Place(name), cure=_WANTED)
    return tuple(found)


def not_there_yet(table: Table, readings: Iterable[tuple[int, Addition]]) -> tuple[tuple[int, Addition], ...]:
    """Those readings that the table lacks: of equal ones, as many as it has fewer than the sheet."""
    have = Counter(
        _mark(table, Addition(condition.tool, condition.material, condition.side, condition.cut, reading))
        for condition in table.conditions
        if condition.tool is not None and condition.material is not None
        for reading in condition.readings
    )
    new = []
    for line, addition in readings:
        mark = _mark(table, addition)
        if have[mark]:
            have[mark] -= 1
        else:
            new.append((line, addition))
    return tuple(new)


_WANTED = f"Its first row names the columns: {','.join(COLUMNS)}."


def _columns(cells: list[str]) -> list[str]:
    columns = [cell.strip().casefold() for cell in cells]
    while columns and not columns[-1]:
        columns.pop()
    odd = [column for column in columns if column not in COLUMNS]
    if odd:
        raise SettingsError(f"{odd[0] or 'an empty name'} is no column of readings", cure=_WANTED)
    if len(set(columns)) < len(columns):
        raise SettingsError("a column stands twice", cure=_WANTED)
    lacking = [column for column in _NEEDED if column not in columns]
    if lacking or not set(FIGURES) & set(columns):
        raise SettingsError(f"the column {(lacking or ['x'])[0]} is missing", cure=_WANTED)
    return columns


def _addition(row: dict[str, str], table: Table, *, comma: bool) -> Addition:
    """A row as a reading. Raises SettingsError, without a place."""
    for column in _NEEDED:
        if not row.get(column):
            raise SettingsError(f"{column} is missing")
    tool = table.tool(row["tool"])
    if tool is None:
        raise SettingsError(
            f"the table has no tool {row['tool']}", cure="Add it as a [[tool]] with its diameter first."
        )
    _one_of(row["side"], SIDES, "side")
    _one_of(row["cut"], CUTS, "cut")
    lengths: dict[str, Any] = {
        key: _parsed(row[key].replace(",", ".") if comma else row[key], key, table.inch)
        for key in ("programmed", *FIGURES)
        if row.get(key)
    }
    if not {"x", "y", "diameter"} & set(lengths):
        raise SettingsError("nothing is measured", cure="Give x and y, or diameter.")
    reading = replace(
        Reading(lengths.pop("programmed")),
        instrument=row.get("instrument") or None,
        date=_day(row.get("date", "")),
        note=row.get("note", ""),
        **lengths,
    )
    cut = "any" if row["side"] == "groove" else row["cut"]
    return Addition(tool.key, row["material"], cast(CutSide, row["side"]), cast(CutWay, cut), reading)


def _parsed(text: str, key: str, inch: bool) -> float:
    try:
        length = parse_length(text, inch=inch)
    except SettingsError as error:
        raise SettingsError(f"{key}: {error.what}", cure=error.cure) from error
    if length <= 0.0:
        raise SettingsError(f"{key}: {text} must be more than 0")
    return length


def _one_of(word: str, options: tuple[str, ...], key: str) -> None:
    if word not in options:
        raise SettingsError(f"{key}: {word!r} is not known here", cure=f"It can be {', '.join(options)}.")


def _day(text: str) -> Day | None:
    try:
        return Day.fromisoformat(text) if text else None
    except ValueError as error:
        raise SettingsError(f"{text!r} is no date", cure="Write it as year-month-day: 2026-10-03.") from error


def _mark(table: Table, addition: Addition) -> tuple[object, ...]:
    """What two readings have in common that are the same."""
    reading = addition.reading
    tool = table.tool(addition.tool)
    condition = table.own_condition(addition.tool, addition.material, addition.side, addition.cut)
    instrument = reading.instrument or (condition.instrument if condition is not None else None) or ""
    lengths = (reading.programmed, *(getattr(reading, key) for key in FIGURES))
    return (
        tool.key if tool is not None else addition.tool,
        folded(addition.material),
        addition.side,
        addition.cut,
        *(_cell(length, table) for length in lengths),
        folded(instrument),
        reading.date,
        " ".join(reading.note.split()),
    )


def _cell(length: float | None, table: Table) -> str:
    return "" if length is None else written(length, inch=table.inch).removesuffix(".0")

"""From the figures of measured circles to readings for the table; what cannot be is refused."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from datetime import date as Day
from typing import cast

from msgspec import Struct

from roundwright.calibration import Addition, Reading, Table
from roundwright.calibration.sections import mixed_up
from roundwright.calibration.table import CutSide, CutWay
from roundwright.coupon.record import FIGURES, Record, Recorded
from roundwright.errors import Place, RoundwrightError, SettingsError
from roundwright.units import millimetres, native, parse_length

COLUMNS = ("id", *FIGURES, "instrument", "date", "note")
#: programmed diameters are kept to these decimals: finer than any two of them differ on purpose.
_DECIMALS_MM, _DECIMALS_INCH = 3, 5


class Taken(Struct, frozen=True):
    """The figures of one circle in mm, by their names, as the instrument showed them."""

    circle: Recorded
    figures: Mapping[str, float]
    instrument: str | None = None
    date: Day | None = None
    note: str = ""
    place: Place | None = None


def addition_of(taken: Taken, table: Table, *, corrected: bool) -> Addition:
    """The reading for the table, at the diameter that was programmed in the program that was cut.

    It goes into the condition that serves the circle, else into one of its own. Raises SettingsError where
    tool, material or cut leave open which that is.
    """
    circle = taken.circle
    material, cut = _condition_of(circle, table)
    instrument = taken.instrument
    condition = table.condition(circle.tool, material, circle.side, cut)
    usual = instrument or (condition.instrument if condition is not None else None)
    known = None if usual is None else table.instrument(usual)
    programmed = circle.programmed if corrected else circle.original
    decimals = _DECIMALS_INCH if table.inch else _DECIMALS_MM
    rounded = round(native(programmed, inch=table.inch), decimals)
    reading = Reading(
        programmed=millimetres(rounded, inch=table.inch),
        x=taken.figures.get("x"),
        y=taken.figures.get("y"),
        d45=taken.figures.get("d45"),
        d135=taken.figures.get("d135"),
        diameter=taken.figures.get("diameter"),
        instrument=instrument,
        date=taken.date,
        note=taken.note,
        jaw_width=known.jaw_width if known is not None and circle.side == "hole" else 0.0,
    )
    return Addition(
        circle.tool, material, cast(CutSide, circle.side), cut, reading, circle.feed, circle.speed
    )


def _condition_of(circle: Recorded, table: Table) -> tuple[str, CutWay]:
    if table.tool(circle.tool) is None:
        raise SettingsError(
            f"{circle.id}: the table {table.name} has no tool {circle.tool}",
            cure="Is it the right machine's table? Else add the tool with its diameter first",
        )
    if circle.material is None:
        raise SettingsError(
            f"{circle.id}: the record names no material",
            cure='Write it into the record: its key "material"',
        )
    serving = table.condition(circle.tool, circle.material, circle.side, circle.cut)
    if serving is not None:
        return circle.material, serving.cut
    if circle.side == "groove" or circle.cut == "both":
        return circle.material, "any"
    if circle.cut == "unknown":
        raise SettingsError(
            f"{circle.id}: whether it was cut climb or conventional is not known",
            cure='Write it into the record: its key "cut"',
        )
    return circle.material, cast(CutWay, circle.cut)


def wrong_figure(figure: float, programmed: float) -> str:
    """Why a figure (mm) cannot be of this circle; empty where it can."""
    if figure <= 0:
        return "a diameter is more than nothing"
    if mixed_up(figure, programmed):
        return "this is off by a factor of about 25.4: inch and mm are mixed up"
    return ""


def readings_of_csv(text: str, record: Record, table: Table, name: str, today: Day) -> list[Taken]:
    """The readings of a spreadsheet, one row a circle, lengths in the table's units.

    Rows without figures are left out; a row without a date is of `today`. Semicolons may stand between the
    columns, and then decimal commas are taken. Raises RoundwrightError with the line of what is wrong.
    """
    head = text.partition("\n")[0]
    semicolons = ";" in head
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=";" if semicolons else ",")
    columns = [column.strip().casefold() for column in next(rows, [])]
    _check_columns(columns, name)
    taken: dict[str, Taken] = {}
    for cells in rows:
        place = Place(name, rows.line_num)
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) > len(columns):
            raise RoundwrightError("this row has more cells than there are columns", place=place)
        row = {column: cell.strip() for column, cell in zip(columns, cells, strict=False)}
        if semicolons:
            row |= {key: row[key].replace(",", ".") for key in FIGURES if key in row}
        one = _row(row, record, table, place, today)
        if one is None:
            continue
        if one.circle.id in taken:
            raise RoundwrightError(f"{one.circle.id} stands twice", place=place, cure="Keep one of the two")
        taken[one.circle.id] = one
    return list(taken.values())


def _check_columns(columns: list[str], name: str) -> None:
    odd = [column for column in columns if column not in COLUMNS]
    twice = len(set(columns)) < len(columns)
    if "id" not in columns or odd or twice or not set(FIGURES) & set(columns):
        raise RoundwrightError(
            f"the columns {', '.join(columns) or 'are missing'} are not those of readings",
            place=Place(name, 1),
            cure=f"Begin with the line {','.join(COLUMNS)}",
        )


def _row(row: Mapping[str, str], record: Record, table: Table, place: Place, today: Day) -> Taken | None:
    circle = next((c for c in record.features if c.id.casefold() == row["id"].casefold()), None)
    if circle is None:
        raise RoundwrightError(f"the record has no circle {row['id']!r}", place=place)
    figures: dict[str, float] = {}
    try:
        for key in FIGURES:
            if row.get(key):
                figures[key] = parse_length(row[key], inch=table.inch)
        if not figures:
            return None
        instrument = instrument_named(row.get("instrument", ""), table)
        day = Day.fromisoformat(row["date"]) if row.get("date") else today
        _check_figures(figures, circle)
    except (SettingsError, ValueError) as error:
        cure = error.cure if isinstance(error, SettingsError) else "Dates are written 2026-10-03"
        what = error.what if isinstance(error, SettingsError) else f"{row['date']!r} is no date"
        raise RoundwrightError(f"{circle.id}: {what}", place=place, cure=cure) from error
    return Taken(circle, figures, instrument, day, row.get("note", ""), place)


def _check_figures(figures: Mapping[str, float], circle: Recorded) -> None:
    """X, Y or both, or else one figure, none of another unit. Raises SettingsError."""
    for key, figure in figures.items():
        wrong = wrong_figure(figure, circle.original)
        if wrong:
            raise SettingsError(
                f"{key}: {wrong}", cure="Lengths are in the table's units, or end in mm or in"
            )
    axes = "x" in figures or "y" in figures
    if axes and "diameter" in figures:
        raise SettingsError("a diameter stands beside x or y", cure="Keep x and y, or diameter alone")
    if not axes and "diameter" not in figures:
        raise SettingsError("nothing is measured along X or Y", cure="Give x and y, or diameter")


def instrument_named(name: str, table: Table) -> str | None:
    """The table's own name of an instrument, None for an empty one. Raises SettingsError."""
    if not name.strip():
        return None
    instrument = table.instrument(name)
    if instrument is None:
        known = ", ".join(i.name for i in table.instruments) or "none yet"
        raise SettingsError(
            f"the table has no instrument {name!r}", cure=f"Known: {known}. Add it as an [[instrument]] first"
        )
    return instrument.name

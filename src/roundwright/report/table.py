"""A calibration table for people and scripts: as text of 80 columns, as JSON and as CSV."""

from __future__ import annotations

import csv
import io
import json
import textwrap
from typing import Any

from msgspec import Struct

from roundwright.calibration.overview import Step, Summary, overview
from roundwright.calibration.progress import Progress, progress
from roundwright.calibration.reading import Reading
from roundwright.calibration.table import Instrument, Table, Tool
from roundwright.calibration.text import length_text
from roundwright.units import native

SCHEMA = "roundwright.table-listing/1"
WIDTH = 80
CSV_COLUMNS = (
    "tool",
    "material",
    "side",
    "cut",
    "programmed",
    "readings",
    "measured",
    "error",
    "correction",
    "uncertainty",
    "why",
)
_HEAD = ("programmed", "readings", "measured", "error", "correction", "U")
_PROGRESS_HEAD = ("day", "readings", "error", "corrected")
_COLUMN = 12


class Rows(Struct, frozen=True):
    """Figures in columns, with their heads."""

    head: tuple[str, ...]
    rows: list[tuple[str, ...]]


def table_as_text(table: Table) -> str:
    """The table's tools, instruments and conditions, lengths in its own units, at most 80 columns."""
    lines: list[str] = []
    for part in table_parts(table):
        if isinstance(part, str):
            lines.append(part)
        else:
            lines += ["".join(f"{cell:>{_COLUMN}}" for cell in row) for row in (part.head, *part.rows)]
    return "\n".join(lines) + "\n"


def table_parts(table: Table) -> list[str | Rows]:
    """The same in pieces: lines of text, and rows of figures."""
    unit = "in" if table.inch else "mm"
    lines: list[str | Rows] = [*_wrapped(f"{table.name} ({table.file}), lengths in {unit}", ""), ""]
    if table.tools:
        lines += ["Tools", *(row for tool in table.tools for row in _tool_rows(tool, table)), ""]
    if table.instruments:
        rows = (row for instrument in table.instruments for row in _instrument_rows(instrument, table))
        lines += ["Instruments", *rows, ""]
    for summary in overview(table):
        lines += [*_condition_rows(summary, table), ""]
    if not table.conditions:
        lines += ["No conditions yet: nothing is corrected with this table.", ""]
    return lines[:-1]


def table_as_json(table: Table) -> str:
    """The same as JSON; all lengths in mm."""
    listing = {
        "schema": SCHEMA,
        "table": {"name": table.name, "file": table.file, "units": "in" if table.inch else "mm"},
        "tools": [_tool_fields(tool) for tool in table.tools],
        "instruments": [
            {"name": i.name, "limit": i.limit, "jaw_width": i.jaw_width} for i in table.instruments
        ],
        "conditions": [_condition_fields(summary, table) for summary in overview(table)],
    }
    return json.dumps(listing, indent=2, ensure_ascii=False) + "\n"


def table_as_csv(table: Table) -> str:
    """One row for each programmed diameter of each condition; lengths in the table's units."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(CSV_COLUMNS)
    for summary in overview(table):
        condition = summary.condition
        head = (condition.tool, condition.material, condition.side, condition.cut)
        rows.writerows([*head, *_csv_fields(step, table)] for step in summary.steps)
    return text.getvalue()


def _csv_fields(step: Step, table: Table) -> list[str | int]:
    lengths = (step.measured, step.error, step.correction, step.uncertainty)
    written = ["" if n is None else f"{native(n, inch=table.inch):.6g}" for n in lengths]
    return [f"{native(step.diameter, inch=table.inch):.10g}", step.readings, *written, step.why]


def _tool_rows(tool: Tool, table: Table) -> list[str]:
    name = tool.name if tool.number is None else f"T{tool.number}"
    if tool.number is not None and tool.name != name:
        name += f"  {tool.name}"
    facts = [f"diameter {_length(tool.diameter, table)}"]
    if tool.measured is not None:
        facts.append(f"measured {_length(tool.measured, table)}")
    if tool.flutes is not None:
        facts.append(f"{tool.flutes} flute" + ("s" if tool.flutes > 1 else ""))
    if tool.form != "cylindrical":
        facts.append(f"{tool.form}: its circles are left alone")
    if tool.fitted is not None:
        facts.append(f"fitted {tool.fitted.isoformat()}")
    return _wrapped(f"{name}: {', '.join(facts)}")


def _instrument_rows(instrument: Instrument, table: Table) -> list[str]:
    jaws = f", flat jaws of {_length(instrument.jaw_width, table)}" if instrument.jaw_width else ""
    return _wrapped(f"{instrument.name}: within +/-{_length(instrument.limit, table)}{jaws}")


def _condition_rows(summary: Summary, table: Table) -> list[str | Rows]:
    rows: list[str | Rows] = [*_wrapped(summary.condition.label, "")]
    if summary.steps:
        rows.append(Rows(_HEAD, [_step_row(step, table) for step in summary.steps]))
    for fact in _facts(summary, table):
        rows += _wrapped(fact)
    return [*rows, *_progress_rows(summary, table)]


def _progress_rows(summary: Summary, table: Table) -> list[Rows]:
    """By day: the mean error as cut, and the one left over with the table as it was until then."""
    days = progress(summary.condition, table)
    if len(days) < 2:
        return []
    rows: list[tuple[str, ...]] = []
    for day in days:
        left = "-" if day.after is None else _length(day.after, table, fixed=True)
        rows.append((day.day.isoformat(), str(day.readings), _length(day.before, table, fixed=True), left))
    return [Rows(_PROGRESS_HEAD, rows)]


def _step_row(step: Step, table: Table) -> tuple[str, ...]:
    return (
        _length(step.diameter, table),
        str(step.readings),
        _length(step.measured, table, fixed=True),
        _length(step.error, table, fixed=True, sign=True),
        "-" if step.correction is None else _length(step.correction, table, fixed=True, sign=True),
        "-" if step.uncertainty is None else _length(step.uncertainty, table, fixed=True),
    )


def _facts(summary: Summary, table: Table) -> list[str]:
    condition, facts = summary.condition, []
    if summary.serves is not None:
        low, high = (_length(end, table) for end in summary.serves)
        how = "straight line through all" if condition.method == "trend" else "interpolated"
        facts.append(f"Serves diameters from {low} to {high}, {how}.")
    dates = sorted(reading.date for reading in condition.used if reading.date is not None)
    if dates:
        span = dates[0].isoformat() if dates[0] == dates[-1] else f"{dates[0]} to {dates[-1]}"
        facts.append(f"Read {span}.")
    if summary.kept:
        facts.append(f"{summary.kept} kept, not used: older than the bit that is fitted now, or undated.")
    facts += sorted({f"No correction: {step.why}." for step in summary.steps if step.correction is None})
    if summary.no_uncertainty:
        facts.append(f"No U: {summary.no_uncertainty}.")
    if summary.note:
        facts.append(f"Note: {summary.note}.")
    return facts if summary.steps or summary.kept else [*facts, "No readings yet."]


def _tool_fields(tool: Tool) -> dict[str, Any]:
    return {
        "number": tool.number,
        "name": tool.name,
        "diameter": tool.diameter,
        "measured": tool.measured,
        "flutes": tool.flutes,
        "form": tool.form,
        "fitted": None if tool.fitted is None else tool.fitted.isoformat(),
    }


def _condition_fields(summary: Summary, table: Table) -> dict[str, Any]:
    condition = summary.condition
    return {
        "condition": condition.label,
        "tool": condition.tool,
        "material": condition.material,
        "side": condition.side,
        "cut": condition.cut,
        "feed": condition.feed,
        "speed": condition.speed,
        "method": condition.method,
        "serves": None if summary.serves is None else list(summary.serves),
        "diameters": [_step_fields(step) for step in summary.steps],
        "readings": [_reading_fields(reading, reading in condition.used) for reading in condition.readings],
        "progress": [_progress_fields(day) for day in progress(condition, table)],
        "no_uncertainty": summary.no_uncertainty or None,
        "note": summary.note or None,
    }


def _step_fields(step: Step) -> dict[str, Any]:
    return {
        "programmed": step.diameter,
        "readings": step.readings,
        "measured": step.measured,
        "error": step.error,
        "correction": step.correction,
        "expanded_uncertainty": step.uncertainty,
        "why": step.why or None,
    }


def _progress_fields(day: Progress) -> dict[str, Any]:
    return {
        "date": day.day.isoformat(),
        "readings": day.readings,
        "error_before": day.before,
        "error_after": day.after,
    }


def _reading_fields(reading: Reading, used: bool) -> dict[str, Any]:
    return {
        "programmed": reading.programmed,
        "x": reading.x,
        "y": reading.y,
        "d45": reading.d45,
        "d135": reading.d135,
        "diameter": reading.diameter,
        "error": reading.error,
        "instrument": reading.instrument,
        "date": None if reading.date is None else reading.date.isoformat(),
        "note": reading.note,
        "used": used,
    }


def _length(millimetres: float, table: Table, *, fixed: bool = False, sign: bool = False) -> str:
    return length_text(millimetres, inch=table.inch, fixed=fixed, sign=sign)


def _wrapped(text: str, indent: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")

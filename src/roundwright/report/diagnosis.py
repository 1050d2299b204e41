"""A diagnosis for people and scripts: as text of 80 columns and as JSON."""

from __future__ import annotations

import json
import textwrap
from typing import Any

from roundwright.calibration.diagnosis import Estimate, ToolDiagnosis, diagnose
from roundwright.calibration.finding import condition_findings, machine_findings
from roundwright.calibration.table import Table
from roundwright.calibration.text import length_text

SCHEMA = "roundwright.diagnosis/1"
WIDTH = 80
_PPM = 1e6
_MRAD = 1e3


def diagnosis_as_text(table: Table) -> str:
    """What the readings of each tool say of the machine; lengths in the table's units."""
    unit = "in" if table.inch else "mm"
    lines = [*_wrapped(f"{table.name} ({table.file}), lengths in {unit}", ""), ""]
    found = diagnose(table)
    for diagnosis in found:
        lines += [*_tool_rows(diagnosis, table), ""]
    if not found:
        lines += ["No condition of a cylindrical tool: there is nothing to judge by.", ""]
    return "\n".join(lines[:-1]) + "\n"


def diagnosis_as_json(table: Table) -> str:
    """The same for scripts, by condition; scales in ppm, squareness in mrad, lengths in mm."""
    listing = {
        "schema": SCHEMA,
        "conditions": [
            _condition_fields(diagnosis, place, table)
            for diagnosis in diagnose(table)
            for place in range(len(diagnosis.conditions))
        ],
    }
    return json.dumps(listing, indent=2, ensure_ascii=False) + "\n"


def _condition_fields(diagnosis: ToolDiagnosis, place: int, table: Table) -> dict[str, Any]:
    condition = diagnosis.conditions[place]
    findings = *machine_findings(diagnosis, table), *condition_findings(diagnosis, place, table)
    return {
        "condition": condition.label,
        "readings": len(condition.used),
        "scale_x": _fields(diagnosis.scale_x, _PPM),
        "scale_y": _fields(diagnosis.scale_y, _PPM),
        "squareness": _fields(diagnosis.squareness, _MRAD),
        "lost_motion_x": _fields(diagnosis.lost_motion_x),
        "lost_motion_y": _fields(diagnosis.lost_motion_y),
        "constant": _fields(diagnosis.constants[place]),
        "findings": list(findings),
    }


def _fields(estimate: Estimate | None, factor: float = 1.0) -> dict[str, float | None] | None:
    if estimate is None:
        return None
    return {"value": estimate.value * factor, "u": None if estimate.u is None else estimate.u * factor}


def _tool_rows(diagnosis: ToolDiagnosis, table: Table) -> list[str]:
    number = sum(len(condition.used) for condition in diagnosis.conditions)
    many = len(diagnosis.conditions) > 1
    name = diagnosis.tool.name if diagnosis.tool.number is None else f"T{diagnosis.tool.number}"
    together = f" of {len(diagnosis.conditions)} conditions, judged together" if many else ""
    rows = _wrapped(f"{name}, {number} reading{'' if number == 1 else 's'}{together}", "")
    rows += [f"  {'':<24}{'value':>12}{'U (95 %)':>12}"]
    for head, estimate, factor, decimals, unit in _shared(diagnosis):
        rows.append(_row(head, _scaled(estimate, factor, decimals), unit))
    rows += _row_of_length("lost motion X", diagnosis.lost_motion_x, table)
    rows += _row_of_length("lost motion Y", diagnosis.lost_motion_y, table)
    for finding in machine_findings(diagnosis, table):
        rows += _wrapped(finding, "  - ")
    for place, condition in enumerate(diagnosis.conditions):
        rows += ["", *_wrapped(condition.label)]
        rows += _row_of_length("whatever the size", diagnosis.constants[place], table)
        for finding in condition_findings(diagnosis, place, table):
            rows += _wrapped(finding, "  - ")
    return rows


def _shared(diagnosis: ToolDiagnosis) -> tuple[tuple[str, Estimate | None, float, int, str], ...]:
    return (
        ("scale X", diagnosis.scale_x, _PPM, 0, "ppm"),
        ("scale Y", diagnosis.scale_y, _PPM, 0, "ppm"),
        ("squareness", diagnosis.squareness, _MRAD, 2, "mrad"),
    )


def _scaled(estimate: Estimate | None, factor: float, decimals: int) -> tuple[str, str]:
    if estimate is None:
        return "can't tell", ""
    expanded = estimate.expanded
    room = "-" if expanded is None else f"{expanded * factor:.{decimals}f}"
    return f"{estimate.value * factor + 0.0:+.{decimals}f}", room


def _row_of_length(head: str, estimate: Estimate | None, table: Table) -> list[str]:
    unit = "in" if table.inch else "mm"
    if estimate is None:
        return [_row(head, ("can't tell", ""), "")]
    value = length_text(estimate.value, inch=table.inch, fixed=True, sign=True)
    expanded = estimate.expanded
    room = "-" if expanded is None else length_text(expanded, inch=table.inch, fixed=True)
    return [_row(head, (value, room), unit)]


def _row(head: str, cells: tuple[str, str], unit: str) -> str:
    value, room = cells
    return f"  {head:<24}{value:>12}{room:>12} {unit if room else ''}".rstrip()


def _wrapped(text: str, indent: str = "  ") -> list[str]:
    follow = indent.replace("-", " ") if indent else "  "
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=follow)

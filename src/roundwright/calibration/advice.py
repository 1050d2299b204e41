"""What a table that can be read leaves to be desired: the doubts that its readings raise."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date as Day
from itertools import pairwise

from roundwright.calibration.curve import line_at
from roundwright.calibration.entry import Level, Problem
from roundwright.calibration.overview import Summary, overview
from roundwright.calibration.question import outliers
from roundwright.calibration.solve import falling_pairs
from roundwright.calibration.table import Table
from roundwright.calibration.text import handy, length_text
from roundwright.calibration.uncertainty import leave_one_out, pooled_scatter

#: neighbouring diameters further apart than this factor leave too much to the straight line between them.
WIDEST_GAP = 2.5
#: fewer repeats than these make a coverage factor of over 3.
_FEW_REPEATS = 3
_YEAR = 365  # days
#: an error that grows by more than this share of the diameter: an axis is rather set wrong (common practice,
#: no source).
_STEEP = 0.005

Doubt = tuple[Level, str, str]


def doubts(table: Table, today: Day) -> tuple[Problem, ...]:
    """What is doubtful in the readings of a table, and, as "wrong", curves that cannot be used; by line."""
    found: list[Problem] = []
    if not table.tools:
        found.append(Problem(1, "tool", "doubtful", "there is none yet", "Add a [[tool]] with its diameter."))
    if not table.conditions:
        cure = "Add a [[condition]] with readings; nothing is corrected before."
        found.append(Problem(1, "condition", "doubtful", "there is none yet", cure))
    for number, summary in enumerate(overview(table), 1):
        key = f"condition {number}"
        for level, what, cure in _doubts_of(summary, table, today):
            text = f"{summary.condition.label}: {what}"
            found.append(Problem(summary.condition.line, key, level, text, cure))
        for reading, why in outliers(summary.condition, table):
            cure = "Measure it again, or cut it again; it counts all the same."
            found.append(Problem(reading.line, key, "doubtful", why, cure))
    return tuple(sorted(found, key=lambda problem: problem.line))


def residual_notes(table: Table) -> tuple[Problem, ...]:
    """For each condition, how far each diameter's error is off what the others make of it, by line."""
    found = []
    for number, summary in enumerate(overview(table), 1):
        curve = summary.curve
        residuals = [
            f"{curve.length(node.diameter)}: {length_text(residual, inch=table.inch, fixed=True, sign=True)}"
            for node, residual in zip(curve.nodes, leave_one_out(curve), strict=True)
            if residual is not None
        ]
        if residuals:
            what = f"{summary.condition.label}: off what the other diameters say by {', '.join(residuals)}"
            found.append(Problem(summary.condition.line, f"condition {number}", "note", what))
    return tuple(found)


def _doubts_of(summary: Summary, table: Table, today: Day) -> Iterator[Doubt]:
    yield from _about_tool(summary, table)
    if summary.curve.nodes:
        yield from _about_curve(summary)
        yield from _about_steepness(summary)
        yield from _about_repeats(summary)
        yield from _about_uncertainty(summary)
    yield from _about_age(summary, today)


def _about_tool(summary: Summary, table: Table) -> Iterator[Doubt]:
    tool = None if summary.condition.tool is None else table.tool(summary.condition.tool)
    if tool is not None and tool.form != "cylindrical":
        yield (
            "doubtful",
            f"the tool is {tool.form}: its circles are left alone",
            "Mend the tool's form, if so.",
        )
    undated = sum(reading.date is None for reading in summary.condition.readings)
    if summary.condition.fitted is not None and undated:
        what = f"{_count(undated, 'reading')} without a date cannot be shown to be of the bit that is fitted"
        yield "doubtful", f"{what}, so not used", "Give the date, or take `fitted` out of the tool."


def _about_curve(summary: Summary) -> Iterator[Doubt]:
    curve = summary.curve
    for a, b in falling_pairs(curve):
        pair = f"{curve.length(a)} and {curve.length(b)}"
        what = f"between {pair} a larger programmed circle comes out no larger"
        yield "wrong", what, "Look at the readings of these two again."
    for one, other in pairwise(node.diameter for node in curve.nodes):
        if other > WIDEST_GAP * one:
            between = curve.length(handy((one * other) ** 0.5, inch=curve.inch))
            what = f"from {curve.length(one)} to {curve.length(other)} is a wide gap"
            yield "doubtful", what, f"Cut and measure one between them, about {between}."
    ways = {(r.x is not None, r.y is not None) for r in summary.condition.used}
    if len(ways) > 1:
        what = "some readings are along X and Y, others along one direction or one figure"
        yield "doubtful", what, "Measure all along X and Y: a hole that is not round reads differently else."


def _about_steepness(summary: Summary) -> Iterator[Doubt]:
    """An error that grows so fast with the diameter that it smells of another fault."""
    nodes = summary.curve.nodes
    if len(nodes) < 2:
        return
    first, last = nodes[0].diameter, nodes[-1].diameter
    slope = (line_at(nodes, last) - line_at(nodes, first)) / (last - first)
    if abs(slope) > _STEEP:
        yield (
            "doubtful",
            f"the error changes by {100 * slope:+.1f} % of the diameter: that smells of an axis set wrong",
            "Measure a large square, and look at `roundwright diagnose` before correcting circles.",
        )


def _about_repeats(summary: Summary) -> Iterator[Doubt]:
    scatter = pooled_scatter(summary.curve.nodes)
    repeats = 0 if scatter is None else scatter[1]
    if repeats == 0:
        what = "no diameter was cut and measured twice, so no uncertainty can be told"
        yield "doubtful", what, "Cut one diameter again, better three times."
    elif repeats < _FEW_REPEATS:
        what = f"there is little to judge the scatter of cuts by ({_count(repeats, 'repeat')})"
        yield "doubtful", what, "Cut one diameter again, so that U gets smaller."
    if len(summary.curve.nodes) == 1:
        yield "doubtful", "only one diameter was measured", "Cut and measure a smaller and a larger one."


def _about_uncertainty(summary: Summary) -> Iterator[Doubt]:
    if any(reading.instrument is None for reading in summary.condition.used):
        cure = "Name the instrument, and state its limit in an [[instrument]]."
        yield "doubtful", "readings name no instrument, so no uncertainty can be told", cure
    curve = summary.curve
    small = [
        curve.length(step.diameter)
        for step in summary.steps
        if step.uncertainty is not None and step.correction is not None
        if abs(step.correction) < step.uncertainty
    ]
    if small:
        what = f"the correction at {', '.join(small)} is less than its own uncertainty"
        yield "doubtful", what, "Repeat these cuts, or measure more finely."


def _about_age(summary: Summary, today: Day) -> Iterator[Doubt]:
    dates = [reading.date for reading in summary.condition.used if reading.date is not None]
    old = [date for date in dates if (today - date).days > _YEAR]
    if old:
        what = f"{_count(len(old), 'reading')} older than a year (the oldest of {min(old).isoformat()})"
        yield "doubtful", what, "Cut one circle and see whether it still holds."
    ahead = [date for date in dates if date > today]
    if ahead:
        yield (
            "doubtful",
            f"a reading is dated {max(ahead).isoformat()}, which is yet to come",
            "Mend the date.",
        )


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"

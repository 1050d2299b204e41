"""What a diagnosis means for the person at the machine: sentences, the cure of the machine first."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from roundwright.calibration.circle_rows import is_turned, one_size, tells_bending, turn
from roundwright.calibration.diagnosis import Estimate, ToolDiagnosis
from roundwright.calibration.table import Condition, Table, Tool
from roundwright.calibration.text import handy, length_text
from roundwright.units import INCH

#: what springs back alike in every direction; anything else may have a grain.
_NO_GRAIN = re.compile(
    r"\b(alumin\w*|steel|brass|bronze|copper|iron|zinc|titanium|magnesium|acrylic|pmma|pom|acetal|nylon|"
    r"hdpe|ldpe|pvc|abs|ptfe|peek|polycarbonate|plastic|wax|foam|resin|graphite|glass)\b",
    re.IGNORECASE,
)
#: the side of the square that a finding speaks of: 300 mm, or 12 in.
_SQUARE = {False: 300.0, True: 12.0 * INCH}


def machine_findings(diagnosis: ToolDiagnosis, table: Table) -> tuple[str, ...]:
    """What the readings of a tool say of the machine, and what cut would tell what they can't."""
    found = [
        *_scales(diagnosis, table),
        *_squareness(diagnosis, table),
        *_lost_motion(diagnosis, table),
    ]
    missing = list(_untold(diagnosis, table))
    if not found and _any_u(diagnosis):
        found = [
            "No fault of scale, squareness or lost motion stands out of the scatter, of those that these "
            "readings can tell. Diameters that are all alike do not prove the shape."
        ]
    return (*found, *missing)


def condition_findings(diagnosis: ToolDiagnosis, place: int, table: Table) -> tuple[str, ...]:
    """What the readings of one condition say of the cutter, and what they lack."""
    condition = diagnosis.conditions[place]
    left_out = len(condition.readings) - len(condition.used)
    found = []
    if left_out:
        number = f"{left_out} reading{'' if left_out == 1 else 's'}"
        found.append(f"Left out, being older than the bit fitted now, or undated: {number}.")
    if not condition.used:
        return (*found, "No readings to judge by: cut and measure circles of a few diameters.")
    constant, steady = diagnosis.constants[place], diagnosis.steady[place]
    if constant is not None and constant.stands_out:
        found.append(_constant(constant, condition, diagnosis.tool, table))
    elif constant is None and steady is not None and steady.stands_out:
        found.append(
            f"{_signed(steady.value, table)}, whatever the size ({_u(steady, table)}), is the cutter, its "
            "bending, or lost motion; these readings can't tell which. Measure the tool with a micrometer, "
            "and jog the axes to and fro against a dial gauge."
        )
    return tuple(found)


def _scales(diagnosis: ToolDiagnosis, table: Table) -> Iterator[str]:
    side = _SQUARE[table.inch]
    for axis, scale in (("X", diagnosis.scale_x), ("Y", diagnosis.scale_y)):
        if scale is None or not scale.stands_out:
            continue
        shown = _plain(side * (1.0 + scale.value), table)
        room = _plain(side * (scale.expanded or 0.0), table)
        yield (
            f"A {_plain(side, table)} {_unit(table)} square would measure {shown} along {axis} "
            f"(+/-{room}). {_cure_of_axis(axis, diagnosis, 'set the axis, its steps per unit of length,')}"
        )
    if _any_stands_out(diagnosis) and not any(tells_bending(c) for c in diagnosis.conditions):
        yield (
            "A cutter bends more the smaller the hole, and over two diameters that looks like a scale: "
            "before you set an axis, cut and measure three diameters, one of them twice."
        )


def _any_stands_out(diagnosis: ToolDiagnosis) -> bool:
    scales = diagnosis.scale_x, diagnosis.scale_y
    return any(scale is not None and scale.stands_out for scale in scales)


def _squareness(diagnosis: ToolDiagnosis, table: Table) -> Iterator[str]:
    lean = diagnosis.squareness
    if lean is None or not lean.stands_out:
        return
    side = _SQUARE[table.inch]
    apart, room = (_plain(side * math.sqrt(2.0) * abs(v), table) for v in (lean.value, lean.expanded or 0.0))
    longer = "the one from the origin" if lean.value > 0 else "the one across"
    yield (
        f"Y leans {abs(lean.value) * 1e3:.2f} mrad {'towards' if lean.value > 0 else 'away from'} X: the "
        f"diagonals of a {_plain(side, table)} {_unit(table)} square would differ by {apart} (+/-{room}), "
        f"{longer} the longer. Measure such a square; if it is so, square the frame first, then cut and "
        "measure again: no correction of diameters cures it."
    )
    if len(_turns(diagnosis, table)) == 1:
        yield (
            "All these circles were cut the same way round: the same ones cut the other way tell squareness "
            "from unequal lost motion more surely."
        )


def _lost_motion(diagnosis: ToolDiagnosis, table: Table) -> Iterator[str]:
    for axis, lost in (("X", diagnosis.lost_motion_x), ("Y", diagnosis.lost_motion_y)):
        if lost is None or not lost.stands_out:
            continue
        amount = f"{_plain(abs(lost.value), table)} {_unit(table)} ({_u(lost, table)})"
        if lost.value > 0:
            cure = _cure_of_axis(axis, diagnosis, "take up the play of the axis")
            yield (
                f"{axis} loses {amount} where it turns back: a dial gauge would show as much when the axis "
                f"is jogged to and fro. {cure}"
            )
        else:
            yield (
                f"{axis} goes {amount} too far where it turns back. Does the control take up more play than "
                "there is? Check with a dial gauge, and lower that setting first."
            )


def _cure_of_axis(axis: str, diagnosis: ToolDiagnosis, cure: str) -> str:
    """What to do about an axis; in what may have a grain no axis is blamed without a turned repeat."""
    if _grain_settled(diagnosis):
        return f"First {cure} and measure again; correct circles after that."
    return (
        f"That may be the grain, if this is wood: before you blame {axis}, measure a square cut on this "
        f"machine, or cut the same circles with the sheet turned by 90 degrees (note: turned). If it stays "
        f"with {axis}, {cure} and measure again; correct circles after that."
    )


def _grain_settled(diagnosis: ToolDiagnosis) -> bool:
    """Whether the material has no grain, or some but not all of its circles were cut turned."""
    used = [condition for condition in diagnosis.conditions if condition.used]
    if all(_NO_GRAIN.search(condition.material or "") for condition in used):
        return True
    return len({is_turned(reading) for condition in used for reading in condition.used}) == 2


def _constant(constant: Estimate, condition: Condition, tool: Tool, table: Table) -> str:
    """What does not grow with the path, held against the tool's measured diameter."""
    sign = {"hole": 1.0, "boss": -1.0}.get(condition.side, 0.0)
    head = f"{_signed(constant.value, table)}, whatever the size ({_u(constant, table)})"
    rest = "the cutter's bending or runout, or the material's springing: a lighter last pass helps"
    if sign == 0.0:
        return f"{head}: {rest}; the correction takes what remains."
    made_for = f"{_plain(tool.diameter, table)} {_unit(table)}"
    if tool.measured is None:
        would = _plain(tool.diameter + sign * constant.value, table)
        return (
            f"{head}: a cutter of {would} where programs assume {made_for} would do that. Measure the tool "
            f"first, and put it into the table as `measured`; else it is {rest}."
        )
    explained = sign * (tool.measured - tool.diameter)
    left = constant.value - explained
    if abs(left) <= (constant.expanded or 0.0):
        return (
            f"{head}: the tool measures {_plain(tool.measured, table)} where programs assume {made_for}, "
            "and that explains it. Make programs for the measured diameter, or let the correction take it."
        )
    return (
        f"{head}: the tool's measured diameter, {_plain(tool.measured, table)} for {made_for}, explains "
        f"{_signed(explained, table)} of it; the rest, {_signed(left, table)}, is {rest}. "
        "The correction takes what remains."
    )


def _untold(diagnosis: ToolDiagnosis, table: Table) -> Iterator[str]:
    """What these readings can't tell, and what cut or measurement would."""
    used = [condition for condition in diagnosis.conditions if condition.used]
    readings = [reading for condition in used for reading in condition.used]
    if not readings:
        return
    if diagnosis.scale_x is None or diagnosis.scale_y is None:
        yield from _untold_scale(diagnosis, table, used)
    bare = diagnosis.squareness is None or diagnosis.lost_motion_x is None or diagnosis.lost_motion_y is None
    diagonal = [reading for reading in readings if reading.d45 is not None and reading.d135 is not None]
    if bare and not diagonal:
        yield (
            "Only the diagonals tell squareness, and lost motion from a cutter that cuts small: measure "
            "along them too (d45, d135)."
        )
    elif bare and not _turns(diagnosis, table):
        yield (
            "Squareness can't be told from unequal lost motion where it isn't known which way round the "
            "circles were cut: make conditions for climb and conventional instead of any."
        )
    elif bare and len(_turns(diagnosis, table)) == 1:
        yield (
            "Squareness can't be told from unequal lost motion, since all circles were cut one way round: "
            f"cut and measure the same ones {_other_cut(used)}."
        )
    known = (diagnosis.scale_x, diagnosis.scale_y, diagnosis.squareness, *diagnosis.steady)
    yield from _no_u({estimate.why for estimate in known if estimate is not None and estimate.u is None})


def _untold_scale(diagnosis: ToolDiagnosis, table: Table, used: list[Condition]) -> Iterator[str]:
    if all(one_size(condition.used) for condition in used):
        size = max(reading.programmed for condition in used for reading in condition.used)
        other = 3.0 * size if size < 40.0 else max(size / 3.0, 1.5 * diagnosis.tool.diameter)
        yield (
            "One diameter cannot tell an axis that is off in scale from a cutter that cuts small: cut and "
            f"measure one of about {_plain(handy(other, inch=table.inch), table)} {_unit(table)} too."
        )
    else:
        yield "Single figures can't tell X from Y: measure along X and along Y."


def _no_u(why: set[str]) -> Iterator[str]:
    if "scatter" in why:
        yield (
            "There are no more readings than unknowns, so how sure these figures are can't be told: cut "
            "and measure the same circles again."
        )
    if "instrument" in why:
        yield (
            "Some readings name no instrument, so how sure these figures are can't be told: name it, and "
            "state its limit in an [[instrument]]."
        )


def _turns(diagnosis: ToolDiagnosis, table: Table) -> set[int]:
    """The ways round, 1 and −1, of the circles measured along the diagonals."""
    return {
        turn(condition, table.machine.clockwise)
        for condition in diagnosis.conditions
        if any(reading.d45 is not None and reading.d135 is not None for reading in condition.used)
    } - {0}


def _other_cut(used: list[Condition]) -> str:
    cuts = {condition.cut for condition in used}
    return "conventional too" if "climb" in cuts else "climb too"


def _any_u(diagnosis: ToolDiagnosis) -> bool:
    known = (diagnosis.scale_x, diagnosis.scale_y, diagnosis.squareness)
    return any(estimate is not None and estimate.u is not None for estimate in known)


def _u(estimate: Estimate, table: Table) -> str:
    return f"+/-{_plain(estimate.expanded or 0.0, table)}"


def _signed(length: float, table: Table) -> str:
    return f"{length_text(length, inch=table.inch, sign=True)} {_unit(table)}"


def _plain(length: float, table: Table) -> str:
    return length_text(length, inch=table.inch)


def _unit(table: Table) -> str:
    return "in" if table.inch else "mm"

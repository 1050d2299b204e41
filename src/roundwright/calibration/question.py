"""Whether a reading is to be questioned: it lies further off its condition than the uncertainty allows."""

from __future__ import annotations

from dataclasses import replace

from roundwright.calibration.addition import Addition
from roundwright.calibration.curve import Curve, curve_of
from roundwright.calibration.reading import Reading
from roundwright.calibration.solve import in_range
from roundwright.calibration.student import coverage_factor
from roundwright.calibration.table import Condition, Table
from roundwright.calibration.text import length_text
from roundwright.calibration.uncertainty import LEVEL, budget, whole_freedom


def question(addition: Addition, table: Table) -> str:
    """Why a new reading (mm) is to be questioned, in the table's units; empty where it is not.

    It is where its error is larger than the largest correction allowed, and where it is further from what
    the readings so far let expect than U of the next cut. It may be right all the same: nothing is dropped.
    """
    reading = addition.reading
    limit = table.limits.correction
    if abs(reading.error) > limit:
        off = length_text(reading.error, inch=table.inch, sign=True)
        return f"it is {off} off, more than the table's limit of {length_text(limit, inch=table.inch)}"
    condition = table.condition(addition.tool, addition.material, addition.side, addition.cut)
    if condition is None:
        return ""
    return _off(reading, curve_of(condition, table), table, LEVEL)


def outliers(condition: Condition, table: Table) -> tuple[tuple[Reading, str], ...]:
    """The readings that the others of their condition don't let expect, each with why.

    Each is held against the curve of all the others, at a level that lets one in twenty conditions (not one
    in twenty readings) raise a false alarm (Bonferroni's inequality).
    """
    used = condition.used
    level = 1.0 - (1.0 - LEVEL) / max(1, len(used))
    found = []
    for place, reading in enumerate(used):
        others = replace(condition, readings=used[:place] + used[place + 1 :])
        why = _off(reading, curve_of(others, table), table, level)
        if why:
            found.append((reading, why))
    return tuple(found)


def _off(reading: Reading, curve: Curve, table: Table, level: float) -> str:
    if not curve.nodes or not in_range(curve, reading.programmed, table.limits.reach):
        return ""
    allowed = budget(curve, reading.programmed)
    if isinstance(allowed, str):
        return ""
    expected = reading.programmed + curve.error(reading.programmed)
    room = coverage_factor(whole_freedom(allowed.freedom), level) * allowed.standard
    if abs(reading.measured - expected) <= room:
        return ""
    return (
        f"it measures {curve.length(reading.measured)}, where the other readings of {curve.label} let expect "
        f"{curve.length(expected)} +/-{curve.length(room)}"
    )

"""How a condition improves: by the day of its readings, the error as cut and the one left over."""

from __future__ import annotations

from datetime import date as Day
from math import fsum

from msgspec import Struct
from msgspec.structs import replace

from roundwright.calibration.curve import curve_of
from roundwright.calibration.reading import Reading
from roundwright.calibration.solve import in_range
from roundwright.calibration.table import Condition, Table


class Progress(Struct, frozen=True):
    """The readings of one day. Mean absolute errors in mm.

    `before` is the error against what was programmed: what a circle is off without a correction. `after` is
    the error against what the readings of earlier days let expect: what it is off with the correction that
    the table gave until then; None where earlier readings don't reach.
    """

    day: Day
    readings: int
    before: float
    after: float | None


def progress(condition: Condition, table: Table) -> tuple[Progress, ...]:
    """Day by day, in order; readings without a date and those that don't count are left out."""
    dated = [(reading.date, reading) for reading in condition.used if reading.date is not None]
    found = []
    for day in sorted({date for date, _ in dated}):
        those = [reading for date, reading in dated if date == day]
        earlier = tuple(reading for date, reading in dated if date < day)
        left = _left_over(those, replace(condition, readings=earlier), table)
        found.append(
            Progress(day, len(those), _mean([r.error for r in those]), _mean(left) if left else None)
        )
    return tuple(found)


def _left_over(readings: list[Reading], earlier: Condition, table: Table) -> list[float]:
    curve = curve_of(earlier, table)
    if not curve.nodes:
        return []
    return [
        reading.error - curve.error(reading.programmed)
        for reading in readings
        if in_range(curve, reading.programmed, table.limits.reach)
    ]


def _mean(errors: list[float]) -> float:
    return fsum(abs(error) for error in errors) / len(errors)

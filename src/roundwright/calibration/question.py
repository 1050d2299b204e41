"""Whether a reading is to be questioned: it is further off than its condition lets expect."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec.structs import replace

from roundwright.calibration.conditions import FIGURES
from roundwright.calibration.curve import Curve, curve_of
from roundwright.calibration.reading import Reading
from roundwright.calibration.solve import in_range
from roundwright.calibration.student import coverage_factor
from roundwright.calibration.table import Condition, Table, folded
from roundwright.calibration.text import length_text
from roundwright.calibration.uncertainty import LEVEL, budget, whole_freedom

if TYPE_CHECKING:
    from roundwright.calibration.addition import Addition

#: how far two cuts' errors may lie apart, mm, and how much more for each mm between their diameters, before
#: somebody is asked whether it is a slip of the pen. Common practice, no source.
SLIP = 0.2
SLIP_SHARE = 0.01
_SAME = 1e-4  # mm
#: a feed or speed further off than this share of the condition's is worth a word.
_FAR = 0.2
#: room for the rounding of what is exactly so far off.
_EXACTLY = 1e-9


def question(addition: Addition, table: Table, others: Sequence[Addition] = ()) -> str:
    """Why a new reading (mm) is to be questioned, in the table's units; empty where it is not.

    It is where its error is larger than the largest correction allowed, and where it is `unexpected`. It may
    be right all the same: nothing is dropped.
    """
    reading = addition.reading
    return past_limit(reading.measured, reading.programmed, table) or unexpected(addition, table, others)


def past_limit(measured: float, programmed: float, table: Table) -> str:
    """Why one figure (mm) is to be questioned: it is off by more than the table's limit; else empty."""
    off, limit = measured - programmed, table.limits.correction
    if abs(off) <= limit:
        return ""
    sign = "+" if off > 0.0 else "-"
    return (
        f"this is {sign}{_length(abs(off), table)} off the programmed {_length(programmed, table)}, "
        f"more than the table's limit of {_length(limit, table)}"
    )


def unexpected(addition: Addition, table: Table, others: Sequence[Addition] = ()) -> str:
    """Why a reading (mm) is not what its condition lets expect; empty where it is, or where none is known.

    It is not where the table has it already, and where it is further from what the readings so far let expect
    than U of the next cut. Where they cannot tell that, `others` of its condition count too, and the reading
    may be off by a fixed length and a share of the way to the nearest diameter measured.
    """
    reading = addition.reading
    condition = table.condition(addition.tool, addition.material, addition.side, addition.cut)
    condition = condition or Condition(addition.tool, addition.material, addition.side, addition.cut)
    if any(_same(reading, other) for other in condition.readings):
        return "the table has this very reading already"
    curve = curve_of(condition, table)
    room = _room(curve, reading.programmed, table, LEVEL)
    if room is None:
        more = tuple(other.reading for other in others if _mark(other) == _mark(addition))
        curve = curve_of(replace(condition, readings=condition.readings + more), table)
        if not curve.nodes:
            return ""
        way = min(abs(node.diameter - reading.programmed) for node in curve.nodes)
        room = SLIP + SLIP_SHARE * way
    return _off(reading, curve, room, table)


def cut_otherwise(addition: Addition, table: Table) -> str:
    """What of feed and speed is another than its condition's by over 20 %; empty where neither is."""
    condition = table.condition(addition.tool, addition.material, addition.side, addition.cut)
    if condition is None:
        return ""
    parts = []
    if far_off(addition.feed, condition.feed):
        here, there = (_length(feed or 0.0, table) for feed in (addition.feed, condition.feed))
        parts.append(f"at a feed of {here}/min, not {there}/min")
    if far_off(addition.speed, condition.speed):
        parts.append(f"at {addition.speed:.0f}/min of the spindle, not {condition.speed:.0f}/min")
    return f"cut otherwise than the readings of {condition.label}: {' and '.join(parts)}" if parts else ""


def far_off(here: float | None, there: float | None) -> bool:
    """Whether a feed or a speed is another than a condition's by over 20 %; no where one is not known."""
    return here is not None and there is not None and abs(here - there) > (_FAR + _EXACTLY) * there


def outliers(condition: Condition, table: Table) -> tuple[tuple[Reading, str], ...]:
    """The readings that the others of their condition don't let expect, each with why.

    Each is held against the curve of all the others, at a level that lets one in twenty conditions (not one
    in twenty readings) raise a false alarm (Bonferroni's inequality).
    """
    used = condition.used
    level = 1.0 - (1.0 - LEVEL) / max(1, len(used))
    found = []
    for place, reading in enumerate(used):
        curve = curve_of(replace(condition, readings=used[:place] + used[place + 1 :]), table)
        room = _room(curve, reading.programmed, table, level)
        why = "" if room is None else _off(reading, curve, room, table)
        if why:
            found.append((reading, why))
    return tuple(found)


def _room(curve: Curve, programmed: float, table: Table, level: float) -> float | None:
    """How far (mm) a cut may be off the curve at this level; None where its readings cannot tell."""
    if not curve.nodes or not in_range(curve, programmed, table.limits.reach):
        return None
    allowed = budget(curve, programmed)
    if isinstance(allowed, str):
        return None
    return coverage_factor(whole_freedom(allowed.freedom), level) * allowed.standard


def _off(reading: Reading, curve: Curve, room: float, table: Table) -> str:
    expected = reading.programmed + curve.error(reading.programmed)
    if abs(reading.measured - expected) <= room:
        return ""
    return (
        f"it measures {_length(reading.measured, table)}, where the other readings of {curve.label} "
        f"let expect {_length(expected, table)} +/-{_length(room, table)}"
    )


def _mark(addition: Addition) -> tuple[object, ...]:
    """What additions of one condition have in common."""
    return addition.tool, folded(addition.material), addition.side, addition.cut


def _same(one: Reading, other: Reading) -> bool:
    lengths = [(getattr(one, key), getattr(other, key)) for key in ("programmed", *FIGURES)]
    return one.date == other.date and all(
        (a is None and b is None) or (a is not None and b is not None and abs(a - b) < _SAME)
        for a, b in lengths
    )


def _length(value: float, table: Table) -> str:
    return f"{length_text(value, inch=table.inch)} {'in' if table.inch else 'mm'}"

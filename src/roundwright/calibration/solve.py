"""The diameter to program so that the wanted one comes out, and how sure that is."""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise
from typing import Literal

from msgspec import Struct

from roundwright.calibration.curve import Curve
from roundwright.calibration.uncertainty import budget, whole_freedom

#: room for the rounding of a limit that is met exactly.
_EXACTLY = 1e-12


class Solution(Struct, frozen=True):
    """What to program for a target diameter. Lengths in mm.

    `expected_error` is e(programmed), `uncertainty` U for the next cut, about 95 %, or None and then
    `why_no_uncertainty`; `basis` says in the table's units what it rests on, `note` what U leaves out.
    U comes from the standard uncertainty `standard` with `freedom` whole degrees of freedom.
    """

    programmed: float
    expected_error: float
    uncertainty: float | None
    basis: str
    why_no_uncertainty: str = ""
    note: str = ""
    standard: float | None = None
    freedom: float | None = None


class Unsolved(Struct, frozen=True):
    """Why there is nothing to program: a reason of the contract, and a sentence with what settles it."""

    reason: Literal["out-of-range", "no-calibration"]
    why: str


def solve(curve: Curve, target: float, reach: float) -> Solution | Unsolved:
    """Solve x + e(x) = target exactly on the piecewise straight curve with its flat ends; mm.

    `reach` is how far past the calibrated diameters the target may lie, as a fraction of the end one.
    Source: DEVELOPERS.md, The mathematics.
    """
    if not curve.nodes:
        return Unsolved("no-calibration", _no_readings(curve))
    outside = _out_of_range(curve, target, reach)
    if outside:
        return Unsolved("out-of-range", outside)
    turned = _turned_back(curve, target)
    if turned:
        return Unsolved("no-calibration", turned)
    x = _inverted(curve, target)
    found = budget(curve, x)
    if isinstance(found, str):
        return Solution(x, curve.error(x), None, curve.basis(x), found)
    return Solution(
        x,
        curve.error(x),
        found.expanded,
        curve.basis(x),
        note=found.note,
        standard=found.standard,
        freedom=whole_freedom(found.freedom),
    )


def falling_pairs(curve: Curve) -> tuple[tuple[float, float], ...]:
    """Neighbouring diameters (mm) between which the result x + e(x) does not grow with x."""
    return tuple((a, b) for (a, ea), (b, eb) in pairwise(curve.points) if not b + eb > a + ea)


def in_range(curve: Curve, target: float, reach: float) -> bool:
    """Whether a target (mm) is near enough to the calibrated diameters of a curve that has some."""
    low, high = curve.serves(reach)
    return low * (1.0 - _EXACTLY) <= target <= high * (1.0 + _EXACTLY)


def _inverted(curve: Curve, target: float) -> float:
    points = curve.points
    results = [d + e for d, e in points]
    if target <= results[0]:
        return target - points[0][1]
    if target >= results[-1]:
        return target - points[-1][1]
    upper = next(i for i in range(1, len(points)) if results[i - 1] <= target < results[i])
    a, b = points[upper - 1][0], points[upper][0]
    x = a + (target - results[upper - 1]) * ((b - a) / (results[upper] - results[upper - 1]))
    return min(max(x, a), b)


def _turned_back(curve: Curve, target: float) -> str:
    """Why the readings around the target give no one answer; empty where they do."""
    for a, b in falling_pairs(curve):
        low, high = _touched(curve, a, b)
        if low <= target <= high:
            pair = f"{curve.length(a)} and {curve.length(b)}"
            return (
                f"the readings of {curve.label} at {pair} say that the larger programmed circle comes out "
                "no larger than the smaller one: look at these two again"
            )
    return ""


def _touched(curve: Curve, a: float, b: float) -> tuple[float, float]:
    """The targets whose answer would rest on one of the two diameters."""
    points = curve.points
    position = bisect_right(points, a, key=lambda point: point[0]) - 1
    before, behind = position - 1, position + 2
    own = a + points[position][1], b + points[position + 1][1]
    low = points[before][0] + points[before][1] if before >= 0 else float("-inf")
    high = points[behind][0] + points[behind][1] if behind < len(points) else float("inf")
    return min(low, *own), max(high, *own)


def _out_of_range(curve: Curve, target: float, reach: float) -> str:
    first, last = curve.nodes[0].diameter, curve.nodes[-1].diameter
    if in_range(curve, target, reach):
        return ""
    low, high = curve.serves(reach)
    unit = "in" if curve.inch else "mm"
    measured = f"{curve.length(first)} to {curve.length(last)}" if first != last else curve.length(first)
    return (
        f"{curve.length(target)} {unit} is too far from the calibrated diameters of {curve.label}, "
        f"{measured} {unit}; these serve {curve.length(low)} to {curve.length(high)} {unit}: "
        "cut and measure a circle of about this size"
    )


def _no_readings(curve: Curve) -> str:
    if curve.kept:
        return (
            f"the readings of {curve.label} are older than the bit that is fitted now, or have no date: "
            "cut and measure with this bit"
        )
    return f"{curve.label} has no readings yet: cut and measure circles of a few diameters"

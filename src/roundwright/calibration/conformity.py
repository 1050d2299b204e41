"""How likely a circle lies within a tolerance, out of round as it comes from this machine."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from math import fsum

from roundwright.calibration.curve import SAME_DIAMETER
from roundwright.calibration.reading import Reading, over_jaws
from roundwright.calibration.student import share_within


def ovality_at(readings: Iterable[Reading], diameter: float) -> float | None:
    """How far smallest and largest diameter lie from their mean at a programmed diameter; all in mm.

    Half the mean |x - y| of the readings of one programmed diameter, straight between two of them and held
    past the ends; None where no reading has both x and y.
    """
    points: list[tuple[float, list[float]]] = []
    for reading in sorted(readings, key=lambda reading: reading.programmed):
        if reading.x is None or reading.y is None:
            continue
        x, y = (over_jaws(shown, reading.jaw_width) for shown in (reading.x, reading.y))
        if not points or reading.programmed - points[-1][0] > SAME_DIAMETER:
            points.append((reading.programmed, []))
        points[-1][1].append(abs(x - y) / 2.0)
    means = [(at, fsum(values) / len(values)) for at, values in points]
    if not means:
        return None
    for (a, before), (b, behind) in pairwise(means):
        if a <= diameter < b:
            return before + (behind - before) * ((diameter - a) / (b - a))
    return means[0][1] if diameter < means[0][0] else means[-1][1]


def share_in_tolerance(
    expected: float, limits: tuple[float, float], ovality: float, standard: float, freedom: float
) -> float:
    """The probability that smallest and largest diameter both lie within the limits; lengths in mm.

    The mean diameter is `expected` plus `standard` times T of Student's distribution with `freedom` degrees
    of freedom; smallest and largest lie `ovality` from it. Source: GUM (JCGM 100:2008) G.3 for the
    distribution; P = G(upper) - G(lower) as in JCGM 106:2012 (from memory).
    """
    low, high = limits[0] + ovality - expected, limits[1] - ovality - expected
    if low > high:
        return 0.0
    if standard == 0.0:
        return 1.0 if low <= 0.0 <= high else 0.0
    ends = (low / standard, high / standard)
    first, last = (math.copysign(share_within(abs(t), freedom), t) / 2.0 for t in ends)
    return max(0.0, last - first)

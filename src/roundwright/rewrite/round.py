"""The grid of numbers that a block can write: whole counts of 1e-8 of its unit; knows no words."""

from __future__ import annotations

from functools import cache
from math import floor

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.plan.plan import Decimals
from roundwright.units import GRAIN, GRAIN_DIGITS, INCH, PER_UNIT


class Grid(Struct, frozen=True):
    """All numbers of a block's unit with so many decimals: `step` counts apart, `unit` mm apart."""

    inch: bool
    decimals: int
    step: int
    unit: float

    def nearest(self, length: float) -> int:
        """Counts of the number nearest to a length in mm; halves go up."""
        return floor(length / self.unit + 0.5) * self.step


@cache
def grid_of(inch: bool, decimals: int) -> Grid:
    """The grid of a unit with so many decimals."""
    step = 10 ** (GRAIN_DIGITS - decimals)
    return Grid(inch, decimals, step, step * scale(inch))


class Fineness(Struct, frozen=True):
    """How many decimals changed numbers get, by the unit of their block, and how many they may get."""

    mm: int
    inch: int
    most: int
    finest: int  # of the program as it stands

    def of(self, inch: bool) -> int:
        """Decimals of a changed number where nothing asks for more."""
        return self.inch if inch else self.mm

    def most_of(self, inch: bool) -> int:
        """The most decimals of a changed place: one more of an inch is no whole count of a millimetre's."""
        return min(self.most, GRAIN_DIGITS - 1) if inch else self.most

    @property
    def exact(self) -> int:
        """The most decimals of a number that repeats or takes up what the program has written itself."""
        return max(self.most, self.finest)


def fineness_of(decimals: Decimals, finest: int) -> Fineness:
    """The program's finest decimals and the plan's least, up to the most that the control reads."""
    most = min(decimals.most, GRAIN_DIGITS)
    return Fineness(
        min(max(finest, decimals.least_mm), most),
        min(max(finest, decimals.least_inch), most),
        most,
        finest,
    )


def scale(inch: bool) -> float:
    """Millimetres in one count of the unit."""
    return float(GRAIN * INCH if inch else GRAIN)


def native_of(counts: int, inch: bool) -> int:
    """Counts of 1e-8 of the block's unit, from counts of 1e-8 mm."""
    return (counts * 10 + 127) // 254 if inch else counts


def natives_of(counts: NDArray[np.int64], inch: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Many counts (k,) of 1e-8 of their block's unit, from counts of 1e-8 mm within 2^59."""
    if not inch.any():
        return counts
    return np.where(inch, (counts * 10 + 127) // 254, counts)


def counts_of(native: int, inch: bool) -> int:
    """Counts of 1e-8 mm, from counts of the block's unit; rounded as the trace rounds."""
    return (native * 254 + 5) // 10 if inch else native


def decimals_of(native: int) -> int:
    """How many decimals write these counts exactly."""
    digits, rest = GRAIN_DIGITS, abs(native) % PER_UNIT
    while digits and rest % 10 == 0:
        rest //= 10
        digits -= 1
    return digits

"""Readings: a measured circle beside what was programmed, and what its error is."""

from __future__ import annotations

import math
from datetime import date as Day

from msgspec import Struct


class Reading(Struct, frozen=True):
    """One cut circle, measured. All lengths in mm, as the instrument showed them.

    `jaw_width` is that of the instrument where it measured a hole, else 0: flat inside jaws touch on a
    chord, so they show less than the diameter.
    """

    programmed: float
    x: float | None = None
    y: float | None = None
    d45: float | None = None
    d135: float | None = None
    diameter: float | None = None
    instrument: str | None = None
    date: Day | None = None
    note: str = ""
    jaw_width: float = 0.0
    line: int = 0  # in the table's text, from 1; 0 where there is none

    @property
    def measured(self) -> float:
        """The diameter in mm: the mean of X and Y, or the single figure, corrected for flat jaws.

        The diagonals are for diagnosis only: the mean is always over the same directions.
        """
        axes = [figure for figure in (self.x, self.y) if figure is not None]
        if not axes and self.diameter is not None:
            axes = [self.diameter]
        return sum(over_jaws(figure, self.jaw_width) for figure in axes) / len(axes)

    @property
    def error(self) -> float:
        """Measured minus programmed diameter, mm."""
        return self.measured - self.programmed


def over_jaws(shown: float, jaw_width: float) -> float:
    """The diameter D in mm of a hole in which flat inside jaws of width w show m: D = sqrt(m² + w²).

    Source: geometry (the jaws' corners span a chord); DEVELOPERS.md, The mathematics.
    """
    return math.hypot(shown, jaw_width) if jaw_width else shown

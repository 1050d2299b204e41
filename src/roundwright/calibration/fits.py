"""Tolerance classes: the limits of size that H8 gives a hole or js7 a shaft, after ISO 286-1."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Mapping

from msgspec import Struct

from roundwright.errors import SettingsError
from roundwright.units import MICROMETRE

_CLASS = re.compile(r"([A-Za-z]{1,2})(\d{1,2})", re.ASCII)
#: letters whose hole is the shaft's mirror image, EI = -es, and those that the delta rule serves.
_MIRRORED, _STEPPED = "DEFGH", "KMNP"
#: k is that of the table from IT4 to IT7, above it is 0.
_K_HIGHEST = 7
#: no step up to and including this size, mm.
_SMALL = 3.0
#: the deviation that ISO 286-1 prints against its own rule, µm: hole class and the size range's end in mm.
_EXCEPTIONS = {("M", 6, 315.0): -9.0}


class Fits(Struct, frozen=True):
    """The published tables. `bands` are the ends of the size ranges in mm, each "up to and including".

    `tolerances` are the standard tolerances by grade, `shafts` the fundamental deviations by small letter,
    `steps` the deltas by grade: each a value for every band, in micrometres.
    """

    bands: tuple[float, ...]
    tolerances: Mapping[int, tuple[float, ...]]
    shafts: Mapping[str, tuple[float, ...]]
    steps: Mapping[int, tuple[float | None, ...]]

    def limits_of(self, nominal: float, name: str) -> tuple[float, float]:
        """The smallest and largest size in mm that class `name` allows for a nominal size in mm.

        Raises SettingsError for a class or a size that the tables don't hold.
        """
        lower, upper = self.deviations_of(nominal, name)
        return nominal + lower * MICROMETRE, nominal + upper * MICROMETRE

    def deviations_of(self, nominal: float, name: str) -> tuple[float, float]:
        """The lower and upper limit deviation in micrometres: EI, ES of a hole, ei, es of a shaft.

        Source: ISO 286-1 (the files in shared/published say which copies). Raises as `limits_of`.
        """
        letter, grade = self.parts_of(name)
        band = self._band(nominal, name)
        width = self.tolerances[grade][band]
        if letter.upper() == "JS":
            return -width / 2, width / 2
        if letter.islower():
            return self._shaft(letter, grade, band, width)
        if letter in _MIRRORED:
            lower = 0.0 - self.shafts[letter.lower()][band]
            return lower, lower + width
        upper = self._stepped(letter, grade, band, nominal)
        return upper - width, upper

    def parts_of(self, name: str) -> tuple[str, int]:
        """Letter and grade of a class. Raises SettingsError where the tables don't hold it."""
        match = _CLASS.fullmatch(name.strip())
        small = [*self.shafts, "js"]
        if match is None or match[1] not in (*small, *(letter.upper() for letter in small)):
            letters = " ".join(sorted(small))
            raise SettingsError(
                f"{name!r} is no tolerance class that the tables hold",
                cure=f"Shafts have the letters {letters}, holes the same in capitals, each with a grade: H8",
            )
        grade = int(match[2])
        if grade not in self.tolerances:
            first, last = min(self.tolerances), max(self.tolerances)
            raise SettingsError(
                f"{name!r} has grade {grade}, the tables hold {first} to {last}",
                cure="Give the diameter that you want instead",
            )
        return match[1], grade

    def _band(self, nominal: float, name: str) -> int:
        if not 0.0 < nominal <= self.bands[-1]:
            raise SettingsError(
                f"{name} is not known for {nominal:g} mm, the tables go up to {self.bands[-1]:g} mm",
                cure="Give the diameter that you want instead",
            )
        return bisect_left(self.bands, nominal)

    def _shaft(self, letter: str, grade: int, band: int, width: float) -> tuple[float, float]:
        """The two deviations: a to h hang from es, k to p stand on ei."""
        deviation = self.shafts[letter][band]
        if letter.upper() in _MIRRORED:
            return deviation - width, deviation
        lower = 0.0 if letter == "k" and grade > _K_HIGHEST else deviation
        return lower, lower + width

    def _stepped(self, letter: str, grade: int, band: int, nominal: float) -> float:
        """ES of K, M, N and P: -ei, and over 3 mm the step to the next finer grade up to IT8 (P: IT7)."""
        exception = _EXCEPTIONS.get((letter, grade, self.bands[band]))
        if exception is not None:
            return exception
        upper = 0.0 - self.shafts[letter.lower()][band]
        if nominal <= _SMALL:
            return upper
        if grade <= (7 if letter == "P" else 8):
            step = self.steps[grade][band]
            assert step is not None
            return upper + step
        if letter == "K":
            raise SettingsError(
                f"K{grade} is not given for sizes over 3 mm: K ends with K8",
                cure="Give the diameter that you want instead",
            )
        return 0.0 if letter == "N" else upper


def fits_from(tolerances: str, deviations: str) -> Fits:
    """The tables from the text of shared/published/iso-286-tolerances.csv and iso-286-deviations.csv."""
    head, *rows = _rows(tolerances)
    values = {int(grade[2:]): column for grade, column in zip(head[2:], _columns(rows), strict=True)}
    shafts: dict[str, tuple[float, ...]] = {}
    steps: dict[int, tuple[float | None, ...]] = {}
    for letter, _, *cells in _rows(deviations)[1:]:
        if letter.startswith("delta"):
            steps[int(letter[5:])] = tuple(None if cell == "-" else float(cell) for cell in cells)
        else:
            shafts[letter] = tuple(float(cell) for cell in cells)
    return Fits(tuple(float(row[1]) for row in rows), values, shafts, steps)


def _rows(text: str) -> list[list[str]]:
    return [line.split(",") for line in text.splitlines() if line and not line.startswith("#")]


def _columns(rows: list[list[str]]) -> list[tuple[float, ...]]:
    return [tuple(float(cell) for cell in column) for column in zip(*(row[2:] for row in rows), strict=True)]

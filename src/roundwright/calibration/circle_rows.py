"""What each figure of a reading says of the machine: the rows of the equations of a circular test."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from math import sqrt

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.calibration.reading import Reading, over_jaws
from roundwright.calibration.table import Condition, Tool

#: the unknowns that all conditions of a tool share, in the order of the columns; then a constant for each.
SCALE_X, SCALE_Y, SQUARENESS, LOST_X, LOST_Y, GRAIN = range(6)
SHARED = 6
#: diameters within this share of each other tell nothing of what grows with the diameter.
_ONE_SIZE = 0.05
#: so many diameters tell bending from scale and constant.
_TELL_BENDING = 3
#: a reading whose note has this word is of a piece that was cut turned by 90 degrees.
_TURNED = re.compile(r"\bturned\b", re.IGNORECASE)

Numbers = NDArray[np.float64]


class Equations(Struct, frozen=True):
    """Rows (n × m) and what was observed (n, measured minus programmed, mm), for some conditions.

    A reading gives one row for the mean of its figures (`means`, n, bool) and one less than its figures for
    what lies between them: figures of one cut share what that cut had, so they are no repeats. `instruments`
    (n) are those of the mean rows; what lies between the figures of one reading is free of the instrument.
    """

    rows: Numbers
    observed: Numbers
    means: NDArray[np.bool_]
    instruments: tuple[str | None, ...]


def path_diameter(programmed: float, side: str, tool: Tool) -> float:
    """The diameter of the tool centre's path, mm: D − d in a hole, D + d on a boss, D on the line."""
    return programmed + {"hole": -tool.diameter, "boss": tool.diameter}.get(side, 0.0)


def turn(condition: Condition, clockwise: bool) -> int:
    """1 where the path runs counter-clockwise, −1 clockwise, 0 where the condition doesn't say.

    A clockwise spindle climbs counter-clockwise in a hole, clockwise round a boss.
    """
    if condition.cut == "any" or condition.side == "groove":
        return 0
    climbs = 1 if condition.cut == "climb" else -1
    return climbs * (1 if condition.side == "hole" else -1) * (1 if clockwise else -1)


def is_turned(reading: Reading) -> bool:
    """Whether the reading's note says that its piece was cut turned by 90 degrees."""
    return _TURNED.search(reading.note) is not None


def one_size(readings: Sequence[Reading]) -> bool:
    """Whether all were cut at about one diameter."""
    sizes = [reading.programmed for reading in readings]
    return max(sizes) <= min(sizes) * (1.0 + _ONE_SIZE)


def tells_bending(condition: Condition) -> bool:
    """Whether it has so many diameters that the cutter's bending can be told from scale and constant."""
    sizes = sorted(reading.programmed for reading in condition.used)
    steps = sum(b > a * (1.0 + _ONE_SIZE) for a, b in pairwise(sizes))
    return condition.side != "groove" and steps + 1 >= _TELL_BENDING < len(sizes)


def equations(conditions: Sequence[Condition], tool: Tool, clockwise: bool) -> Equations:
    """The equations of all readings that count (DEVELOPERS.md, The mathematics; after ISO 230-4).

    The columns are scale X, scale Y, squareness, lost motion X, Y, grain, a constant for each condition, and
    for each how much more its cutter bends on a circle than at a straight wall. Grain is what X and Y differ
    by, half of it each way, where some pieces were cut turned by 90 degrees.

    A cutter bends with the width that it is engaged for: at a circle of path diameter p that is D/p = 1 ± d/p
    times the width at a straight wall, so what it adds falls as d/p, which over a short ladder of diameters
    looks like a scale. It is told apart where a condition has three diameters, and a reading to spare.
    """
    with_grain = any(is_turned(reading) for condition in conditions for reading in condition.used)
    rows: list[Numbers] = []
    observed: list[float] = []
    means: list[bool] = []
    instruments: list[str | None] = []
    for place, condition in enumerate(conditions):
        used = condition.used
        single = float(np.mean([r.programmed for r in used])) if used and one_size(used) else None
        bends = tells_bending(condition)
        for reading in used:
            path = path_diameter(single or reading.programmed, condition.side, tool)
            figures, errors = _figures(reading, path, turn(condition, clockwise), with_grain)
            mixed = _mixing(len(errors))
            block = np.zeros((len(errors), SHARED + 2 * len(conditions)))
            block[:, :SHARED] = mixed @ figures
            block[0, SHARED + place] = 1.0
            block[0, SHARED + len(conditions) + place] = tool.diameter / path if bends else 0.0
            rows.append(block)
            observed += (mixed @ errors).tolist()
            means += [True] + [False] * (len(errors) - 1)
            instruments += [reading.instrument] + [None] * (len(errors) - 1)
    matrix = np.concatenate(rows) if rows else np.zeros((0, SHARED + 2 * len(conditions)))
    return Equations(matrix, np.array(observed), np.array(means, dtype=bool), tuple(instruments))


def _figures(reading: Reading, path: float, turned: int, with_grain: bool) -> tuple[Numbers, Numbers]:
    """The rows (k × 6) and errors (k) of a reading's figures.

    Where the turn is not known the mean of both diagonals stands for them: it is free of the turn.
    """
    grain = (-1.0 if is_turned(reading) else 1.0) if with_grain else 0.0
    shear, lost = path / 2.0, turned / sqrt(2.0)
    along_x = np.array([path, 0.0, 0.0, -1.0, 0.0, grain])
    along_y = np.array([0.0, path, 0.0, 0.0, -1.0, -grain])
    d45 = np.array([path / 2, path / 2, shear, lost, -lost, 0.0])
    d135 = np.array([path / 2, path / 2, -shear, -lost, lost, 0.0])
    given = {"x": along_x, "y": along_y, "d45": d45, "d135": d135, "diameter": (along_x + along_y) / 2.0}
    found = [
        (row, over_jaws(figure, reading.jaw_width) - reading.programmed)
        for key, row in given.items()
        if (figure := getattr(reading, key)) is not None and (turned or key not in ("d45", "d135"))
    ]
    if not turned and reading.d45 is not None and reading.d135 is not None:
        both = (over_jaws(figure, reading.jaw_width) for figure in (reading.d45, reading.d135))
        found.append(((d45 + d135) / 2.0, sum(both) / 2.0 - reading.programmed))
    return np.array([row for row, _ in found]), np.array([error for _, error in found])


def _mixing(k: int) -> Numbers:
    """The mean of k figures, and k − 1 combinations of length 1 that are free of it (Helmert's)."""
    mixing = np.full((k, k), 0.0)
    mixing[0] = 1.0 / k
    for n in range(1, k):
        mixing[n, :n] = 1.0
        mixing[n, n] = -n
        mixing[n] /= sqrt(n * (n + 1))
    return mixing

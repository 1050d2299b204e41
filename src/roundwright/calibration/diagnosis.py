"""What the readings of a tool say of the machine: scale, squareness, lost motion, and what stays."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.calibration.circle_rows import (
    LOST_X,
    LOST_Y,
    SCALE_X,
    SCALE_Y,
    SHARED,
    SQUARENESS,
    Equations,
    equations,
)
from roundwright.calibration.least_squares import Fit, least_squares
from roundwright.calibration.student import coverage_factor
from roundwright.calibration.table import Condition, Table, Tool, folded
from roundwright.calibration.uncertainty import LEVEL, welch_satterthwaite, whole_freedom

#: the least variance that scatter is given, mm²: no shop's instrument shows 1 nm.
_STILL = 1e-12
#: fewer degrees of freedom than this say nothing of the scatter.
_LEAST_FREEDOM = 0.5
_NO_SHARE = 1e-9
_ROUNDS = 60


class Estimate(Struct, frozen=True):
    """A value that the readings tell, with its standard uncertainty u, None where that can't be told.

    Scales are fractions, squareness is in rad, all others in mm. `freedom` is the effective degrees of
    freedom of u; `why` says why there is no u.
    """

    value: float
    u: float | None
    freedom: float = math.inf
    why: str = ""

    @property
    def expanded(self) -> float | None:
        """U for about 95 %, after the GUM (JCGM 100:2008) G.4; None where there is no u."""
        if self.u is None:
            return None
        return coverage_factor(max(1.0, whole_freedom(self.freedom)), LEVEL) * self.u

    @property
    def stands_out(self) -> bool:
        """Whether the value is larger than its expanded uncertainty."""
        expanded = self.expanded
        return expanded is not None and abs(self.value) > expanded


class ToolDiagnosis(Struct, frozen=True):
    """The fit of all readings of one tool that count; None for what these readings cannot tell.

    `constants` (mm) are what does not grow with the path in each of the `conditions`; `steady` (mm) is that
    less the mean lost motion of both axes, which can be told without the diagonals.
    """

    tool: Tool
    conditions: tuple[Condition, ...]
    scale_x: Estimate | None
    scale_y: Estimate | None
    squareness: Estimate | None
    lost_motion_x: Estimate | None
    lost_motion_y: Estimate | None
    constants: tuple[Estimate | None, ...]
    steady: tuple[Estimate | None, ...]


def diagnose(table: Table) -> tuple[ToolDiagnosis, ...]:
    """A diagnosis for each cylindrical tool that has a condition, in the order of the conditions.

    Only readings of the bit that is fitted now count. Source: DEVELOPERS.md, The mathematics.
    """
    groups: dict[int, list[Condition]] = {}
    for condition in table.conditions:
        tool = None if condition.tool is None else table.tool(condition.tool)
        if tool is not None and tool.form == "cylindrical":
            groups.setdefault(table.tools.index(tool), []).append(condition)
    limits = {folded(instrument.name): instrument.limit for instrument in table.instruments}
    clockwise = table.machine.clockwise
    return tuple(_of_tool(table.tools[place], group, clockwise, limits) for place, group in groups.items())


def _of_tool(
    tool: Tool, conditions: Sequence[Condition], clockwise: bool, limits: dict[str, float]
) -> ToolDiagnosis:
    known = equations(conditions, tool, clockwise)
    if not known.observed.size:
        none = (None,) * len(conditions)
        return ToolDiagnosis(tool, tuple(conditions), None, None, None, None, None, none, none)
    scattered = _scattered(known)
    size = known.rows.shape[1]

    def estimate(parts: dict[int, float]) -> Estimate | None:
        wanted = np.zeros(size)
        wanted[list(parts)] = list(parts.values())
        return _estimate(scattered, known, wanted, limits)

    places = range(SHARED, SHARED + len(conditions))
    return ToolDiagnosis(
        tool=tool,
        conditions=tuple(conditions),
        scale_x=estimate({SCALE_X: 1.0}),
        scale_y=estimate({SCALE_Y: 1.0}),
        squareness=estimate({SQUARENESS: 1.0}),
        lost_motion_x=estimate({LOST_X: 1.0}),
        lost_motion_y=estimate({LOST_Y: 1.0}),
        constants=tuple(estimate({place: 1.0}) for place in places),
        steady=tuple(estimate({place: 1.0, LOST_X: -0.5, LOST_Y: -0.5}) for place in places),
    )


class _Scattered(Struct, frozen=True):
    """The fit, and of each stratum (its rows, n bool) the variance in mm² and its degrees of freedom."""

    fit: Fit
    strata: tuple[tuple[NDArray[np.bool_], float | None, float], ...]


def _scattered(known: Equations) -> _Scattered:
    """Fit with the scatter from cut to cut and that within one cut each estimated from the residuals.

    Each variance is its residuals' sum of squares over the rows less their leverage, and weights the rows in
    turn: restricted maximum likelihood for grouped variances (Patterson and Thompson 1971, from memory).
    """
    strata = [rows for rows in (known.means, ~known.means) if rows.any()]
    variances = [1.0] * len(strata)
    found: list[float | None] = [None] * len(strata)
    freedoms = [0.0] * len(strata)
    for _ in range(_ROUNDS):
        spread = np.zeros(known.observed.size)
        for rows, variance in zip(strata, variances, strict=True):
            spread[rows] = variance
        fit = least_squares(known.rows, known.observed, spread)
        before = list(variances)
        for k, rows in enumerate(strata):
            freedoms[k] = float(rows.sum() - fit.leverage[rows].sum())
            if freedoms[k] >= _LEAST_FREEDOM:
                variance = float(fit.residuals[rows] @ fit.residuals[rows]) / freedoms[k]
                found[k] = variances[k] = max(variance, _STILL)
        usual = max((v for v in found if v is not None), default=1.0)
        variances = [usual if v is None else v for v in found]
        if all(abs(a - b) <= 1e-9 * b for a, b in zip(variances, before, strict=True)):
            break
    return _Scattered(fit, tuple(zip(strata, found, freedoms, strict=True)))


def _estimate(
    scattered: _Scattered, known: Equations, wanted: NDArray[np.float64], limits: dict[str, float]
) -> Estimate | None:
    """The sum of wanted times the unknowns; None where the readings don't tell it."""
    fit = scattered.fit
    if not fit.tells(wanted):
        return None
    value, gain = float(wanted @ fit.values), wanted @ fit.gain
    whole = float(gain @ gain)
    parts: list[tuple[float, float]] = []
    for rows, variance, freedom in scattered.strata:
        squares = float(gain[rows] @ gain[rows])
        if squares <= _NO_SHARE * whole:
            continue
        if variance is None:
            return Estimate(value, None, why="scatter")
        parts.append((math.sqrt(squares * variance), freedom))
    instrument = _instrument_part(gain, known, limits)
    if instrument is None:
        return Estimate(value, None, why="instrument")
    parts.append((instrument, math.inf))
    u = math.hypot(*(part for part, _ in parts))
    return Estimate(value, u, welch_satterthwaite(tuple(parts)))


def _instrument_part(gain: NDArray[np.float64], known: Equations, limits: dict[str, float]) -> float | None:
    """What the instruments' limits a, each common to all its readings, make of a value: a/√3 times its share.

    None where readings without a known instrument have a share. Source: GUM 4.3.7, 5.1.2.
    """
    shares: dict[str | None, float] = {}
    for place in np.flatnonzero(known.means):
        name = known.instruments[place]
        key = folded(name) if name is not None and folded(name) in limits else None
        shares[key] = shares.get(key, 0.0) + float(gain[place])
    room = 1e-6 * float(np.abs(gain).sum())
    if abs(shares.pop(None, 0.0)) > room:
        return None
    return math.hypot(*(share * limits[str(key)] for key, share in shares.items()), 0.0) / math.sqrt(3.0)

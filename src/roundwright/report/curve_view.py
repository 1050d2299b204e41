"""The error curve of a condition as a picture: readings, curve, band, and this job's features on it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import pairwise
from math import ceil, floor, isfinite, log10
from typing import TYPE_CHECKING

from msgspec import Struct

from roundwright.calibration.curve import Curve, curve_of
from roundwright.calibration.table import Condition, Table, folded
from roundwright.calibration.uncertainty import budget
from roundwright.plan.plan import Correction
from roundwright.report.ruler import Ruler
from roundwright.units import native

if TYPE_CHECKING:
    from roundwright.pipeline import Outcome

_LETTER = 8.0  # a letter's width, nearly
_STEPS = 24  # pieces of the band between two nodes
_LABELLED = 14  # with more spots than this their ids would lie over one another


class Field(Struct, frozen=True):
    """A picture's size, and the edges of what is drawn in between its axes."""

    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int


#: small enough that its letters are read on a phone.
FIELD = Field(width=480, height=290, left=68, right=466, top=14, bottom=240)


class Spot(Struct, frozen=True):
    """Where features lie in the picture: the corrected diameter and the error expected there, ± U."""

    x: float
    y: float
    high: float | None
    low: float | None
    label: str

    @property
    def letters(self) -> float:
        """Where the middle of the label stands: over the spot, but within the field."""
        half = _LETTER * len(self.label) / 2
        return round(min(max(self.x, FIELD.left + half), FIELD.right - half), 1)


class CurveView(Struct, frozen=True):
    """A picture, all in its own units: points as SVG writes them, ticks as (position, text)."""

    label: str
    curve: str
    held: tuple[str, ...]
    band: str
    outside: tuple[tuple[float, float], ...]  # (left edge, width)
    zero: float | None
    readings: tuple[tuple[float, float, float], ...]  # x, y, half height of the bar
    x_ticks: tuple[tuple[float, str], ...]
    y_ticks: tuple[tuple[float, str], ...]
    spots: tuple[Spot, ...]
    note: str


class _Axes:
    """From mm to the picture."""

    def __init__(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        self.x_range, self.y_range = x, y

    def x(self, diameter: float) -> float:
        low, high = self.x_range
        share = min(max((diameter - low) / (high - low), 0.0), 1.0)
        return round(FIELD.left + share * (FIELD.right - FIELD.left), 1)

    def y(self, error: float) -> float:
        low, high = self.y_range
        share = min(max((error - low) / (high - low), 0.0), 1.0)
        return round(FIELD.bottom - share * (FIELD.bottom - FIELD.top), 1)

    def line(self, points: Iterable[tuple[float, float]]) -> str:
        return " ".join(f"{self.x(d)},{self.y(e)}" for d, e in points)


def curve_views(outcome: Outcome, ruler: Ruler) -> dict[str, tuple[CurveView, dict[str, Spot]]]:
    """By condition that serves a feature of this job: the picture, and each feature's spot by its id."""
    table = outcome.table
    groups: dict[str, list[Correction]] = {}
    for correction in outcome.plan.corrections:
        if correction.condition is not None:
            groups.setdefault(correction.condition, []).append(correction)
    if table is None:
        return {}
    conditions = {condition.label: condition for condition in table.conditions}
    return {
        label: _view(conditions[label], table, corrections, ruler)
        for label, corrections in groups.items()
        if label in conditions and curve_of(conditions[label], table).nodes
    }


def _view(
    condition: Condition, table: Table, corrections: list[Correction], ruler: Ruler
) -> tuple[CurveView, dict[str, Spot]]:
    curve = curve_of(condition, table)
    low, high = curve.serves(table.limits.reach)
    first, last = curve.nodes[0].diameter, curve.nodes[-1].diameter
    room = max(0.25 * first, 0.06 * (last - first))
    diameters = _diameters(curve, low, high)
    band, note = _band(curve, diameters)
    limits = {folded(one.name): one.limit for one in table.instruments}
    readings = [(r.programmed, r.error, limits.get(folded(r.instrument or ""), 0.0)) for r in condition.used]
    placed = [c for c in corrections if c.corrected is not None and c.expected_error is not None]
    reached = [(c.expected_error or 0.0, c.uncertainty or 0.0) for c in placed]
    reached += [(error, limit) for _, error, limit in readings]
    errors = [0.0, *(edge for _, edge in band), *(e + s * h for e, h in reached for s in (1, -1))]
    axes = _Axes((max(low - room, 0.0), high + room), _roomy(errors))
    beyond = (axes.x_range[0], low), (high, axes.x_range[1])
    spots = _spots(placed, axes)
    view = CurveView(
        label=condition.label,
        curve=axes.line((d, curve.error(d)) for d in diameters if first <= d <= last),
        held=tuple(
            axes.line([(a, curve.error(a)), (b, curve.error(b))]) for a, b in ((low, first), (last, high))
        ),
        band=axes.line(band),
        outside=tuple((axes.x(a), round(axes.x(b) - axes.x(a), 1)) for a, b in beyond),
        zero=axes.y(0.0),
        readings=tuple((axes.x(d), axes.y(e), round(axes.y(e) - axes.y(e + h), 1)) for d, e, h in readings),
        x_ticks=_ticks(axes.x_range, axes.x, ruler, 8),
        y_ticks=_ticks(axes.y_range, axes.y, ruler, 6),
        spots=_grouped(spots),
        note=note,
    )
    return view, spots


def _diameters(curve: Curve, low: float, high: float) -> list[float]:
    """Every node and edge, and points between, where the band bends."""
    edges = [low, *(node.diameter for node in curve.nodes), high]
    found = [a + (b - a) * k / _STEPS for a, b in pairwise(edges) for k in range(_STEPS)]
    return [*found, high]


def _band(curve: Curve, diameters: list[float]) -> tuple[list[tuple[float, float]], str]:
    """The outline of the next cut's band, about 95 %; without one, why."""
    upper, lower = [], []
    for diameter in diameters:
        found = budget(curve, diameter)
        if isinstance(found, str):
            return [], found
        error = curve.error(diameter)
        upper.append((diameter, error + found.expanded))
        lower.append((diameter, error - found.expanded))
    return [*upper, *reversed(lower)], ""


def _roomy(values: list[float]) -> tuple[float, float]:
    finite = [value for value in values if isfinite(value)]
    low, high = min(finite), max(finite)
    room = 0.08 * (high - low) or 0.01
    return low - room, high + room


def _spots(placed: list[Correction], axes: _Axes) -> dict[str, Spot]:
    spots = {}
    for correction in placed:
        diameter, error, u = (
            correction.corrected or 0.0,
            correction.expected_error or 0.0,
            correction.uncertainty,
        )
        high, low = (None, None) if u is None else (axes.y(error + u), axes.y(error - u))
        spots[correction.feature.id] = Spot(axes.x(diameter), axes.y(error), high, low, correction.feature.id)
    return spots


def _grouped(spots: dict[str, Spot]) -> tuple[Spot, ...]:
    """Spots that lie on one another as one, their ids joined; no ids where there are many."""
    groups: dict[tuple[float, float], list[Spot]] = {}
    for spot in spots.values():
        groups.setdefault((spot.x, spot.y), []).append(spot)
    joined = []
    for group in groups.values():
        ids = [spot.label for spot in group]
        label = " ".join(ids[:3]) + (f" +{len(ids) - 3}" if len(ids) > 3 else "")
        spot = group[0]
        joined.append(Spot(spot.x, spot.y, spot.high, spot.low, label if len(groups) <= _LABELLED else ""))
    return tuple(joined)


def _ticks(
    span: tuple[float, float], place: Callable[[float], float], ruler: Ruler, wanted: int
) -> tuple[tuple[float, str], ...]:
    """Round numbers of the ruler's unit within the span."""
    low, high = (native(end, inch=ruler.inch) for end in span)
    raw = (high - low) / wanted
    power = 10.0 ** floor(log10(raw))
    step = next(power * factor for factor in (1.0, 2.0, 5.0, 10.0) if power * factor >= raw * 0.999)
    decimals = max(0, -floor(log10(step) + 1e-9))
    numbers = [k * step for k in range(ceil(low / step), floor(high / step) + 1)]
    factor = (span[1] - span[0]) / (high - low)
    return tuple((place(number * factor), f"{number + 0.0:.{decimals}f}") for number in numbers)

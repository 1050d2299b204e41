"""The uncertainty of the next cut, from repeats, instrument and curve, after the GUM (JCGM 100:2008)."""

from __future__ import annotations

import math
from math import fsum, sqrt

from msgspec import Struct

from roundwright.calibration.curve import Curve, Node, line_at
from roundwright.calibration.student import coverage_factor
from roundwright.calibration.table import folded

LEVEL = 0.95
#: effective degrees of freedom this little below a whole number are that number (GUM G.4.1: 18.9987 is 19).
_NEAR_WHOLE = 0.01


class Budget(Struct, frozen=True):
    """What the uncertainty of one cut at one programmed diameter is made of. Standard ones in mm.

    `scatter` is that of single cuts, `mean` that of the curve's means, `expanded` is U = factor · standard
    for about 95 %. `freedom` is the effective one, not yet rounded. `note` says what could not be told.
    """

    scatter: float
    mean: float
    instrument: float
    interpolation: float
    standard: float
    freedom: float
    factor: float
    expanded: float
    note: str = ""


def budget(curve: Curve, diameter: float) -> Budget | str:
    """The uncertainty of the next cut programmed at `diameter` (mm), or why it cannot be told.

    u² = s_pooled² + u_mean² + u_instrument² + u_interpolation². Scatter and mean come from the same pooled
    s, so they share its degrees of freedom as one component; the others are limits, known beforehand
    (GUM G.4.2, G.4.3). Source: GUM 4.2, 4.3.7, 5.1.2, G.4.1; DEVELOPERS.md, The mathematics.
    """
    scatter = pooled_scatter(curve.nodes)
    if scatter is None:
        return "no diameter was cut and measured twice, so the scatter of cuts is not known"
    s, freedom = scatter
    weights = curve.weights(diameter)
    instrument = instrument_part(curve, weights)
    if instrument is None:
        return "some readings name no instrument, so how far they can be off is not known"
    mean = s * sqrt(fsum(w * w / node.n for w, node in zip(weights, curve.nodes, strict=True)))
    interpolation, note = interpolation_part(curve, diameter)
    from_repeats = math.hypot(s, mean)
    standard = math.hypot(from_repeats, instrument, interpolation)
    effective = welch_satterthwaite(
        ((from_repeats, freedom), (instrument, math.inf), (interpolation, math.inf))
    )
    factor = coverage_factor(whole_freedom(effective), LEVEL)
    return Budget(s, mean, instrument, interpolation, standard, effective, factor, factor * standard, note)


def pooled_scatter(nodes: tuple[Node, ...]) -> tuple[float, int] | None:
    """Scatter s of single cuts in mm and its degrees of freedom, pooled; None where there are no repeats.

    s² = Σ(n_i − 1)s_i² / Σ(n_i − 1). Source: GUM 4.2.4.
    """
    freedom = sum(node.n - 1 for node in nodes)
    if not freedom:
        return None
    squares = fsum((error - node.error) ** 2 for node in nodes for error in node.errors)
    return sqrt(squares / freedom), freedom


def instrument_part(curve: Curve, weights: tuple[float, ...]) -> float | None:
    """a/√3 of the instrument's limit a, mm; None where a reading has no instrument.

    An instrument's error is common to all its readings, so it is never divided by n. Where several were
    used each counts with the weight that its readings have in the curve. Source: GUM 4.3.7, 5.1.2.
    """
    shares: dict[str, float] = {}
    for weight, node in zip(weights, curve.nodes, strict=True):
        for name in node.instruments:
            if weight == 0.0:
                continue
            if name is None or folded(name) not in curve.limits:
                return None
            shares[folded(name)] = shares.get(folded(name), 0.0) + weight / node.n
    return sqrt(fsum((share * curve.limits[name]) ** 2 for name, share in shares.items()) / 3.0)


def interpolation_part(curve: Curve, diameter: float) -> tuple[float, str]:
    """What the straight line between nodes may hide, mm, and a note where that cannot be told.

    |second divided difference|·(D − a)(b − D)/√3 between nodes a < D < b, the larger of those with the
    node before and the node behind; past the ends and for a trend the largest leave-one-out residual.
    """
    nodes = curve.nodes
    if len(nodes) < 3:
        how = "one diameter was" if len(nodes) == 1 else "two diameters were"
        return 0.0, f"only {how} measured: what the curve does elsewhere is not in U"
    inside = nodes[0].diameter <= diameter <= nodes[-1].diameter
    if curve.method == "trend" or not inside:
        return max(abs(residual) for residual in leave_one_out(curve) if residual is not None), ""
    upper = min(max(1, sum(node.diameter <= diameter for node in nodes)), len(nodes) - 1)
    a, b = nodes[upper - 1].diameter, nodes[upper].diameter
    bend = max(
        abs(_second_difference(nodes[first : first + 3]))
        for first in (upper - 2, upper - 1)
        if 0 <= first <= len(nodes) - 3
    )
    return bend * (diameter - a) * (b - diameter) / sqrt(3.0), ""


def leave_one_out(curve: Curve) -> tuple[float | None, ...]:
    """Each node's error minus what the other nodes make of it, mm; None where they cannot tell.

    The ends of an interpolated curve have no nodes around them; a trend needs two others.
    """
    nodes = curve.nodes
    found: list[float | None] = []
    for position, node in enumerate(nodes):
        others = nodes[:position] + nodes[position + 1 :]
        if curve.method == "trend":
            guess = line_at(others, node.diameter) if len(others) > 1 else None
        elif 0 < position < len(nodes) - 1:
            guess = line_at_pair(nodes[position - 1], nodes[position + 1], node.diameter)
        else:
            guess = None
        found.append(None if guess is None else node.error - guess)
    return tuple(found)


def line_at_pair(before: Node, behind: Node, diameter: float) -> float:
    """The error on the straight line between two nodes, mm."""
    share = (diameter - before.diameter) / (behind.diameter - before.diameter)
    return before.error + share * (behind.error - before.error)


def welch_satterthwaite(components: tuple[tuple[float, float], ...]) -> float:
    """The effective degrees of freedom of independent (u, ν): u⁴ / Σ(u_i⁴/ν_i); infinite where all u are 0.

    Not rounded, and from u not rounded either. Source: GUM G.4.1 formula (G.2b).
    """
    whole = fsum(u * u for u, _ in components)
    if whole == 0.0:
        return math.inf
    parts = fsum((u * u / whole) ** 2 / freedom for u, freedom in components)
    return 1.0 / parts if parts > 0.0 else math.inf


def whole_freedom(freedom: float) -> float:
    """Cut down to a whole number, as the GUM does, but for what is whole within its own rounding."""
    return freedom if math.isinf(freedom) else float(math.floor(freedom + _NEAR_WHOLE))


def _second_difference(nodes: tuple[Node, ...]) -> float:
    a, b, c = nodes
    first = (b.error - a.error) / (b.diameter - a.diameter)
    second = (c.error - b.error) / (c.diameter - b.diameter)
    return (second - first) / (c.diameter - a.diameter)

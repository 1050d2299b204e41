"""The error curve of a condition: its nodes, and the error between and just past them."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from math import fsum

from msgspec import Struct, field

from roundwright.calibration.reading import Reading
from roundwright.calibration.table import Condition, Method, Table, folded
from roundwright.calibration.text import length_text
from roundwright.errors import TableError
from roundwright.units import MICROMETRE

#: a diameter that is this near to a node is the node: no control writes finer than that.
SAME_DIAMETER = 1.0 * MICROMETRE
#: readings whose programmed diameters differ by at most the larger of these belong to one node.
NEAR_LENGTH = 0.08  # mm
NEAR_SHARE = 0.004


class Node(Struct, frozen=True):
    """All readings at about one programmed diameter (their mean). `error` is their mean error; all in mm.

    `errors` are the single ones in ascending order, `instruments` what each was taken with.
    """

    diameter: float
    error: float
    errors: tuple[float, ...]
    instruments: tuple[str | None, ...]

    @property
    def n(self) -> int:
        """How many readings."""
        return len(self.errors)


class Curve(Struct, frozen=True):
    """The error e(D), measured minus programmed, over the programmed diameter D. All in mm.

    `points` are (D, e) between which e is a straight line and past which the end value holds: the nodes,
    or the two ends of the trend. `limits` are the instruments' limits by folded name.
    """

    label: str
    method: Method
    inch: bool
    nodes: tuple[Node, ...]
    points: tuple[tuple[float, float], ...]
    limits: Mapping[str, float] = field(default_factory=dict)
    kept: int = 0  # readings that don't count, being older than the tool's present bit

    def error(self, diameter: float) -> float:
        """The expected error e at a programmed diameter, mm. Raises TableError where nothing was measured.

        The end values hold however far; how far to trust them is for `solve` to say.
        """
        points = self.points
        if not points:
            raise TableError(f"{self.label} has no readings", cure="Cut and measure circles first.")
        if diameter <= points[0][0]:
            return points[0][1]
        if diameter >= points[-1][0]:
            return points[-1][1]
        (a, ea), (b, eb) = points[(i := bisect_right(points, diameter, key=_diameter)) - 1], points[i]
        return ea + (eb - ea) * ((diameter - a) / (b - a))

    def weights(self, diameter: float) -> tuple[float, ...]:
        """How much each node's mean error counts in e(diameter); they add up to 1."""
        nodes = self.nodes
        x = min(max(diameter, nodes[0].diameter), nodes[-1].diameter)
        if self.method == "trend" and len(nodes) > 1:
            return _trend_weights(nodes, x)
        found = [0.0] * len(nodes)
        upper = min(bisect_right([node.diameter for node in nodes], x), len(nodes) - 1)
        if upper == 0:
            return (1.0,)
        a, b = nodes[upper - 1].diameter, nodes[upper].diameter
        found[upper] = (x - a) / (b - a)
        found[upper - 1] = 1.0 - found[upper]
        return tuple(found)

    def basis(self, diameter: float) -> str:
        """Where e(diameter) comes from: "between 10 and 25", "at 10", "beyond 60, held"; table's units."""
        first, last = self.nodes[0].diameter, self.nodes[-1].diameter
        if diameter < first - SAME_DIAMETER:
            return f"below {self.length(first)}, held"
        if diameter > last + SAME_DIAMETER:
            return f"beyond {self.length(last)}, held"
        if self.method == "trend" and len(self.nodes) > 1:
            return f"trend from {self.length(first)} to {self.length(last)}"
        nearest = min(self.nodes, key=lambda node: abs(node.diameter - diameter))
        if abs(nearest.diameter - diameter) <= SAME_DIAMETER:
            return f"at {self.length(nearest.diameter)}"
        upper = bisect_right([node.diameter for node in self.nodes], diameter)
        a, b = self.nodes[upper - 1].diameter, self.nodes[upper].diameter
        return f"between {self.length(a)} and {self.length(b)}"

    def serves(self, reach: float) -> tuple[float, float]:
        """The smallest and largest target, mm, `reach` being a fraction of the end diameters."""
        return self.nodes[0].diameter * (1.0 - reach), self.nodes[-1].diameter * (1.0 + reach)

    def length(self, millimetres: float) -> str:
        """A length of this curve for people, in the table's units, without idle zeros."""
        return length_text(millimetres, inch=self.inch)


def curve_of(condition: Condition, table: Table) -> Curve:
    """The curve of a condition's readings that count; without nodes where there are none."""
    nodes = nodes_of(condition.used)
    points = tuple((node.diameter, node.error) for node in nodes)
    if condition.method == "trend" and len(nodes) > 1:
        ends = nodes[0].diameter, nodes[-1].diameter
        points = tuple((x, _sum(_trend_weights(nodes, x), nodes)) for x in ends)
    return Curve(
        condition.label,
        condition.method,
        table.inch,
        nodes,
        points,
        {folded(instrument.name): instrument.limit for instrument in table.instruments},
        len(condition.readings) - len(condition.used),
    )


def nodes_of(readings: Iterable[Reading]) -> tuple[Node, ...]:
    """Readings gathered into nodes by programmed diameter, ascending, whatever order they come in.

    After a few corrected jobs there are readings at 20.134, 20.140, 20.151: one size, programmed as the table
    knew it each time. As nodes of their own their ordinary scatter (0.02 mm, say) would make the straight
    lines between them as steep as to turn x + e(x) back. So what lies within max(0.08 mm, 0.4 %) of the
    smallest of a group is one node, at the mean of their diameters, and its readings are repeats. 0.08 mm is
    nearly three times the standard deviation of the difference of two such cuts; and an error that grows by
    as much as 1 % of the diameter differs by 1 µm in it at 20 mm. Sizes that are meant to differ differ by
    more: preferred numbers by 6 % (R40), small holes by 0.1 mm, inch sizes by 1/64 in. Solving is exact at
    the nodes: a node's diameter plus its error, asked for, gives the node's diameter again.
    """
    groups: list[list[Reading]] = []
    for reading in sorted(readings, key=lambda r: (r.programmed, r.error, r.instrument or "")):
        if groups and near(groups[-1][0].programmed, reading.programmed):
            groups[-1].append(reading)
        else:
            groups.append([reading])
    return tuple(_node(group) for group in groups)


def near(one: float, other: float) -> bool:
    """Whether two programmed diameters (mm) are so near that their readings are of one node."""
    return abs(other - one) <= max(NEAR_LENGTH, NEAR_SHARE * min(one, other))


def line_at(nodes: tuple[Node, ...], x: float) -> float:
    """The trend's error at x, mm, inside or outside the nodes."""
    return _sum(_trend_weights(nodes, x), nodes)


def _node(group: list[Reading]) -> Node:
    pairs = sorted((r.error, r.instrument or "") for r in group)
    first, last = group[0].programmed, group[-1].programmed
    errors = tuple(error for error, _ in pairs)
    return Node(
        first if first == last else fsum(r.programmed for r in group) / len(group),
        errors[0] if errors[0] == errors[-1] else fsum(errors) / len(errors),
        errors,
        tuple(name or None for _, name in pairs),
    )


def _trend_weights(nodes: tuple[Node, ...], x: float) -> tuple[float, ...]:
    """How each node's mean counts in the straight line of least squares, weighted by its readings."""
    total = sum(node.n for node in nodes)
    middle = fsum(node.n * node.diameter for node in nodes) / total
    spread = fsum(node.n * (node.diameter - middle) ** 2 for node in nodes)
    return tuple(node.n * (1.0 / total + (x - middle) * (node.diameter - middle) / spread) for node in nodes)


def _sum(weights: tuple[float, ...], nodes: tuple[Node, ...]) -> float:
    return fsum(weight * node.error for weight, node in zip(weights, nodes, strict=True))


def _diameter(point: tuple[float, float]) -> float:
    return point[0]

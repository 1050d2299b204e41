"""The rings that a plan speaks of, as columns: their moves, and each one's circle."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.feature import Ring
from roundwright.plan.plan import Correction, Plan
from roundwright.trace.moves import PLANE_AXES

Floats = NDArray[np.float64]


class Circles(Struct, frozen=True, eq=False):
    """The moves of some rings (shape w), with each one's circle before and after, mm.

    `circle` (r, 6) holds of each ring the axes of its plane, its centre, planned radius and tolerance.
    """

    features: NDArray[np.str_]  # of each ring
    ring: NDArray[np.int32]  # of each move
    row: NDArray[np.int64]
    circle: Floats

    @property
    def axes(self) -> NDArray[np.intp]:
        """The two axes of each move's plane (w, 2)."""
        return self.circle[:, :2].astype(np.intp)[self.ring]

    @property
    def centre(self) -> Floats:
        """Where the centre of each move's circle is (w, 2)."""
        return self.circle[:, 2:4][self.ring]

    @property
    def planned(self) -> Floats:
        """The radius that each move's circle is to have (w,)."""
        return self.circle[:, 4][self.ring]

    @property
    def first(self) -> NDArray[np.intp]:
        """Where each ring's moves begin."""
        return np.flatnonzero(np.diff(self.ring, prepend=np.int32(-1)))

    def feature(self, k: int) -> str:
        """The feature that a move is for."""
        return str(self.features[self.ring[k]])


def circles_of(rings: Iterable[tuple[str, Ring, float]]) -> Circles:
    """Rings as columns, each with the id of its feature and its planned radius."""
    names: list[str] = []
    size, row, circle = array("q"), array("q"), array("d")
    for name, ring, planned in rings:
        names.append(name)
        size.append(len(ring.rows))
        row.extend(ring.rows)
        circle.extend((*PLANE_AXES[ring.normal], *ring.centre, planned, ring.tolerance))
    of = np.repeat(np.arange(len(names), dtype=np.int32), np.array(size, np.int64))
    each = np.array(circle, dtype=np.float64).reshape(-1, 6)
    return Circles(np.array(names, np.str_), of, np.array(row, dtype=np.int64), each)


def corrected(plan: Plan) -> Iterator[Correction]:
    """The corrections of the features that are to change."""
    return (one for one in plan.corrections if one.status == "corrected")


def corrected_rings(plan: Plan) -> Circles:
    """All rings of the features that are to change, each with its feature's id and its radius as found."""
    return circles_of(
        (one.feature.id, ring, ring.radius)
        for one in corrected(plan)
        for ring in (one.feature.wall, *one.feature.clearing)
    )

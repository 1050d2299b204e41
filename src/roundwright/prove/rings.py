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
    """The moves of some rings (shape w), with each one's circle before and after, mm."""

    features: NDArray[np.str_]  # of each ring
    ring: NDArray[np.intp]  # of each move
    row: NDArray[np.int64]
    axes: NDArray[np.intp]  # (w, 2) the plane's axes
    centre: Floats  # (w, 2)
    planned: Floats  # (w,) radius
    tolerance: Floats  # (w,) of the ring

    def feature(self, k: int) -> str:
        """The feature that a move is for."""
        return str(self.features[self.ring[k]])

    @property
    def first(self) -> NDArray[np.intp]:
        """Where each ring's moves begin."""
        return np.flatnonzero(np.diff(self.ring, prepend=-1))


def circles_of(rings: Iterable[tuple[str, Ring, float]]) -> Circles:
    """Rings as columns, each with the id of its feature and its planned radius."""
    names: list[str] = []
    size, row, circle = array("q"), array("q"), array("d")
    for name, ring, planned in rings:
        names.append(name)
        size.append(len(ring.rows))
        row.extend(ring.rows)
        circle.extend((*PLANE_AXES[ring.normal], *ring.centre, planned, ring.tolerance))
    of = np.repeat(np.arange(len(names)), np.array(size, np.int64))
    table = np.array(circle, dtype=np.float64).reshape(-1, 6)[of]
    return Circles(
        np.array(names, np.str_),
        of,
        np.array(row, dtype=np.int64),
        table[:, :2].astype(np.intp),
        table[:, 2:4],
        table[:, 4],
        table[:, 5],
    )


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

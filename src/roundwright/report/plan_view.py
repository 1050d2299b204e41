"""The plan of a report: a program's path and features from above, one picture for each work offset.

Coordinates of a picture are mm from its upper left corner, Y downward, as SVG has it.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import cos, radians, sin
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.plan.plan import Correction
from roundwright.report.path_view import Track, track_of
from roundwright.trace.moves import Motion, Moves

if TYPE_CHECKING:
    from roundwright.pipeline import Outcome

_PER_MM = 1e8
_XY = 2  # the plane's normal of a feature that is seen round from above
_MARGIN = 0.085  # ids stand beside the circles
_NEAR_ZERO = 0.2  # X0 Y0 is shown where it lies this near to what is cut, as a share of that
#: letters: a share of the picture, at most a share of the circle's radius, so that neighbours stay apart.
_LETTERS, _LETTERS_OF_CIRCLE = 1 / 36, 1.6
#: where sign and id stand on the circle, of circles on one centre one after the other: cosine, sine.
_CORNERS = tuple((cos(radians(a)), -sin(radians(a))) for a in (45, 135, 225, 315, 15, 165, 195, 345))


class Mark(Struct, frozen=True):
    """One feature in the picture: its circle, and where its sign (`size` wide) and its id stand."""

    id: str
    status: str
    x: float
    y: float
    r: float
    sign: tuple[float, float]
    size: float
    label: tuple[float, float]
    anchor: str
    letters: float


class PlanView(Struct, frozen=True):
    """A picture: its size in mm, where X0 Y0 lies in it, the path, drilled holes, and the features."""

    frame: str
    width: float
    height: float
    zero: tuple[float, float]
    track: Track
    drilled: tuple[tuple[float, float], ...]
    marks: tuple[Mark, ...]


def plan_views(outcome: Outcome) -> tuple[PlanView, ...]:
    """A picture for each work offset in which something is cut, in the order of the program."""
    moves = outcome.moves
    by_frame: dict[int, list[Correction]] = {}
    for correction in outcome.plan.corrections:
        wall = correction.feature.wall
        if wall.normal == _XY and wall.known:
            by_frame.setdefault(wall.frame, []).append(correction)
    frames = np.array([state.frame for state in moves.states], dtype=np.int64)
    frame_of_row = frames[moves.state] if len(moves) else np.zeros(0, np.int64)
    drawn = _drawn(moves)
    views = []
    for frame, name in enumerate(moves.frames):
        corrections = by_frame.get(frame, [])
        rows = np.flatnonzero(drawn & (frame_of_row == frame))
        if corrections or (moves.motion[rows] != Motion.RAPID).any():
            views.append(_view(name, moves, rows, corrections))
    return tuple(views)


def _drawn(moves: Moves) -> NDArray[np.bool_]:
    """The moves whose both ends are known in X and Y."""
    known = (moves.start_known & moves.end_known & 3) == 3
    return np.asarray(known & (moves.motion != Motion.OTHER), dtype=np.bool_)


def _view(name: str, moves: Moves, rows: NDArray[np.int64], corrections: list[Correction]) -> PlanView:
    low, high = _extent(moves, rows, corrections)
    margin = _MARGIN * float(max(high - low))
    left, top = float(low[0]) - margin, float(high[1]) + margin
    width, height = (float(side) + 2 * margin for side in high - low)
    own: set[int] = set()
    for correction in corrections:
        for ring in (correction.feature.wall, *correction.feature.clearing):
            own.update(ring.rows)
    cycles = rows[moves.motion[rows] == Motion.CYCLE]
    spots = moves.end[cycles, :2] / _PER_MM
    return PlanView(
        frame=name,
        width=_short(width),
        height=_short(height),
        zero=(_short(-left), _short(top)),
        track=track_of(moves, rows[moves.motion[rows] != Motion.CYCLE], own, (left, top), max(width, height)),
        drilled=tuple((_short(x - left), _short(top - y)) for x, y in np.unique(spots, axis=0).tolist()),
        marks=_marks(corrections, left, top, max(width, height)),
    )


def _extent(
    moves: Moves, rows: NDArray[np.int64], corrections: list[Correction]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower left and upper right corner, mm, of what is cut; rapids may lead out of the picture."""
    cutting = rows[moves.motion[rows] != Motion.RAPID]
    corners = [moves.start[cutting, :2] / _PER_MM, moves.end[cutting, :2] / _PER_MM]
    for correction in corrections:
        wall = correction.feature.wall
        centre, r = np.array([wall.centre]), max(wall.radius, _radius(correction))
        corners += [centre - r, centre + r]
    points = np.concatenate(corners)
    low, high = points.min(axis=0), points.max(axis=0)
    near = _NEAR_ZERO * float(max(high - low))
    if (low - near <= 0.0).all() and (high + near >= 0.0).all():
        low, high = np.minimum(low, 0.0), np.maximum(high, 0.0)
    room = max(float(max(high - low)) * 0.05, 1.0)  # a single line has no height
    middle, half = (low + high) / 2, np.maximum((high - low) / 2, room)
    return middle - half, middle + half


def _radius(correction: Correction) -> float:
    """Of the circle to draw: the wall where it is known, else the path."""
    feature = correction.feature
    return feature.wall.radius if feature.diameter is None else feature.diameter / 2


def _marks(corrections: Iterable[Correction], left: float, top: float, side: float) -> tuple[Mark, ...]:
    """Large circles first, so that small ones inside them can be pointed at."""
    nested: dict[tuple[float, float], int] = {}
    marks = []
    for correction in sorted(corrections, key=_radius, reverse=True):
        x, y = correction.feature.wall.centre
        centre = round(x, 1), round(y, 1)
        corner = nested[centre] = nested.get(centre, -1) + 1
        marks.append(_mark(correction, (x - left, top - y), _CORNERS[corner % len(_CORNERS)], side))
    return tuple(marks)


def _mark(correction: Correction, at: tuple[float, float], corner: tuple[float, float], side: float) -> Mark:
    r = _radius(correction)
    letters = min(_LETTERS * side, _LETTERS_OF_CIRCLE * r)
    size = 0.62 * letters
    sign = at[0] + corner[0] * r, at[1] + corner[1] * r
    out = 0.75 * letters  # from the sign to the id
    label = sign[0] + out * (1 if corner[0] > 0 else -1), sign[1] + out * corner[1] * 0.9
    return Mark(
        id=correction.feature.id,
        status=correction.status,
        x=_short(at[0]),
        y=_short(at[1]),
        r=_short(r),
        sign=(_short(sign[0]), _short(sign[1])),
        size=_short(size),
        label=(_short(label[0]), _short(label[1])),
        anchor="start" if corner[0] > 0 else "end",
        letters=_short(letters),
    )


def _short(value: float) -> float:
    return round(value, 3) + 0.0

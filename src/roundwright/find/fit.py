"""Circles through points: an algebraic start, a geometric finish."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


def algebraic_circle(points: Points) -> tuple[float, float, float]:
    """Centre and radius that minimise sum((x² + y² + ax + by + c)²), points of shape (n, 2).

    Linear and good as a start; on a short arc its radius is far off (the simple linear fit of the
    literature: see Gander, Golub and Strebel, BIT 34 (1994), 558-578). Needs three points that are not
    in line; raises numpy's LinAlgError where they are.
    """
    middle = points.mean(axis=0)
    p = points - middle
    matrix = np.ones((len(p), 3))
    matrix[:, :2] = p
    solution = np.linalg.lstsq(matrix, (p**2).sum(axis=1), rcond=None)
    if solution[2] < 3:
        raise np.linalg.LinAlgError("points in line")
    a, b, c = solution[0]
    return float(a / 2 + middle[0]), float(b / 2 + middle[1]), float(np.sqrt(c + (a * a + b * b) / 4))


def geometric_circle(
    points: Points, start: tuple[float, float, float] | None = None
) -> tuple[float, float, float]:
    """Centre and radius that minimise the sum of squared distances to the circle, points (n, 2).

    Gauss-Newton from the algebraic fit, as in Gander, Golub and Strebel (1994), section 3; `start` is that
    fit where it is known.
    """
    x, y, r = start or algebraic_circle(points)
    matrix = np.full((len(points), 3), -1.0)
    for _ in range(50):
        offset = points - (x, y)
        distance = np.hypot(offset[:, 0], offset[:, 1])
        matrix[:, :2] = -offset / distance[:, None]
        step = np.linalg.lstsq(matrix, -(distance - r), rcond=None)[0]
        x, y, r = x + step[0], y + step[1], r + step[2]
        if np.abs(step).max() < 1e-12 * max(1.0, r):
            break
    return float(x), float(y), float(r)

"""Least squares with weights, and what of the unknowns the observations can tell at all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import ArrayLike, NDArray

Numbers = NDArray[np.float64]

#: singular values below this share of the largest (columns at length 1) are none: the unknowns act alike.
_NOTHING = 1e-9
#: how much of a sum may lie in what the observations don't see before it counts as not told.
_NO_SHARE = 1e-6


class Fit(Struct, frozen=True):
    """A solution of rows · values = observed, n rows and m unknowns.

    `values` (m); `gain` (m × n) makes values of observations, so that a value's variance is the sum of gain²
    times the observations' variances; `residuals` (n), observed minus fitted; `leverage` (n), how much of
    itself each observation is in its fitted value. `hidden` (k × m) are the directions of the unknowns, each
    in its own `lengths` (m), that the observations don't see.
    """

    values: Numbers
    gain: Numbers
    residuals: Numbers
    leverage: Numbers
    hidden: Numbers
    lengths: Numbers

    def tells(self, parts: ArrayLike) -> bool:
        """Whether the observations tell the sum of parts (m) times values, whatever the unseen is."""
        scaled = np.asarray(parts, dtype=float) / self.lengths
        return bool(np.linalg.norm(self.hidden @ scaled) <= _NO_SHARE * np.linalg.norm(scaled))

    def covariance(self, variances: ArrayLike) -> Numbers:
        """The covariance (m × m) of the values that observations with these variances (n) give."""
        spread: Numbers = (self.gain * np.asarray(variances, dtype=float)) @ self.gain.T
        return spread


def least_squares(rows: ArrayLike, observed: Sequence[float] | Numbers, variances: ArrayLike) -> Fit:
    """The values with the least Σ (observed − rows · values)² / variance, by singular values.

    `rows` is n × m, `observed` and `variances` have n. Where unknowns act alike the shortest solution is
    given; `Fit.tells` says of what it is the only one. Source: Golub and Van Loan, Matrix
    Computations, on the minimum-norm solution of rank-deficient least squares (from memory).
    """
    weights = 1.0 / np.sqrt(np.asarray(variances, dtype=float))
    matrix = np.asarray(rows, dtype=float)
    weighted = matrix * weights[:, None]
    lengths = np.linalg.norm(weighted, axis=0)
    lengths[lengths == 0.0] = 1.0
    left, singular, right = np.linalg.svd(weighted / lengths, full_matrices=True)
    rank = int(np.sum(singular > _NOTHING * singular[0])) if singular.size and singular[0] > 0 else 0
    inverse = (right[:rank].T / singular[:rank]) @ left[:, :rank].T
    gain = inverse * weights / lengths[:, None]
    seen = np.asarray(observed, dtype=float)
    values = gain @ seen
    residuals = seen - matrix @ values
    values = values + gain @ residuals  # one step of refinement
    leverage = np.einsum("ij,ji->i", matrix, gain)
    return Fit(values, gain, seen - matrix @ values, leverage, right[rank:], lengths)

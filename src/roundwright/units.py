"""Lengths: one integer grain for exact positions, one float millimetre for geometry.

Written numbers are kept as whole counts of `GRAIN` of their own unit, positions as whole counts of
1e-8 mm, so that an incremental program adds up without drift and equality is exact.
"""

from __future__ import annotations

GRAIN_DIGITS = 8
#: counts of 1e-8 in one unit (inch or millimetre).
PER_UNIT = 10**GRAIN_DIGITS
GRAIN = 1.0 / PER_UNIT

MICROMETRE = 1e-3
INCH = 25.4


def millimetres(length: float, *, inch: bool) -> float:
    """Millimetres of a length given in inches or millimetres."""
    return length * INCH if inch else length


def native(length: float, *, inch: bool) -> float:
    """The length in inches or millimetres, from millimetres."""
    return length / INCH if inch else length

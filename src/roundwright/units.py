"""Lengths: one integer grain for exact positions, one float millimetre for geometry.

Written numbers are kept as whole counts of `GRAIN` of their own unit, positions as whole counts of
1e-8 mm, so that an incremental program adds up without drift and equality is exact.
"""

from __future__ import annotations

import re

from roundwright.errors import SettingsError

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


_LENGTH = r"\s*([+-]?)(?:(\d+)\s*/\s*(\d+)|(\d+\.?\d*|\.\d+))\s*(mm|in|\")?\s*"


def parse_length(text: str, *, inch: bool) -> float:
    """Millimetres of a length as typed: `9.91`, `9.91mm`, `0.375in`, `3/8in`.

    A bare number is in inches where `inch` says so, else in millimetres. Raises SettingsError for
    anything else.
    """
    from fractions import Fraction  # with the decimals that it loads 2 ms, and few runs have lengths typed

    match = re.fullmatch(_LENGTH, text, re.IGNORECASE | re.ASCII)
    if match is None or (match[3] and not int(match[3])):
        raise SettingsError(f"{text!r} is not a length", cure="Write it like 9.91, 9.91mm, 0.375in or 3/8in")
    sign, top, bottom, plain, suffix = match.groups()
    value = Fraction(int(top), int(bottom)) if top else Fraction(plain)
    if sign == "-":
        value = -value
    if suffix:
        inch = suffix.lower() != "mm"
    return float(value * Fraction(254, 10) if inch else value)

"""Reads written numbers exactly, as whole counts of 1e-8, after NIST IR 6556 section 3.3.2.1."""

from __future__ import annotations

import re
from functools import lru_cache

from roundwright.read.program import NO_POINT
from roundwright.units import GRAIN_DIGITS, PER_UNIT

#: values at or beyond this many units do not fit the columns' 64 bits and count as unreadable.
TOO_LARGE = 90_000_000_000
#: characters of a number, blanks not counted; a longer one is no number that anybody meant.
LONGEST = 100

_NUMBER = re.compile(rb"([+-]?)(?:([0-9]+)(?:(\.)([0-9]*))?|(\.)([0-9]+))")


@lru_cache(maxsize=4096)  # a program says the same numbers over and over
def parse_number(text: bytes) -> tuple[int, int] | None:
    """Value in counts of 1e-8 and digits written behind the point (`NO_POINT` without a point).

    Blanks and tabs may stand anywhere in it. Digits beyond the eighth decimal are rounded half to even.
    None where the text is no number: no digit, two points, a sign inside, an exponent, |value| >= 9e10,
    more than 100 characters. Grammar: NIST IR 6556, appendix E.2.
    """
    packed = text.translate(None, b" \t")
    match = _NUMBER.fullmatch(packed)
    if match is None or len(packed) > LONGEST:
        return None
    sign, whole, point, behind, bare, bare_digits = match.groups()
    fraction = behind or bare_digits or b""
    value = int((whole or b"") + fraction[:GRAIN_DIGITS].ljust(GRAIN_DIGITS, b"0"))
    value += _carry(value, fraction[GRAIN_DIGITS:])
    if value >= TOO_LARGE * PER_UNIT:
        return None
    return (-value if sign == b"-" else value), (len(fraction) if point or bare else NO_POINT)


def _carry(value: int, rest: bytes) -> int:
    """1 where the digits beyond the eighth decimal round the value away from zero."""
    half = b"5".ljust(len(rest), b"0")
    if rest < half or not rest:
        return 0
    return 1 if rest > half else value & 1

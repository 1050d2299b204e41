"""Reads numbers that are written alike: with the same count of digits behind the point, or without a point.

A program's numbers mostly are. Where the point is known to stand, and the sign, one comparison with what must
be there tells whether the rest is digits.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.program import NO_POINT

Integers = NDArray[np.int64]
Eights = NDArray[np.uint64]  # eight characters, the first in the lowest byte
Flags = NDArray[np.bool_]

#: digits behind the point that can be asked for: a sign, a digit and a point take the rest of eight.
MOST_BEHIND = 6
_HIGH = np.uint64(0xF0F0F0F0F0F0F0F0)
_SPREAD = np.uint64(255)


class _Forms(Struct, frozen=True, eq=False):
    """What eight characters that end with a number must hold, by 4 · its length + its form.

    A form is 2 where the point stands in its place, plus 1 behind a minus. `keep` are the number's bits,
    `expected` the characters: with these taken off, only digits are left, each its number. `low` are the
    bits before the point; a form that is no number leaves more than digits. `scale` and `decimals` go by the
    form alone.
    """

    keep: Eights
    expected: Eights
    low: Eights
    scale: Integers
    decimals: NDArray[np.int8]


@cache
def _forms(behind: int) -> _Forms:
    keep, expected, low = (np.zeros(40, np.uint64) for _ in range(3))
    expected[:] = _HIGH
    for which in range(40):
        length, pointed, negative = which >> 2, which >> 1 & 1, which & 1
        least = negative + (behind + 1 if pointed else 1)
        if least <= length <= 8:
            text = bytearray(b"\0" * (8 - length) + b"0" * length)
            if pointed:
                text[7 - behind] = ord(".")
                low[which] = 2 ** (8 * (7 - behind)) - 1
            if negative:
                text[8 - length] = ord("-")
            keep[which] = (2 ** (8 * length) - 1) << (8 * (8 - length))
            expected[which] = int.from_bytes(text, "little")
    scale = [sign * 10 ** (8 - digits) for digits in (0, behind) for sign in (1, -1)]
    decimals = [NO_POINT, NO_POINT, behind, behind]
    return _Forms(keep, expected, low, np.array(scale, np.int64), np.array(decimals, np.int8))


def read_alike(
    eights: Eights, point: Flags, minus: Flags, start: Integers, stop: Integers, behind: int
) -> tuple[Integers, NDArray[np.int8], Flags]:
    """Values (w,) in counts of 1e-8, decimals, and which numbers between `start` and `stop` are written so.

    `eights` holds for each offset the eight characters from there on; `point` tells whether a point stands so
    many digits before the stop, `minus` whether the first character is one.
    """
    forms = _forms(behind)
    length = stop - start
    form = (point & (length > behind)).view(np.uint8) * np.uint8(2) + minus
    length <<= 2
    length += form
    text = eights[stop - 8] & forms.keep.take(length, mode="clip")
    text ^= forms.expected.take(length, mode="clip")
    good: Flags = (text & _HIGH) == 0
    good[:8] &= stop[:8] >= 8  # there are not eight characters before
    before = text & forms.low.take(length, mode="clip")
    before *= _SPREAD
    text += before  # the digits before the point move up by one place
    value = decimal(text)
    value *= forms.scale.take(form, mode="clip")
    return value, forms.decimals.take(form, mode="clip"), good


def decimal(digits: Eights) -> Integers:
    """The number that eight decimal digits make, one a byte, the first in the lowest byte. Spoils them."""
    digits *= np.uint64(10 * 256 + 1)
    digits >>= np.uint64(8)
    digits &= np.uint64(0x00FF00FF00FF00FF)
    digits *= np.uint64(100 * 65536 + 1)
    digits >>= np.uint64(16)
    digits &= np.uint64(0x0000FFFF0000FFFF)
    digits *= np.uint64(10000 * 2**32 + 1)
    digits >>= np.uint64(32)
    return digits.view(np.int64)

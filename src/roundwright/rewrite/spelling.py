"""Numbers written like those in their place, many at once: what `number.spell` does for one."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.rewrite.number import Habit
from roundwright.units import GRAIN_DIGITS, PER_UNIT

Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
#: bytes of a number in whose place another is written; a longer one is left to `number.spell`.
LONGEST = 24
#: digits before the point of the largest number that is read.
_WHOLE = 11
_ZERO, _POINT, _MINUS, _PLUS = b"0.-+"


class Numbers(Struct, frozen=True, eq=False):
    """Numbers (k,) as counts of 1e-8, the decimals that each gets and needs, and those of the one before."""

    native: Integers
    decimals: Integers
    needed: Integers
    kept: Integers


def decimals_of_all(native: Integers) -> Integers:
    """How many decimals write each of these counts exactly."""
    rest, needed = np.abs(native) % PER_UNIT, np.full(len(native), GRAIN_DIGITS, np.int64)
    for digits in range(1, GRAIN_DIGITS + 1):
        needed -= rest % 10**digits == 0
    return needed


def spell_all(
    data: bytes, start: Integers, stop: Integers, numbers: Numbers, habit: Habit
) -> tuple[list[bytes], Flags]:
    """The numbers as they are written in place of those from `start` up to `stop` in the data.

    And where no blank stands in the old ones, since only there the text is that of `number.spell`.
    """
    if not len(start):
        return [], np.zeros(0, np.bool_)
    signed, bare, plainly = _old_style(data, start, stop, habit)
    size = np.abs(numbers.native)
    digits = np.empty((len(start), _WHOLE + GRAIN_DIGITS), np.uint8)
    rest = size
    for place in range(digits.shape[1] - 1, -1, -1):
        rest, digit = np.divmod(rest, 10)
        digits[:, place] = digit + _ZERO
    behind = numbers.decimals
    if habit.trims:
        behind = np.maximum(numbers.needed, np.minimum(numbers.kept, behind))
    leads = np.maximum.accumulate(digits[:, :_WHOLE] != _ZERO, axis=1)
    whole = np.maximum(np.count_nonzero(leads, axis=1), 1)
    whole[bare & (size < PER_UNIT) & (size > 0)] = 0
    minus = numbers.native < 0
    sign = np.where(minus, _MINUS, _PLUS).astype(np.uint8)[:, None]
    point = np.full_like(sign, _POINT)
    text = np.hstack((sign, digits[:, :_WHOLE], point, digits[:, _WHOLE:]))
    shown = np.empty(text.shape, np.bool_)
    shown[:, 0] = minus | signed
    shown[:, 1 : _WHOLE + 1] = np.arange(_WHOLE, 0, -1) <= whole[:, None]
    shown[:, _WHOLE + 1] = True
    shown[:, _WHOLE + 2 :] = np.arange(GRAIN_DIGITS) < behind[:, None]
    joined = text[shown].tobytes()
    ends = np.cumsum(np.count_nonzero(shown, axis=1)).tolist()
    return [joined[a:b] for a, b in zip([0, *ends], ends, strict=False)], plainly


def _old_style(data: bytes, start: Integers, stop: Integers, habit: Habit) -> tuple[Flags, Flags, Flags]:
    """Which of the numbers that stand there have a plus, no zero before the point, and no blank inside."""
    place = start[:, None] + np.arange(int((stop - start).max()))
    inside = place < stop[:, None]
    byte = np.where(inside, np.frombuffer(data, np.uint8)[np.minimum(place, len(data) - 1)], 0)
    plainly = ~((byte == ord(" ")) | (byte == ord("\t"))).any(axis=1)
    signed = (byte[:, 0] == _PLUS) | (byte[:, 0] == _MINUS)
    byte = np.hstack((byte, np.zeros((len(byte), 2), np.uint8)))
    first, second = (byte[np.arange(len(byte)), signed + k] for k in (0, 1))
    bare = first == _POINT
    shows = bare | ((first == _ZERO) & (second == _POINT))
    return byte[:, 0] == _PLUS, np.where(shows, bare, habit.bare), plainly

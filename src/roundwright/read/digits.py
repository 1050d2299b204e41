"""Reads the numbers of many words at once, eight characters as one integer; agrees with `parse_number`."""

from __future__ import annotations

from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.alike import MOST_BEHIND, decimal, read_alike
from roundwright.read.number import parse_number
from roundwright.read.program import NO_POINT, NO_VALUE

Integers = NDArray[np.int64]
Eights = NDArray[np.uint64]  # eight characters, the first in the lowest byte
Flags = NDArray[np.bool_]

#: bytes that must follow the last number in the buffer, so that eight can be loaded from anywhere.
PADDING = 16

BLANK, DIGIT, POINT, PLUS, MINUS = range(5)

# Of the bytes that a number's text may hold (digits, point, signs, blanks) only digits have bit 4 set,
# and only the point has 14 in its low half.
_LOW = np.uint64(0x0F0F0F0F0F0F0F0F)
_BIT4 = np.uint64(0x1010101010101010)
#: byte j holds j: multiplied by the point's bit 8k it brings 7 - k, the digits behind it, to the top.
_BEHIND = np.uint64(0x0706050403020100)
_POWER = 10 ** np.arange(19, dtype=np.int64)
_COUNTS = np.ascontiguousarray(_POWER[8:0:-1])  # 1e-8 counts of the last digit, by digits behind the point
_ONE, _BYTE, _FOUR = np.uint64(1), np.uint64(8), np.uint64(4)
#: blanks passed one by one before the long way round.
_STEPS = 12
#: numbers that tell how the others are written, and the share of them that must be alike.
_SAMPLE, _MOSTLY = 64, 0.8
#: digits before the point that surely stay below `number.TOO_LARGE`.
_WHOLE = 10


class Numbers(Struct, frozen=True):
    """Columns of the numbers, one row a word; `decimals` is NO_VALUE where the text is no number."""

    value: Integers
    decimals: NDArray[np.int8]
    start: Integers
    stop: Integers


def read_numbers(buffer: bytes, classes: NDArray[np.uint8], letter: Integers, end: Integers) -> Numbers:
    """The numbers that stand between each `letter` offset and the next token's offset `end`.

    `classes` holds BLANK, DIGIT, POINT, PLUS or MINUS for each byte between them; `buffer` goes on for
    PADDING bytes behind the last `end`.
    """
    eights = np.ndarray((len(buffer) - 7,), "<u8", buffer, 0, (1,))
    start = letter + 1
    stop = end - (classes.take(end - 1) == BLANK)
    numbers, good = _first(eights, classes, start, stop)
    rest = np.flatnonzero(~good)
    if len(rest):
        _read_rest(buffer, eights, classes, numbers, rest)
    return numbers


def _first(
    eights: Eights, classes: NDArray[np.uint8], start: Integers, stop: Integers
) -> tuple[Numbers, Flags]:
    """The first and cheapest reading, and which numbers it can read: of those alike, if most are."""
    some = slice(len(start) // 2, len(start) // 2 + _SAMPLE)
    decimals = _short(eights, classes, start[some], stop[some])[0].decimals
    behind = int(np.bincount(decimals[decimals > 0], minlength=1).argmax())
    alike = np.count_nonzero((decimals == behind) | (decimals == NO_POINT))
    if not 1 <= behind <= MOST_BEHIND or alike < _MOSTLY * len(decimals):
        return _short(eights, classes, start, stop)
    point = classes.take(stop - (behind + 1), mode="clip") == POINT
    value, decimals, good = read_alike(eights, point, classes.take(start) == MINUS, start, stop, behind)
    return Numbers(value, decimals, start, stop), good


def _read_rest(
    buffer: bytes, eights: Eights, classes: NDArray[np.uint8], numbers: Numbers, rest: Integers
) -> None:
    """Read again what has more blanks or more characters; one by one what is odder still."""
    start, stop = trim(classes, numbers.start.take(rest), numbers.stop.take(rest))
    numbers.start[rest], numbers.stop[rest] = start, stop
    for tier in (_short, _long):
        again, good = tier(eights, classes, start, stop)
        done = rest[good]
        numbers.value[done], numbers.decimals[done] = again.value[good], again.decimals[good]
        left = np.flatnonzero(~good)
        rest, start, stop = rest[left], start[left], stop[left]
        if not len(rest):
            return
    for index, a, b in zip(rest.tolist(), start.tolist(), stop.tolist(), strict=True):
        numbers.value[index], numbers.decimals[index] = parse_number(buffer[a:b]) or (0, NO_VALUE)


def trim(classes: NDArray[np.uint8], start: Integers, stop: Integers) -> tuple[Integers, Integers]:
    """Take the blanks off both ends; where nothing else is between them, start = stop = the old start."""
    first = next_filled(classes, start)
    empty = first >= stop
    last = last_filled(classes, stop)
    return np.where(empty, start, first), np.where(empty, start, last + 1)


def next_filled(classes: NDArray[np.uint8], at: Integers) -> Integers:
    """The first offset from each `at` on that holds no blank; `classes` must end with none."""
    at = at.copy()
    moving = np.arange(len(at))
    for _ in range(_STEPS):
        moving = moving[classes.take(at[moving]) == BLANK]
        if not len(moving):
            return at
        at[moving] += 1
    filled = np.flatnonzero(classes != BLANK)
    at[moving] = filled.take(np.searchsorted(filled, at[moving]))
    return at


def last_filled(classes: NDArray[np.uint8], stop: Integers) -> Integers:
    """The last offset before each `stop` that holds no blank; there must be one."""
    at = stop - 1
    moving = np.arange(len(at))
    for _ in range(_STEPS):
        moving = moving[classes.take(at[moving]) == BLANK]
        if not len(moving):
            return at
        at[moving] -= 1
    filled = np.flatnonzero(classes != BLANK)
    at[moving] = filled.take(np.searchsorted(filled, at[moving], side="right") - 1)
    return at


def _signs(
    classes: NDArray[np.uint8], start: Integers, stop: Integers
) -> tuple[Flags, Integers, NDArray[Any]]:
    """Whether each number is negative, where its digits start and how many characters they take."""
    first = classes.take(start)
    unsigned = start + ((first == PLUS) | (first == MINUS))
    return first == MINUS, unsigned, stop - unsigned


def _short(
    eights: Eights, classes: NDArray[np.uint8], start: Integers, stop: Integers
) -> tuple[Numbers, Flags]:
    """Numbers of at most eight characters behind the sign, and which of them are such."""
    negative, unsigned, length = _signs(classes, start, stop)
    shift = (64 - 8 * length).astype(np.uint64)
    digits, point, behind, good = _split(eights[unsigned], shift)
    good &= (length >= 1) & (length <= 8) & (length > (point != 0))
    value = decimal(digits) * _COUNTS.take(behind)
    np.negative(value, out=value, where=negative)
    decimals = behind.astype(np.int8) - (point == 0)
    return Numbers(value, decimals, start, stop), good


def _long(
    eights: Eights, classes: NDArray[np.uint8], start: Integers, stop: Integers
) -> tuple[Numbers, Flags]:
    """Numbers of 9 to 24 characters behind the sign, and which of them are such and fit 64 bits."""
    negative, unsigned, length = _signs(classes, start, stop)
    good = (length >= 9) & (length <= 24)
    unsigned, length = np.where(good, unsigned, 0), np.where(good, length, 9)
    more = np.maximum(length - 16, 0)
    whole, behind, pointed, well = _sixteen(eights, unsigned, length - more)
    rest = np.minimum(unsigned + 16, len(eights) - 1)
    half = (32 - 4 * more).astype(np.uint64)  # shifted twice: one shift of 64 bits is undefined
    finer = eights[rest] << half << half
    good &= well & ((~eights[rest] << half << half) & _BIT4 == 0) & ((more == 0) | (behind > 8))
    behind[~good] = 0
    value = _scale(whole, behind, finer & _LOW != 0)
    np.negative(value, out=value, where=negative)
    decimals = np.where(pointed, behind + more, NO_POINT).astype(np.int8)
    return Numbers(value, decimals, start, stop), good


def _sixteen(eights: Eights, unsigned: Integers, length: Integers) -> tuple[Integers, Integers, Flags, Flags]:
    """The digits of 9 to 16 characters as one number, how many stand behind a point, whether one does.

    The last column tells whether the characters are a number that fits.
    """
    head, head_point, head_behind, good = _split(eights[unsigned], (128 - 8 * length).astype(np.uint64))
    tail, tail_point, tail_behind, well = _split(eights[unsigned + length - 8], np.zeros_like(head))
    in_head, in_tail = head_point != 0, tail_point != 0
    behind = np.where(in_head, 8 + head_behind, tail_behind)
    whole = decimal(head) * _POWER.take(8 - in_tail) + decimal(tail)
    pointed = in_head | in_tail
    good &= well & ~(in_head & in_tail) & (length - pointed - behind <= _WHOLE)
    return whole, behind, pointed, good


def _split(eight: Eights, shift: Eights) -> tuple[Eights, Eights, Integers, Flags]:
    """The digits of eight characters without their point, the point, how many stand behind it, all well.

    `shift` bits at the top belong to what follows and are dropped; the point is the lowest bit of its
    byte, 0 without a point.
    """
    text = eight << shift
    other = (~eight << shift) & _BIT4
    point = other >> _FOUR
    text &= _LOW
    good = ((other & (other - _ONE)) == 0) & ((text & (point * np.uint64(15))) == point * np.uint64(14))
    after = text & (np.uint64(0) - (point << _BYTE))
    before = text & (point - _ONE)
    digits = after | (before << ((point != 0) * _BYTE))
    behind = ((point * _BEHIND) >> np.uint64(56)) & np.uint64(7)
    return digits, point, behind.view(np.int64), good


def _scale(whole: Integers, behind: Integers, finer: Flags) -> Integers:
    """Counts of 1e-8 of `whole` with so many of its digits behind the point, rounded half to even.

    `finer` tells that digits other than 0 follow those of `whole`.
    """
    value = whole * _POWER.take(np.maximum(8 - behind, 0))
    fine = np.flatnonzero(behind > 8)
    if len(fine):
        divisor = _POWER.take(behind[fine] - 8)
        quotient, rest = np.divmod(whole[fine], divisor)
        up = (finer[fine] | (quotient % 2 == 1)) & (2 * rest == divisor)
        value[fine] = quotient + (up | (2 * rest > divisor))
    return value

"""The written form of a number: sign, leading zero, point and trailing zeros as the program has them."""

from __future__ import annotations

import numpy as np

from roundwright.read.program import NO_POINT, NO_VALUE, Program
from roundwright.units import GRAIN_DIGITS
from roundwright.values import dataclass

#: letters whose numbers show how a program writes lengths.
LENGTHS = np.frombuffer(b"XYZIJKR", np.uint8)
_BLANKS = b" \t"


@dataclass(frozen=True, slots=True)
class Habit:
    """How a program writes lengths.

    `trims`: not all have equally many decimals. `bare`: no zero before the point (`.5`). `least`: the
    fewest decimals that it writes behind a point. `blanks`: words of a block stand apart.
    """

    trims: bool
    bare: bool
    least: int
    blanks: bool


@dataclass(frozen=True, slots=True)
class Style:
    """How one number is to be written: `keep` decimals at least where trailing zeros are trimmed."""

    plus: bool
    bare: bool
    keep: int
    trims: bool


def habit_of(program: Program, finest: int) -> Habit:
    """The habits of a program, from all its length words."""
    known = (program.decimals != NO_VALUE) & _is_length(program)
    decimals = program.decimals[known]
    first = _first_digit(program, known)
    bare, full = int((first == ord(".")).sum()), int((first == ord("0")).sum())
    pointed = decimals[decimals > NO_POINT]
    same_line = program.line[1:] == program.line[:-1]
    apart = program.start[1:] > program.stop[:-1]
    return Habit(
        trims=finest == 0 or bool((decimals < finest).any()),
        bare=bare > full,
        least=int(pointed.min()) if len(pointed) else 0,
        blanks=2 * int((same_line & apart).sum()) >= int(same_line.sum()),
    )


def _is_length(program: Program) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    table = np.zeros(256, np.bool_)
    table[LENGTHS] = True
    return table[program.letter]


def _first_digit(
    program: Program, words: np.ndarray[tuple[int], np.dtype[np.bool_]]
) -> np.ndarray[tuple[int], np.dtype[np.uint8]]:
    """The first byte behind the sign of numbers below one that have a point; 0 of all others."""
    data = np.frombuffer(program.data, np.uint8)
    at = program.number[words]
    if not len(at):
        return np.zeros(0, np.uint8)
    byte = data[at]
    signed = (byte == ord("-")) | (byte == ord("+"))
    byte = np.where(signed, data[np.minimum(at + 1, len(data) - 1)], byte)
    small = (np.abs(program.value[words]) < 10**GRAIN_DIGITS) & (program.decimals[words] > 0)
    return np.where(small, byte, np.uint8(0))


def style_of(text: bytes, habit: Habit) -> Style:
    """The style of a number as written, where it does not show it the program's."""
    plain = text.translate(None, _BLANKS)
    digits = plain.lstrip(b"+-")
    whole, point, fraction = digits.partition(b".")
    shows = bool(point) and (not whole or whole == b"0")
    return Style(
        plus=plain.startswith(b"+"),
        bare=not whole if shows else habit.bare,
        keep=len(fraction),
        trims=habit.trims,
    )


def added_style(habit: Habit) -> Style:
    """The style of a number that is added."""
    return Style(plus=False, bare=habit.bare, keep=habit.least, trims=habit.trims)


def spell(native: int, decimals: int, style: Style) -> bytes:
    """Write counts of 1e-8 with so many decimals, which must suffice.

    Always with a point: some controls count a number without one in their smallest step.
    """
    scaled, rest = divmod(abs(native), 10 ** (GRAIN_DIGITS - decimals))
    if rest:
        raise ValueError(f"{native} cannot be written with {decimals} decimals")
    whole, fraction = divmod(scaled, 10**decimals)
    digits = f"{fraction:0{decimals}d}" if decimals else ""
    if style.trims:
        digits = digits.rstrip("0").ljust(min(style.keep, decimals), "0")
    head = "" if style.bare and scaled and not whole else str(whole)
    sign = "-" if native < 0 else "+" if style.plus else ""
    return f"{sign}{head}.{digits}".encode("ascii")

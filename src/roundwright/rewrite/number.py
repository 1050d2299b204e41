"""The written form of a number: sign, leading zero, point and trailing zeros as the program has them."""

from __future__ import annotations

from msgspec import Struct

from roundwright.read.program import Manner
from roundwright.units import GRAIN_DIGITS

_BLANKS = b" \t"


class Habit(Struct, frozen=True):
    """How a program writes lengths.

    `trims`: not all have equally many decimals. `bare`: no zero before the point (`.5`). `least`: the
    fewest decimals that it writes behind a point. `blanks`: words of a block stand apart.
    """

    trims: bool
    bare: bool
    least: int
    blanks: bool


class Style(Struct, frozen=True):
    """How one number is to be written: `keep` decimals at least where trailing zeros are trimmed."""

    plus: bool
    bare: bool
    keep: int
    trims: bool


def habit_of(manner: Manner, finest: int) -> Habit:
    """The habits of a program, from how it writes all its lengths."""
    return Habit(
        trims=finest == 0 or manner.least < finest,
        bare=manner.bare,
        least=manner.fewest,
        blanks=manner.blanks,
    )


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

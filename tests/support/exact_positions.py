"""Positions along a program as exact fractions, and the same program written in increments; shares no code.

Reads X, Y, Z under G20/21 and G90/91.
"""

import re
from collections.abc import Callable, Mapping
from fractions import Fraction

_WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
Point = tuple[Fraction, Fraction, Fraction]


def words(line: str) -> list[tuple[str, Fraction]]:
    bare = re.sub(r"\([^)]*\)|;.*|\s", "", line.upper())
    return [(letter, Fraction(text)) for letter, text in _WORD.findall(bare)]


def positions(text: str, jumps: Mapping[int, tuple[int, int, int]] | None = None) -> list[Point]:
    """Where the tool is after each line, mm. `jumps` are places where a line (from 0) leaves the tool."""
    at = [Fraction(0)] * 3
    unit, incremental = Fraction(1), False
    found = []
    for k, line in enumerate(text.splitlines()):
        said = words(line)
        if jumps and k in jumps:
            at, said = [Fraction(value) for value in jumps[k]], []
        for letter, value in said:
            if letter == "G" and value in (20, 21):
                unit = Fraction("25.4") if value == 20 else Fraction(1)
            elif letter == "G" and value in (90, 91):
                incremental = value == 91
        for letter, value in said:
            if letter in "XYZ":
                axis = "XYZ".index(letter)
                at[axis] = value * unit + (at[axis] if incremental else 0)
        found.append((at[0], at[1], at[2]))
    return found


def decimal(value: Fraction) -> str:
    """A fraction with a finite decimal expansion, written in full."""
    digits = 0
    while (value * 10**digits).denominator != 1:
        digits += 1
    whole = abs(value * 10**digits).numerator
    text = f"{whole:0{digits + 1}d}"
    sign = "-" if value < 0 else ""
    return sign + (f"{text[:-digits]}.{text[-digits:]}" if digits else text)


def in_increments(text: str, where: Callable[[int], bool]) -> str:
    """An absolute millimetre program with G91 in the lines (from 0) that `where` names, G90 in all others.

    The distance mode is written where it changes. The first line that moves an axis stays absolute.
    """
    at: dict[str, Fraction] = {}
    incremental, lines = False, []
    for k, line in enumerate(text.splitlines()):
        said = dict(words(line))
        moved = [letter for letter in "XYZ" if letter in said]
        wanted = where(k) and all(letter in at for letter in moved)
        if moved and wanted:
            for letter in moved:
                step = decimal(said[letter] - at[letter])
                line = re.sub(rf"{letter}[-+.\d]+", f"{letter}{step}", line)
        if moved and wanted != incremental:
            line = f"{'G91' if wanted else 'G90'} {line}"
            incremental = wanted
        at.update({letter: said[letter] for letter in moved})
        lines.append(line)
    return "\n".join(lines) + "\n"

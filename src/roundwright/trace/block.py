"""Blocks: which lines of a program are executed, and their words by letter; knows no modes."""

from __future__ import annotations

from collections.abc import Mapping
from string import ascii_uppercase
from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.lines import offset_kind
from roundwright.read.program import BLOCK_DELETE, NO_VALUE, PROGRAM_NUMBER, Program
from roundwright.trace.codes import CODES
from roundwright.units import PER_UNIT

#: lengths over 10 km are no lengths; below it every count is exact in a float.
TOO_LONG = 10_000_000 * PER_UNIT
#: places of words or rows, of whichever width.
Places = NDArray[np.signedinteger[Any]]
#: lines, of one kind everywhere: to look up one kind in another, numpy copies all.
Lines = NDArray[np.int32]
_NONE = np.zeros(0, np.int32)


class Written(Struct, frozen=True):
    """A word of a block, as `Program` holds it."""

    letter: str
    value: int
    decimals: int

    @property
    def is_length(self) -> bool:
        """Whether it has a value that can be a length."""
        return self.decimals != NO_VALUE and -TOO_LONG < self.value < TOO_LONG


class Blocks(Struct, frozen=True, eq=False):
    """The executed part of a program (l lines).

    `live` (l,) tells the lines that are executed, `bodies` the lines (sorted) where a subprogram begins,
    `by_letter` the executed words of each letter in order; `sound` where every word can be a length.
    """

    program: Program
    live: NDArray[np.bool_]
    bodies: Lines
    by_letter: Mapping[str, Places]
    sound: bool

    def words(self, letter: str) -> Places:
        """Indices of the executed words with this letter, in order."""
        return self.by_letter.get(letter, _NONE)

    def words_on(self, line: int) -> tuple[Written, ...]:
        """The words on a line that is no plain straight move set apart, in order."""
        program = self.program
        some = slice(*program.line.searchsorted(np.array((line, line + 1), np.int32)))
        columns = (column[some].tolist() for column in (program.letter, program.value, program.decimals))
        return tuple(Written(chr(letter), *number) for letter, *number in zip(*columns, strict=True))

    def codes(self, letter: str) -> tuple[Lines, NDArray[np.int16]]:
        """Lines and numbers times ten of the executed G or M words; -1 for what is no code."""
        at = self.words(letter)
        value = self.program.value[at]
        number = value // (PER_UNIT // 10)  # several times as fast as divmod
        bad = (
            (number * (PER_UNIT // 10) != value)
            | (number < 0)
            | (number >= CODES)
            | (self.program.decimals[at] == NO_VALUE)
        )
        number[bad] = -1
        return self.program.line[at], number.astype(np.int16)

    def deletable(self, line: Lines) -> NDArray[np.bool_]:
        """Which of these lines a switch can turn off."""
        found: NDArray[np.bool_] = (self.program.flags[line] & BLOCK_DELETE) != 0
        return found

    def readable(self, word: Places) -> NDArray[np.bool_]:
        """Which words have a value that can be a length."""
        if self.sound:
            return np.ones(len(word), np.bool_)
        value = self.program.value[word]
        known = self.program.decimals[word] != NO_VALUE
        sound: NDArray[np.bool_] = known & (value < TOO_LONG) & (value > -TOO_LONG)
        return sound


def executed_blocks(program: Program) -> Blocks:
    """The blocks that run: up to M2 or M30 (NIST IR 6556, 3.6.1), and each subprogram body after it.

    A program number begins a body where moves, calls or an end of the program stand before it.
    """
    lines = program.lines
    live = np.zeros(lines, np.bool_)
    live[: program.end_line] = True
    by_letter = _by_letter(program)
    if program.end_line < lines:
        by_letter = _on(live, program, by_letter)
    everything = Blocks(program, live, _NONE, by_letter, _sound(program))
    line, code = everything.codes("M")
    stops = line[((code == 20) | (code == 300)) & ~everything.deletable(line)]
    numbers = marked((program.flags & PROGRAM_NUMBER) != 0)
    numbers = numbers[numbers < program.end_line]
    if stops.size and stops[0] + 1 < program.end_line:
        live = live & _reached(stops, numbers, lines)
        by_letter = _on(live, program, by_letter)
    numbers = numbers[live[numbers]]
    calls = line[np.isin(code, (970, 980, 1980))]
    begun = min((_first_move(everything), *calls[:1].tolist(), *stops[:1].tolist()))
    return Blocks(program, live, numbers[numbers > begun], by_letter, everything.sound)


def marked(mask: NDArray[np.bool_]) -> Lines:
    """The lines, or rows, that are marked."""
    return np.flatnonzero(mask).astype(np.int32)


def _by_letter(program: Program) -> dict[str, Places]:
    """The words of each letter that there is."""
    kind, letters = offset_kind(len(program.letter)), program.letter.tobytes()
    return {
        letter: np.flatnonzero(program.letter == ord(letter)).astype(kind)
        for letter in ascii_uppercase
        if letters.find(letter.encode()) >= 0
    }


def _sound(program: Program) -> bool:
    """Whether every word has a value that can be a length."""
    value = program.value
    large = value.max(initial=0) >= TOO_LONG or value.min(initial=0) <= -TOO_LONG
    return not large and not (program.decimals == NO_VALUE).any()


def _on(live: NDArray[np.bool_], program: Program, by_letter: Mapping[str, Places]) -> dict[str, Places]:
    """The words that stand on live lines."""
    return {letter: word[live[program.line[word]]] for letter, word in by_letter.items()}


def _reached(stops: Lines, numbers: Lines, lines: int) -> NDArray[np.bool_]:
    """Mask of the lines outside every stretch from a stop to the next program number."""
    reached = np.ones(lines, np.bool_)
    following = np.searchsorted(numbers, stops, side="right")
    until = np.append(numbers, lines)[following]
    for stop, end in zip(stops.tolist(), until.tolist(), strict=True):
        reached[stop + 1 : end] = False
    return reached


def _first_move(blocks: Blocks) -> int:
    """The first line with an X, Y or Z word."""
    firsts = [int(blocks.program.line[w[0]]) for w in map(blocks.words, "XYZ") if w.size]
    return min(firsts, default=blocks.program.lines)

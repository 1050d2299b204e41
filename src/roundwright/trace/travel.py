"""Travel: where each row starts and ends, from its words, its modes and the jumps between."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.errors import Place, ProgramError
from roundwright.read.program import NO_POINT, Program
from roundwright.trace.block import Blocks
from roundwright.trace.frame import Jumps
from roundwright.trace.modal import Modes
from roundwright.trace.moves import Motion
from roundwright.trace.position import fits, integrate, native_to_counts
from roundwright.trace.row import AXES, Rows
from roundwright.units import GRAIN_DIGITS, PER_UNIT


class Travel(Struct, frozen=True, eq=False):
    """Start and end of each row (n, 3) in counts of 1e-8 mm, and the bits of the axes known (n,).

    `given` (n,) are the bits of the axes that the row's own absolute words set.
    """

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    start_known: NDArray[np.uint8]
    end_known: NDArray[np.uint8]
    given: NDArray[np.uint8]


class ReadWords(Struct, frozen=True, eq=False):
    """The lengths of one letter in rows (w,): row, word, counts of 1e-8 mm, whether it can be read."""

    row: NDArray[np.int64]
    word: NDArray[np.int64]
    value: NDArray[np.int64]
    sound: NDArray[np.bool_]


def row_words(
    blocks: Blocks, letter: str, row_of_line: NDArray[np.int64], inch: NDArray[np.bool_]
) -> ReadWords:
    """The words of a letter that stand in rows; `inch` (n,) by row. Unreadable ones count 0."""
    program = blocks.program
    word = blocks.words(letter)
    row = row_of_line[program.line[word]]
    if (row < 0).any():
        word, row = word[row >= 0], row[row >= 0]
    sound = blocks.readable(word)
    value = program.value[word]
    if not sound.all():
        value = np.where(sound, value, 0)
    return ReadWords(row, word, native_to_counts(value, inch[row] if inch.any() else inch[:0]), sound)


def travel_of(blocks: Blocks, rows: Rows, modes: Modes, jumps: Jumps) -> Travel:
    """Follow every axis through all rows.

    Raises ProgramError where a position is further than 10 km out.
    """
    count = len(rows.line)
    # the steps of rows and jumps in one order; a jump acts before the motion on its line
    at_jump = np.searchsorted(rows.line, jumps.line) + np.arange(len(jumps.line))
    at_row = np.delete(np.arange(count + len(jumps.line)), at_jump)
    inch = modes.units.at(rows.line) == 1
    incremental = modes.distance.at(rows.line) == 1
    row_of_line = rows.of_line(blocks.program.lines)
    repeat = _repeats(blocks, rows, row_of_line)
    # axis by axis in memory, as they are followed and compared
    start, end = (np.zeros((3, count), np.int64).T for _ in range(2))
    known = np.zeros((3, count), np.uint8)
    for axis, letter in enumerate(AXES):
        words = row_words(blocks, letter, row_of_line, inch)
        value, sets, adds, loses = _axis_steps(words, rows, jumps, axis, (at_row, at_jump), incremental)
        if repeat is not None:
            lost = adds[at_row] & (repeat < 1)
            loses[at_row] |= lost
            value[at_row] *= np.where(adds[at_row] & ~lost, repeat, 1)
        place, sure = integrate(value, sets, adds & ~loses, loses)
        _refuse_far(blocks.program, place)
        end[:, axis], known[1] = place[at_row], known[1] | sure[at_row].astype(np.uint8) << axis
        before, was = np.concatenate(([0], place))[at_row], np.concatenate(([False], sure))[at_row]
        start[:, axis], known[0] = before, known[0] | was.astype(np.uint8) << axis
        known[2] |= (sets & ~loses)[at_row].astype(np.uint8) << axis
    return Travel(start, end, known[0], known[1], known[2])


def _axis_steps(
    words: ReadWords,
    rows: Rows,
    jumps: Jumps,
    axis: int,
    at: tuple[NDArray[np.int64], NDArray[np.int64]],
    incremental: NDArray[np.bool_],
) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]:
    """Value, sets, adds, loses of one axis over all steps; `incremental` (n,) tells which rows' words add."""
    at_row, at_jump = at
    steps = len(at_row) + len(at_jump)
    value = np.zeros(steps, np.int64)
    sets, adds, loses = (np.zeros(steps, np.bool_) for _ in range(3))
    place = at_row[words.row]
    value[place] = words.value
    sets[place] = True
    if incremental.any():
        adds[place] = incremental[words.row]
        sets &= ~adds
    if rows.loses.any():
        loses[at_row] = (rows.loses >> axis & 1) != 0
    value[at_jump], sets[at_jump] = jumps.value[:, axis], jumps.sets[:, axis]
    loses[at_jump] = (jumps.loses >> axis & 1) != 0
    return value, sets, adds, loses


def _repeats(blocks: Blocks, rows: Rows, row_of_line: NDArray[np.int64]) -> NDArray[np.int64] | None:
    """How often each row (n,) is repeated by an L word of a canned cycle; 0 where that cannot be told."""
    cycle = rows.motion == Motion.CYCLE
    if not cycle.any():
        return None
    repeat = np.ones(len(rows.line), np.int64)
    none = np.zeros(len(rows.line), np.bool_)
    for letter in "KL":  # K repeats on some controls, is an offset on others
        words = row_words(blocks, letter, row_of_line, none)
        mine = cycle[words.row]
        times, rest = np.divmod(words.value[mine], PER_UNIT)
        bad = (rest != 0) | ~words.sound[mine] | (letter == "K")
        repeat[words.row[mine]] = np.where(bad, 0, np.minimum(times, 10_000))
    return repeat


def _refuse_far(program: Program, place: NDArray[np.int64]) -> None:
    if not fits(place):
        raise ProgramError(
            "positions over 10 km out",
            place=Place(program.name),
            cure="Check the numbers; such a program cannot be meant",
        )


def decimals_of(blocks: Blocks, rows: Rows) -> tuple[NDArray[np.int8], int]:
    """Most decimals (n,) of each row's own position, centre and radius words, and the most of all, at most 8.

    A program may be written finely in one place only. Raises ProgramError where numbers are whole counts with
    an implied point: without a point and over 10 m, or over 1 m up or down.
    """
    program = blocks.program
    circular = (rows.motion == Motion.CW) | (rows.motion == Motion.CCW)
    plain = rows.motion != Motion.OTHER
    row_of_line = rows.of_line(program.lines)
    most, finest = np.zeros(len(rows.line), np.int8), 0
    large: list[NDArray[np.int64]] = []
    for letter in "XYZIJKR":
        word = blocks.words(letter)
        row = row_of_line[program.line[word]]
        if (row < 0).any():
            word, row = word[row >= 0], row[row >= 0]
        decimals = np.minimum(program.decimals[word], GRAIN_DIGITS)
        if (row[1:] == row[:-1]).any():  # a repeated word
            np.maximum.at(most, row, decimals)
        else:
            most[row] = np.maximum(most[row], decimals)
        counts = (plain if letter in AXES else circular)[row]
        finest = max(finest, int(decimals.max(initial=0, where=counts)))
        bare = word[(decimals == NO_POINT) & counts]
        large.append(bare[np.abs(program.value[bare]) >= (1_000 if letter == "Z" else 10_000) * PER_UNIT])
    _refuse_implied_points(program, np.concatenate(large))
    return np.minimum(most, finest), finest


def _refuse_implied_points(program: Program, suspects: NDArray[np.int64]) -> None:
    if len(suspects) >= 3:
        raise ProgramError(
            f"numbers without a decimal point are too large for lengths ({len(suspects)} of them)",
            place=Place(program.name, int(program.line[suspects.min()]) + 1),
            cure="This control counts in fixed small steps; post the program with decimal points",
        )

"""Travel: where each row starts and ends, from its words, its modes and the jumps between."""

from __future__ import annotations

from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.errors import Place, ProgramError
from roundwright.read.program import AXES, NO_POINT, Program, Straights
from roundwright.trace.block import Blocks, Lines, Places, marked
from roundwright.trace.frame import Jumps
from roundwright.trace.modal import Modes
from roundwright.trace.moves import Motion
from roundwright.trace.position import fits, integrate, native_to_counts
from roundwright.trace.row import AxisWords, Rows, among
from roundwright.units import PER_UNIT


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
    """The lengths of one letter in rows (w,): row, counts of 1e-8 mm, whether it can be read."""

    row: Places
    value: NDArray[np.int64]
    sound: NDArray[np.bool_]


def row_words(blocks: Blocks, letter: str, line: Lines, inch: NDArray[np.bool_]) -> ReadWords:
    """The words of a letter that stand in rows; `inch` (n,) by row. Unreadable ones count 0."""
    program = blocks.program
    word = blocks.words(letter)
    row = among(line, program.line[word])
    if row.min(initial=0) < 0:
        word, row = word[row >= 0], row[row >= 0]
    sound = blocks.readable(word)
    value = program.value[word]
    if not sound.all():
        value = np.where(sound, value, 0)
    return ReadWords(row, native_to_counts(value, inch[row] if inch.any() else inch[:0]), sound)


def travel_of(blocks: Blocks, rows: Rows, modes: Modes, jumps: Jumps) -> Travel:
    """Follow every axis through all rows.

    Raises ProgramError where a position is further than 10 km out.
    """
    count = len(rows.line)
    inch = modes.units.at(rows.line) == 1
    incremental = modes.distance.at(rows.line) == 1
    repeat = _repeats(blocks, rows)
    at_jump = np.searchsorted(rows.line, jumps.line)
    # axis by axis in memory, as they are followed and compared; each row starts where the last one ends
    place = np.zeros((3, count + 1), np.int64)
    start, end = place[:, :-1], place[:, 1:]
    if jumps.sets.any():
        start = start.copy()
    start_known, end_known, given = np.zeros((3, count), np.uint8)
    straights = blocks.program.straights
    for axis, letter in enumerate(AXES):
        bit = np.uint8(1 << axis)
        words = row_words(blocks, letter, rows.line, inch)
        steps, worded = _row_steps(words, rows, axis, incremental, repeat), words.row
        del words
        given[steps.row] |= (steps.sets & ~steps.loses) * bit
        steps = _with_jumps(steps, jumps, axis, at_jump)
        at, sure = integrate(steps.value, steps.sets, steps.adds & ~steps.loses, steps.loses)
        _fill(end[axis], steps.row, at)
        if straights:
            _fill_straights(end[axis], straights, axis, worded, rows, inch)
        _refuse_far(blocks.program, end[axis])
        end_known |= _known(count, steps.row, sure) * bit
        start_known |= _known(count, steps.row + steps.own, sure) * bit
        if jumps.sets.any():
            start[axis] = place[axis, :-1]
            jumped = np.flatnonzero(~steps.own & (steps.row < count))
            start[axis, steps.row[jumped]] = at[jumped]
    return Travel(start.T, end.T, start_known, end_known, given)


def plainly_read(straights: Straights, rows: Rows, modes: Modes) -> bool:
    """Whether the plain straight moves set apart mean what was taken from them: absolute places, all told."""
    if not (rows.loses.any() or modes.distance.value.any()):
        return True
    doubtful = (rows.loses != 0) | (modes.distance.at(rows.line) != 0)
    so_far = np.concatenate(([0], np.cumsum(doubtful)))
    at = so_far[np.searchsorted(rows.line, straights.span)]
    return bool((at[:, 0] == at[:, 1]).all())


def _fill_straights(
    column: NDArray[np.int64],
    straights: Straights,
    axis: int,
    worded: Places,
    rows: Rows,
    inch: NDArray[np.bool_],
) -> None:
    """Put the places of one axis that were set apart where they belong: from each span's first word on.

    `worded` are the rows with a word of the axis among those that were kept.
    """
    spans = np.searchsorted(rows.line, straights.span)
    worded = np.append(worded, len(column))
    first = worded[np.searchsorted(worded, spans[:, 0])]
    for begin, stop in zip(first.tolist(), spans[:, 1].tolist(), strict=True):
        if begin < stop:
            line = rows.line[begin:stop]
            whole = slice(int(line[0]), int(line[-1]) + 1)
            at = whole if whole.stop - whole.start == len(line) else line
            column[begin:stop] = native_to_counts(straights.place[axis, at], inch[begin : begin + 1])


def _fill(column: NDArray[Any], first: Places, values: NDArray[Any]) -> None:
    """From each of the `first` rows (s,) on the value (s,) that holds there, up to the next one."""
    if len(first):
        spans = np.diff(first, append=len(column))
        column[first[0] :] = values if (spans == 1).all() else np.repeat(values, spans)


def _known(count: int, first: Places, sure: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """1 for each row (n,) from a `first` one on that is `sure` (s,), else 0."""
    known = np.zeros(count, np.uint8)
    if sure.all():
        known[int(first[0]) if len(first) else count :] = 1
    else:
        _fill(known, first, sure)
    return known


class _Steps(Struct, frozen=True, eq=False):
    """What changes one axis (s,), in order: the row, whether by the row's own word or by a jump before it.

    A step sets the axis to `value`, adds it, or loses the axis.
    """

    row: Places
    own: NDArray[np.bool_]
    value: NDArray[np.int64]
    sets: NDArray[np.bool_]
    adds: NDArray[np.bool_]
    loses: NDArray[np.bool_]


def _row_steps(
    words: ReadWords,
    rows: Rows,
    axis: int,
    incremental: NDArray[np.bool_],
    repeat: NDArray[np.int64] | None,
) -> _Steps:
    """What the rows' own words do to one axis; `incremental` (n,) tells which rows' words add."""
    row, value = words.row, words.value
    if (row[1:] == row[:-1]).any():  # of a repeated word the last one counts
        last = np.append(row[1:] != row[:-1], True)
        row, value = row[last], value[last]
    adds = incremental[row] if incremental.any() else np.zeros(len(row), np.bool_)
    sets, loses = ~adds, np.zeros(len(row), np.bool_)
    if rows.loses.any():
        row, at = _joined(row, (rows.loses >> axis & 1) != 0)
        value, adds, sets = (_placed(part, at, len(row)) for part in (value, adds, sets))
        loses = (rows.loses[row] >> axis & 1) != 0
    if repeat is not None:
        doubtful = adds & (repeat[row] < 1)
        loses = loses | doubtful
        value = value * np.where(adds & ~doubtful, repeat[row], 1)
    return _Steps(row, np.ones(len(row), np.bool_), value, sets, adds, loses)


def _joined(row: Places, also: NDArray[np.bool_]) -> tuple[Places, NDArray[np.intp]]:
    """Some rows, in order, each once, with those that are marked as well (n,), and where the first stand."""
    named = np.zeros(len(also), np.bool_)
    named[row] = True
    both = marked(named | also)
    return both, np.flatnonzero(named[both])


def _placed(values: NDArray[Any], at: NDArray[np.int64], count: int) -> NDArray[Any]:
    """So many zeros, but for the values that stand at these places."""
    column = np.zeros(count, values.dtype)
    column[at] = values
    return column


def _with_jumps(steps: _Steps, jumps: Jumps, axis: int, at_jump: NDArray[np.int64]) -> _Steps:
    """The steps with the jumps among them; a jump acts before the motion of the row that it stands before."""
    sets, loses = jumps.sets[:, axis], (jumps.loses >> axis & 1) != 0
    # to lose the axis does nothing before it has been given any number
    given = np.logical_or.accumulate(sets)
    if len(steps.row):
        given |= at_jump > steps.row[0]
    acts = np.flatnonzero(sets | (loses & given))
    if not len(acts):
        return steps
    no = np.zeros(len(acts), np.bool_)
    mine = (at_jump[acts], no, jumps.value[acts, axis], sets[acts], no, loses[acts])
    own = (steps.row, steps.own, steps.value, steps.sets, steps.adds, steps.loses)
    cuts = np.searchsorted(steps.row, at_jump[acts])
    return _Steps(*(_inserted(column, cuts, more) for column, more in zip(own, mine, strict=True)))


def _inserted(column: NDArray[Any], at: NDArray[np.int64], more: NDArray[Any]) -> NDArray[Any]:
    """The column with further values, each before the place that it has there (sorted)."""
    longer = np.empty(len(column) + len(more), column.dtype)
    new = np.zeros(len(longer), np.bool_)
    new[at + np.arange(len(at))] = True
    longer[new], longer[~new] = more, column
    return longer


def _repeats(blocks: Blocks, rows: Rows) -> NDArray[np.int64] | None:
    """How often each row (n,) is repeated by an L word of a canned cycle; 0 where that cannot be told."""
    cycle = rows.motion == Motion.CYCLE
    if not cycle.any():
        return None
    repeat = np.ones(len(rows.line), np.int64)
    none = np.zeros(len(rows.line), np.bool_)
    for letter in "KL":  # K repeats on some controls, is an offset on others
        words = row_words(blocks, letter, rows.line, none)
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


def decimals_of(blocks: Blocks, axes: AxisWords, rows: Rows) -> tuple[NDArray[np.int8], int]:
    """Most decimals (n,) of each row's own position, centre and radius words, and the most of all, at most 8.

    A program may be written finely in one place only. Raises ProgramError where numbers are whole counts with
    an implied point: without a point and over 10 m, or over 1 m up or down.
    """
    circular = (rows.motion == Motion.CW) | (rows.motion == Motion.CCW)
    plain = rows.motion != Motion.OTHER
    if blocks.program.manner.least == NO_POINT:
        _refuse_implied_points(blocks, rows.line, plain, circular)
    own, arc = axes.decimals.take(rows.line), axes.arc_decimals.take(rows.line)
    finest = max(int((part * counts).max(initial=0)) for part, counts in ((own, plain), (arc, circular)))
    return np.minimum(np.maximum(own, arc), np.int8(finest)), finest


def _refuse_implied_points(
    blocks: Blocks, line: Lines, plain: NDArray[np.bool_], circular: NDArray[np.bool_]
) -> None:
    program = blocks.program
    large: list[NDArray[np.int64]] = []
    for letter in "XYZIJKR":
        word = blocks.words(letter)
        least = (1_000 if letter == "Z" else 10_000) * PER_UNIT
        word = word[(program.decimals[word] == NO_POINT) & (np.abs(program.value[word]) >= least)]
        row = among(line, program.line[word])
        word, row = word[row >= 0], row[row >= 0]
        large.append(word[(plain if letter in AXES else circular)[row]])
    suspects = np.concatenate(large)
    if len(suspects) >= 3:
        raise ProgramError(
            f"numbers without a decimal point are too large for lengths ({len(suspects)} of them)",
            place=Place(program.name, int(program.line[suspects.min()]) + 1),
            cure="This control counts in fixed small steps; post the program with decimal points",
        )

"""Promise: byte for byte, nothing differs but the numbers that had to, and words added beside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from roundwright.plan.plan import ArcTargets, Ends
from roundwright.prove.blocks import PlainBlock, PlainWord, exclusive_or, read_block
from roundwright.prove.case import Case
from roundwright.prove.form import Reader
from roundwright.prove.stamp import BYTE_ORDER_MARK, without_mark
from roundwright.prove.vouched import as_traced, only_numbers
from roundwright.prove.written import misread
from roundwright.read import Word, words_of
from roundwright.read.distinct import distinct
from roundwright.read.lines import Offsets
from roundwright.read.program import Source
from roundwright.trace.moves import CENTRE_LETTERS, Motion, Moves
from roundwright.units import PER_UNIT

Lines = NDArray[np.int64]

PROMISE = "the same bytes"
_AXES = frozenset("XYZ")
#: blocks whose axis words are no end of a move: never changed (geometry, 4).
_FIXED = frozenset((4, 5, 10, 28, 30, 31, 38, 52, 53, 92))
_CYCLES = frozenset((73, 76, 81, 82, 83, 84, 85, 86, 87, 88, 89))
#: codes that end a canned cycle or begin one: the motion group of NIST IR 6556, table 4, with later cycles.
_MOTIONS = frozenset((0, 1, 2, 3, 33, 38, 80)) | _CYCLES
#: bytes and lines compared at once, so that no copy is large.
_TOGETHER, _LINES = 1 << 20, 1 << 16
_MOVES = (Motion.RAPID, Motion.LINE, Motion.CW, Motion.CCW)


def bytes_untouched(case: Case) -> None:
    """Only planned lines differ, and in them only numbers that had to, and words added beside them."""
    old, new = case.old.program, case.new.program
    row, cycle = _planned_rows(case), _in_cycle(case)
    for k in np.flatnonzero(~_beyond_doubt(case, row, cycle)).tolist():
        line = int(case.changed[k])
        if row[k] < 0:
            what = f"no move of this line is planned to change, found {_shown(new, case.new_line(line))}"
            raise case.broken(PROMISE, f"{what}, expected {_shown(old, line)}", line)
        what = _judge(case, int(row[k]), line, old.line_text(line), new.line_text(case.new_line(line)))
        if cycle[k]:
            what = "a block of a canned cycle has changed"
        if what:
            raise case.broken(PROMISE, f"{what} (was {_shown(old, line)})", line)


def _planned_rows(case: Case) -> NDArray[np.int64]:
    """Of each changed line the move that may change, planned or next to a planned one; -1 without any.

    Next to: its start has moved, or a word that it left out has to be added.
    """
    planned = np.concatenate((Ends.of(case.plan.ends).row, ArcTargets.of(case.plan.arcs).row))
    rows = distinct(np.concatenate((planned, planned + 1)))
    rows = rows[(rows >= 0) & (rows < len(case.old))]
    line = case.old.line[rows]
    at = np.searchsorted(line, case.changed.astype(line.dtype), side="right") - 1
    found = np.append(rows, -1)[at]
    found[np.append(line, -1)[at] != case.changed] = -1
    return found


def _beyond_doubt(case: Case, row: NDArray[np.int64], cycle: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which changed lines, of these moves, are as they may be; the others are to be judged one by one."""
    reader = Reader()
    fine = (row >= 0) & (row < len(case.new)) & ~cycle
    for part in case.portions():
        fine[part] = _in_order(case, reader, part, row[part], fine[part])
    return np.asarray(fine)


def _in_order(
    case: Case, reader: Reader, part: slice, row: NDArray[np.int64], asked: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which of some changed lines (l,) that are `asked` about are beyond doubt."""
    old, new = case.old, case.new
    was_line = case.changed[part]
    now_line = case.new_lines(was_line)
    was, now = (
        reader.read(moves.program.data, moves.program.line_start[line], moves.program.line_start[line + 1])
        for moves, line in ((old, was_line), (new, now_line))
    )
    fine = asked & (was.sort >= 0) & (was.sort == now.sort)
    fine[fine] = new.line[row[fine]] == now_line[fine]
    fine[fine] = np.isin(old.motion[row[fine]], _MOVES)
    if fine.any():
        row, was, now = row[fine], was.of(fine), now.of(fine)
        most = max(case.plan.decimals.most, old.finest)
        judged = only_numbers(was, now, _movable(old, row), _FIXED | _CYCLES, most)
        fine[fine] = judged & as_traced(old, row, was) & as_traced(new, row, now)
    return np.asarray(fine)


def _movable(moves: Moves, row: NDArray[np.int64]) -> NDArray[np.bool_]:
    """The letters (l, 256) of the words that may change in each of these moves."""
    kinds = np.column_stack((moves.motion[row], moves.state[row])).astype(np.int64)
    keys = kinds[:, 0] * len(moves.states) + kinds[:, 1]
    of = distinct(keys)
    table = np.zeros((len(of), 256), np.bool_)
    for k, key in enumerate(of.tolist()):
        motion, number = divmod(key, len(moves.states))
        state = moves.states[number]
        letters, _ = _letters_of(Motion(motion), state.normal, state.feed_mode == 93)
        table[k, [ord(letter) for letter in letters]] = True
    return table[np.searchsorted(of, keys)]


def changed_lines(old: Source, new: Source, stamp_line: int | None) -> Lines:
    """Lines (l,) of the old program, from 0, that the new one has otherwise; the stamp's line left out."""
    was, now, at = old.line_start, new.line_start, stamp_line
    if at is None:
        return differing(old.data, was, new.data, now)
    before = differing(old.data, was[: at + 1], new.data, now[: at + 1])
    was = was[at:]
    if at == 0 and old.data.startswith(BYTE_ORDER_MARK):  # it stays the first thing of all, before the stamp
        was = np.concatenate(([len(BYTE_ORDER_MARK)], was[1:]))
        before = np.zeros(0 if new.data.startswith(BYTE_ORDER_MARK) else 1, np.int64)
    behind = differing(old.data, was, new.data, now[at + 1 :])
    return distinct(np.concatenate((before, behind + at)))


def differing(before: bytes, before_at: Offsets, after: bytes, after_at: Offsets) -> Lines:
    """Lines (l,) that differ between two texts of equally many lines that begin at the given offsets.

    Between lines of another length the texts run in step and are compared as wholes.
    """
    count = len(before_at) - 1
    changed = np.zeros(count, np.bool_)
    for at in range(0, count, _LINES - 1):
        sizes = (np.diff(offsets[at : at + _LINES]) for offsets in (before_at, after_at))
        changed[at : at + _LINES - 1] = np.not_equal(*sizes)
    left, right = np.frombuffer(before, np.uint8), np.frombuffer(after, np.uint8)
    for first, end, there in _in_step(np.flatnonzero(changed), before_at, after_at):
        for begin in range(first, end, _TOGETHER):
            part = slice(begin, min(begin + _TOGETHER, end))
            beside = slice(part.start + there - first, part.stop + there - first)
            if before[part] != after[beside]:
                unlike = (np.flatnonzero(left[part] != right[beside]) + begin).astype(before_at.dtype)
                changed[np.searchsorted(before_at, unlike, side="right") - 1] = True
    return np.flatnonzero(changed)


def _in_step(resized: Lines, before_at: Offsets, after_at: Offsets) -> Iterator[tuple[int, int, int]]:
    """Begin and end in one text, and begin in the other, of what stands between lines of another length."""
    begins, ends = np.append(0, resized + 1), np.append(resized, len(before_at) - 1)
    whole = np.flatnonzero(before_at[begins] < before_at[ends])
    for at in range(0, len(whole), _LINES):
        begin, end = begins[whole[at : at + _LINES]], ends[whole[at : at + _LINES]]
        columns = (before_at[begin].tolist(), before_at[end].tolist(), after_at[begin].tolist())
        yield from zip(*columns, strict=True)


def _in_cycle(case: Case) -> NDArray[np.bool_]:
    """Of each changed line, whether a canned cycle is the last motion word on it or before it."""
    line = case.changed
    said = np.full(len(line), -1, np.int64)
    for part in case.portions():
        words = case.words_before(part)
        at = np.flatnonzero(words.letter == ord("G"))
        at = at[np.isin(words.value[at] // PER_UNIT, list(_MOTIONS))]
        said[part][words.of_line()[at]] = words.value[at] // PER_UNIT
    behind = np.concatenate(([0], line + 1))[:-1]
    for k in np.flatnonzero((said < 0) & (behind < line)).tolist():
        codes = next(filter(None, _motions_before(case.old.program, int(behind[k]), int(line[k]))), [-1])
        said[k] = codes[-1]
    last = np.maximum.accumulate(np.where(said < 0, -1, np.arange(len(line))))
    return np.asarray((last >= 0) & np.isin(said[last], list(_CYCLES)))


def _motions_before(program: Source, first: int, last: int) -> Iterator[list[int]]:
    """The motion words of the lines from before `last` back to `first` that hold a G."""
    begin, end = (int(program.line_start[line]) for line in (first, last))
    while (at := max(program.data.rfind(b"G", begin, end), program.data.rfind(b"g", begin, end))) >= 0:
        line = int(np.searchsorted(program.line_start, at, side="right")) - 1
        yield _motions(words_of(program, line))
        end = int(program.line_start[line])


def _motions(words: Sequence[Word]) -> list[int]:
    """The motion words of a line, whole numbers."""
    codes = [word.value // PER_UNIT for word in words if word.letter == ord("G")]
    return [code for code in codes if code in _MOTIONS]


def _judge(case: Case, row: int, line: int, before: bytes, after: bytes) -> str:
    """What is wrong with a changed line; empty where nothing is."""
    old, new = read_block(without_mark(before)), read_block(without_mark(after))
    if old is None or new is None:
        return "a line that cannot be read plainly has changed"
    codes = {int(code) for code in old.codes()}
    if codes & (_FIXED | _CYCLES):
        return "a block that is no plain move has changed"
    motion = Motion(int(case.old.motion[row]))
    if motion not in _MOVES:
        return "a block that is no plain move has changed"
    state = case.old.states[int(case.old.state[row])]
    movable, addable = _letters_of(motion, state.normal, state.feed_mode == 93)
    most = max(case.plan.decimals.most, case.old.finest)
    return (
        difference(old, new, movable, addable, most)
        or checksum_fault(new)
        or misread(case.old, row, old)
        or ("" if _elsewhere(case, row) else _needless(case, row, old, new) or misread(case.new, row, new))
    )


def _elsewhere(case: Case, row: int) -> bool:
    """Whether the new program has another move in this place: another promise is broken, and says so."""
    return row >= len(case.new) or case.new.line[row] != case.new_line(int(case.old.line[row]))


@cache
def _letters_of(motion: Motion, normal: int, inverse: bool) -> tuple[frozenset[str], frozenset[str]]:
    """The letters of the words that may change in a move, and of those that may be added."""
    if motion not in (Motion.CW, Motion.CCW):
        addable = movable = _AXES
    else:
        addable = _AXES | frozenset(CENTRE_LETTERS[normal])
        movable = addable | {"R"}
    if inverse and motion != Motion.RAPID:  # a rapid takes no time from F
        movable |= {"F"}
    return movable, addable


def _needless(case: Case, row: int, old: PlainBlock, new: PlainBlock) -> str:
    """An added axis word that changes nothing: the axis stays where the move before has left it."""
    moves = case.new
    for axis, name in enumerate("XYZ"):
        added = old.value(name) is None and new.value(name) is not None
        if added and moves.start[row, axis] == moves.end[row, axis]:
            return f"the word {name} was added without need"
    return ""


def difference(
    old: PlainBlock, new: PlainBlock, movable: frozenset[str], addable: frozenset[str], most: int
) -> str:
    """What differs between two blocks beyond the numbers of `movable` words and added `addable` ones.

    A changed or added number is written with a point, since some controls count a number without one in
    their smallest step, and with at most `most` decimals or as many as it had.
    """
    names = {word.name for word in old.words}
    kept = [word for word in new.words if word.name in names]
    added = [word for word in new.words if word.name not in names]
    if [word.letter + word.pad for word in kept] != [word.letter + word.pad for word in old.words]:
        return f"its words are {_letters(new)}, expected {_letters(old)}"
    if len({word.name for word in added}) != len(added) or any(word.name not in addable for word in added):
        return f"a word was added that may not be: {_letters(new)}"
    for before, after in zip(old.words, kept, strict=True):
        fault = _number_fault(before, after, movable, most)
        if fault:
            return fault
    pads, cases = {b"", *(word.pad for word in old.words)}, {word.letter.islower() for word in old.words}
    if any(word.pad not in pads or not _plain(word) or word.decimals > most for word in added):
        return "an added number is not written plainly"
    if old.words and any(word.letter.islower() not in cases for word in added):
        return f"an added word is in another case than its block: {_written(new)}"
    if (old.checksum is None) != (new.checksum is None):
        return "its checksum came or went"
    return "" if _same_gaps(old, new, names) else "blanks, comments or the line's end have changed"


def _number_fault(before: PlainWord, after: PlainWord, movable: frozenset[str], most: int) -> str:
    if before.number == after.number:
        return ""
    word = f"{before.name}{before.number.decode()}"
    found = f"{after.name}{after.number.decode()}"
    if before.name not in movable:
        return f"expected {word} unchanged, found {found}"
    if before.name == "R" and (before.value > 0) != (after.value > 0):
        return f"{word} became {found}, the other way round"
    if before.value == after.value:
        return f"{word} was rewritten as {found} without need"
    if not _plain(after):
        return f"{word} became {found}, which is not written plainly"
    if after.decimals > max(most, before.decimals):
        return f"{word} became {found}, with more than {most} decimals"
    return ""


def _plain(word: PlainWord) -> bool:
    """Whether a number has a point and no blanks inside."""
    return word.decimals >= 0 and not word.number.count(b" ") and not word.number.count(b"\t")


def _same_gaps(old: PlainBlock, new: PlainBlock, names: set[str]) -> bool:
    """Whether all between the words is the same, but for each added word's own blank beside it.

    It has one where the block's words have, and none where they have none.
    """
    blanks = {word.before[:1] for word in old.words[1:] if not word.before.strip(b" \t")}
    own = blanks or {b"", b" ", b"\t"}
    expected = [word.before for word in old.words] + [old.tail]
    parts: list[list[bytes]] = [[]]
    for word in new.words:
        parts[-1].append(word.before)
        if word.name in names:
            parts.append([])
    parts[-1].append(new.tail)
    return all(_rejoins(pieces, gap, own) for pieces, gap in zip(parts, expected, strict=True))


def _rejoins(pieces: list[bytes], gap: bytes, own: set[bytes]) -> bool:
    """Whether the gap stands whole before or behind the added words, whose own blanks are alike."""
    if len(pieces) == 1:
        return pieces[0] == gap
    sides = ((pieces[0], set(pieces[1:])), (pieces[-1], set(pieces[:-1])))
    return any(whole == gap and len(rest) == 1 and rest <= own for whole, rest in sides)


def checksum_fault(block: PlainBlock) -> str:
    """What is wrong with the checksum of a changed block; empty where nothing is or there is none."""
    if block.checksum is None or block.checksum == exclusive_or(block.summed):
        return ""
    return f"expected the checksum *{exclusive_or(block.summed)}, found *{block.checksum}"


def _written(block: PlainBlock) -> str:
    return " ".join((word.letter + word.number).decode() for word in block.words)


def _letters(block: PlainBlock) -> str:
    return " ".join(word.name + word.number.decode() for word in block.words) or "none"


def _shown(program: Source, line: int) -> str:
    return repr(program.line_text(line).decode("utf-8", errors="replace"))

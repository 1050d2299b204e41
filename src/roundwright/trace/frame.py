"""Frames: the work offset in force, what shifts it, and what that does to known positions."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, MutableSequence
from functools import partial

import numpy as np
from msgspec import Struct, field
from numpy.typing import NDArray

from roundwright.read.distinct import distinct
from roundwright.read.program import AXES, NO_VALUE
from roundwright.trace.block import Blocks, Lines, Written
from roundwright.trace.codes import Group
from roundwright.trace.event import Events, Part
from roundwright.trace.modal import GWords, Modes, Number, Track
from roundwright.trace.moves import PLANE_AXES
from roundwright.trace.position import native_to_counts
from roundwright.trace.row import ALL
from roundwright.units import PER_UNIT

#: order of execution, NIST IR 6556 table 8: M6, tool length, offset, then G10/G92 and the like.
_TOOL_CHANGE, _LENGTH, _OFFSET, _SHIFT = 6, 14, 15, 19
_OFFSETS = {540: 1, 550: 2, 560: 3, 570: 4, 580: 5, 590: 6, 591: 7, 592: 8, 593: 9}


class Jumps(Struct, frozen=True, eq=False):
    """Changes of position without a move (j,), in order: each acts before the motion on its line.

    `sets` (j, 3) tells the axes set to `value` (j, 3), counts of 1e-8 mm; `loses` the bits of those lost.
    """

    line: Lines
    loses: NDArray[np.uint8]
    sets: NDArray[np.bool_]
    value: NDArray[np.int64]


class Frames(Struct, frozen=True, eq=False):
    """The frames of a program: labels, the index in force by line, and the jumps of position."""

    labels: tuple[str, ...]
    track: Track
    jumps: Jumps


class _Log(Struct):
    """What the walk through the few frame events has come to."""

    offset: str = "G54"
    shift: int = 0
    clean: dict[str, bool | None] = field(default_factory=dict)  # no shift of this kind is in force
    labels: dict[str, int] = field(default_factory=lambda: {"G54": 0})
    # columns, as each line may be an event: line and label; line, axes lost; jump, axis and value set
    changes: MutableSequence[int] = field(default_factory=partial(array, "i"))
    jumps: MutableSequence[int] = field(default_factory=partial(array, "i"))
    given: MutableSequence[int] = field(default_factory=partial(array, "q"))

    def enter(self, line: int, *, shifted: bool) -> None:
        self.shift += shifted
        label = f"{self.offset}+{self.shift}" if self.shift else self.offset
        self.changes.extend((line, self.labels.setdefault(label, len(self.labels))))

    def jump(self, line: int, loses: int, sets: dict[int, int] | None = None) -> None:
        for axis, value in (sets or {}).items():
            self.given.extend((len(self.jumps) // 2, axis, value))
        self.jumps.extend((line, loses))


def trace_frames(blocks: Blocks, words: GWords, modes: Modes, first_row: int) -> Frames:
    """Walk through the events that move or rename the coordinates.

    `first_row` is the line of the first move: a cancel before it changes nothing.
    """
    log = _Log()
    events = Events.of(_events(blocks, words))
    inch, normal = modes.units.at(events.line), modes.plane.at(events.line)
    several = len(distinct(events.number[events.order == _OFFSET])) > 1
    for (line, order, code), is_inch, axis in zip(events, inch, normal, strict=True):
        if order == _TOOL_CHANGE:
            log.jump(line, ALL)
        elif order == _LENGTH:
            log.jump(line, 4)
        elif order == _OFFSET:
            _change_offset(log, blocks, line, code)
        elif order == 0:
            if several or log.shift:
                log.enter(line, shifted=True)
        else:
            said = blocks.words_on(line)
            _Shift(log, blocks, line, said, bool(is_inch), int(axis), line < first_row).apply(code)
    return Frames(tuple(log.labels), Track(0, *_table(log.changes, 2, np.int32)), _jumps_of(log))


def _events(blocks: Blocks, words: GWords) -> Iterator[Part]:
    """(lines, order of execution, codes) of every kind of event; offsets only where they change."""
    line, code = blocks.codes("M")
    yield line[code == 60], _TOOL_CHANGE, 60
    yield blocks.bodies, 0, 0
    yield words.line[words.group == Group.TOOL_LENGTH], _LENGTH, 0
    offset = np.flatnonzero(words.group == Group.OFFSET)
    before = np.concatenate(([540], words.code[offset][:-1]))
    changed = offset[
        (words.code[offset] != before) | (words.code[offset] == 541) | _has_p(blocks, words.line[offset])
    ]
    yield words.line[changed], _OFFSET, words.code[changed]
    shift = np.isin(words.code, (100, 520, 680, 690, 920, 921, 922, 923))
    yield words.line[shift], _SHIFT, words.code[shift]


def _has_p(blocks: Blocks, line: Lines) -> NDArray[np.bool_]:
    return np.isin(line, blocks.program.line[blocks.words("P")])


def _jumps_of(log: _Log) -> Jumps:
    line, loses = _table(log.jumps, 2, np.int32)
    sets, value = np.zeros((len(line), 3), np.bool_), np.zeros((len(line), 3), np.int64)
    row, axis, number = _table(log.given, 3, np.int64)
    sets[row, axis], value[row, axis] = True, number
    return Jumps(line, loses.astype(np.uint8), sets, value)


def _table(flat: MutableSequence[int], columns: int, kind: type[Number]) -> NDArray[Number]:
    """The columns (c, n) of rows that were noted one behind the other."""
    return np.array(flat, kind).reshape(-1, columns).T.copy()


def _change_offset(log: _Log, blocks: Blocks, line: int, code: int) -> None:
    """Enter another work offset; every axis has a new number that the program does not say."""
    words = blocks.words_on(line)
    alone = sum(word.letter == "G" for word in words) == 1
    number = _argument(words, "P") if alone or code == 541 else None  # not the P of a G64
    label = f"G{code / 10:g}" + (f" P{number / PER_UNIT:g}" if number is not None else "")
    if label == log.offset:
        return
    log.offset = label
    log.enter(line, shifted=bool(blocks.deletable(np.array([line], np.int32))[0]))
    log.jump(line, ALL)


def _argument(words: Iterable[Written], letter: str) -> int | None:
    """The value of a block's word, in counts; None where it has none that can be read."""
    for word in words:
        if word.letter == letter and word.decimals != NO_VALUE:
            return word.value
    return None


class _Shift(Struct, frozen=True):
    """One G10, G52, G68, G69 or G92 block."""

    log: _Log
    blocks: Blocks
    line: int
    words: tuple[Written, ...]
    inch: bool
    normal: int
    early: bool  # before the first move

    def apply(self, code: int) -> None:
        """Shift the frame as the block says."""
        if code in (921, 922):
            self._cancel("G92", ALL, trusted=False)
        elif code in (680, 690):
            plane = sum(1 << axis for axis in PLANE_AXES[self.normal])
            self._turn(plane) if code == 680 else self._cancel("turn", plane, trusted=True)
        elif code == 520:
            self._local()
        elif code == 100:
            self._set_offset()
        else:
            self._origin(code)

    def _cancel(self, kind: str, loses: int, *, trusted: bool) -> None:
        """End a shift; nothing changes where none of the kind can be in force."""
        clean = self.log.clean.get(kind)
        self.log.clean[kind] = True
        if clean or (clean is None and (self.early or trusted)):
            return
        self._new(loses)

    def _new(self, loses: int, sets: dict[int, int] | None = None) -> None:
        self.log.enter(self.line, shifted=True)
        self.log.jump(self.line, loses, sets)

    def _turn(self, plane: int) -> None:
        self.log.clean["turn"] = False
        self._new(plane)

    def _local(self) -> None:
        """G52: the named axes get numbers that the program does not say."""
        named, given = self._axes()
        if not any(given.values()) and len(given) == len(named):
            self._cancel("G52", sum(1 << axis for axis in named) or ALL, trusted=False)
            return
        self.log.clean["G52"] = False
        self._new(sum(1 << axis for axis in named))

    def _set_offset(self) -> None:
        """G10: L20 on the current offset says where the named axes are; all else loses them."""
        kind, number = (_argument(self.words, letter) for letter in "LP")
        current = _OFFSETS.get(round(float(self.log.offset[1:]) * 10)) if " " not in self.log.offset else None
        if kind == 20 * PER_UNIT and number is not None and number in (0, (current or 0) * PER_UNIT):
            self._set_here()
        elif kind in (None, 2 * PER_UNIT, 20 * PER_UNIT):
            if not self.early:  # before the first move nothing is where it was anyway
                self._new(ALL)
        else:
            self.log.jump(self.line, 4)  # a tool's data: only its length shifts

    def _origin(self, code: int) -> None:
        """G92 with axis words: here is their place. With none but other words (extruder) it is no shift."""
        named = any(word.letter in AXES for word in self.words)
        if code == 920 and not named and any(word.letter not in "GN" for word in self.words):
            return
        self.log.clean["G92"] = False
        if code == 920 and named:
            self._set_here()
        else:
            self._new(ALL)

    def _set_here(self) -> None:
        named, given = self._axes()
        sure = not self.blocks.deletable(np.array([self.line], np.int32))[0]
        sets = given if sure else {}
        self._new(sum(1 << axis for axis in named if axis not in sets) if sure else ALL, sets)

    def _axes(self) -> tuple[set[int], dict[int, int]]:
        """Axes named, and the values (counts of 1e-8 mm) of those that can be read and stand once."""
        found: dict[int, list[Written]] = {}
        for word in self.words:
            if word.letter in AXES:
                found.setdefault(AXES.index(word.letter), []).append(word)
        once = {axis: at[0] for axis, at in found.items() if len(at) == 1}
        sound = {axis: word.value for axis, word in once.items() if word.is_length}
        value = native_to_counts(np.array(list(sound.values()), np.int64), np.array(self.inch))
        return set(found), dict(zip(sound, value.tolist(), strict=True))

"""Rows: which blocks move, and as what; knows modes and words, no positions."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.distinct import distinct
from roundwright.read.program import AXES, BLOCK_DELETE, COMMENT
from roundwright.trace.block import Blocks, Lines, Places, marked
from roundwright.trace.codes import KNOWN_M, Act, Group
from roundwright.trace.modal import GWords, Modes, spread
from roundwright.trace.moves import PLANE_AXES, Motion
from roundwright.trace.unread import UnreadBlocks
from roundwright.units import GRAIN_DIGITS

#: modes that a subprogram may find or leave otherwise than it looks in the order of the lines.
_CARRIED = (("distance", Group.DISTANCE), ("units", Group.UNITS), ("plane", Group.PLANE))
_CONTROL_WORD = rb"\s*(?:N\s*\d+\s*)?O\s*(?:<[^>]*>|\d+|\[[^\]]*\])\s*(SUB|ENDSUB|CALL|RETURN)\b"
#: a line in so many is looked up by itself; more make a table worth its room.
_FEW = 16
ALL = 7  # the bits of all three axes
#: bits beside those of `Act`: behind such a line no axis is known; its path cannot be told; it is ambiguous.
_BARRIER, _VAGUE, _BROKEN = int(Act.UNKNOWN), 64, 128
_CALLS = (970, 980, 1980)  # M97, M98: subprogram calls
_MACRO_CALLS = (*_CALLS, 990)  # and M99, the return


class AxisWords(Struct, frozen=True, eq=False):
    """The words that move, by line (l,): bits of the axes named, of those unreadable, and the rest.

    `decimals` and `arc_decimals` are the most of the axis and of the centre and radius words, 0 for none.
    `arc` tells a centre or radius word, `twice` a repeated one of either kind, `vague` a block whose
    path cannot be told (an unreadable centre, secondary axes), `rotary` and `extruder` such words.
    """

    named: NDArray[np.uint8]
    lost: NDArray[np.uint8]
    decimals: NDArray[np.int8]
    arc_decimals: NDArray[np.int8]
    arc: NDArray[np.bool_]
    twice: NDArray[np.bool_]
    vague: NDArray[np.bool_]
    rotary: NDArray[np.bool_]
    extruder: NDArray[np.bool_]

    @property
    def worded(self) -> NDArray[np.bool_]:
        """Lines with an axis, centre or radius word."""
        found: NDArray[np.bool_] = (self.named != 0) | self.arc
        return found


class Rows(Struct, frozen=True, eq=False):
    """The moving blocks (n,): line, `Motion`, and the bits of the axes whose end cannot be told."""

    line: Lines
    motion: NDArray[np.uint8]
    loses: NDArray[np.uint8]

    def first_line(self, none: int) -> int:
        """The line of the first plain move; `none` without any."""
        plain = np.flatnonzero(self.motion != Motion.OTHER)
        return int(self.line[plain[0]]) if len(plain) else none


def among(line: Lines, asked: Lines) -> Places:
    """Where each of some lines (w,) stands among others (n,) in order, each once; -1 where it does not."""
    if not len(line) or not len(asked):
        return np.full(len(asked), -1, np.int32)
    if len(asked) * _FEW > len(line):
        at = np.full(max(int(line[-1]), int(asked.max())) + 1, -1, np.int32)
        at[line] = np.arange(len(line), dtype=np.int32)
        return at.take(asked)
    found = np.searchsorted(line, asked)
    found[line.take(found, mode="clip") != asked] = -1
    return found


def axis_words(blocks: Blocks) -> AxisWords:
    """Collect the axis, centre and radius words of every line."""
    program, lines = blocks.program, blocks.program.lines
    named, decimals = np.zeros(lines, np.uint8), np.zeros(lines, np.int8)
    # what stands nowhere takes no room
    lost, arc_decimals = np.broadcast_to(np.uint8(0), lines), np.broadcast_to(np.int8(0), lines)
    arc = twice = vague = np.broadcast_to(np.False_, lines)
    for letter in "XYZIJKRUVW":
        word = blocks.words(letter)
        if not word.size:
            continue
        line = program.line[word].astype(np.intp)
        again = np.flatnonzero(line[1:] == line[:-1])
        twice = _with(twice, line[again], np.True_)
        bad = line[:0] if blocks.sound else line[~blocks.readable(word)]
        if letter not in "UVW":
            written = np.minimum(program.decimals[word], np.int8(GRAIN_DIGITS))
            if letter in AXES:
                _raise_to(decimals, line, written, again)
            else:
                arc_decimals = _own(arc_decimals)
                _raise_to(arc_decimals, line, written, again)
        if letter in "IJKR":
            arc, vague = _with(arc, line, np.True_), _with(vague, bad, np.True_)
            continue
        bit = np.uint8(1 << "XYZUVW".index(letter) % 3)
        here = np.zeros(lines, np.uint8)
        here[line] = bit
        named |= here
        # U, V, W: on some controls the increments of X, Y, Z, on others axes of their own
        lost = _with(lost, bad if letter in AXES else line, bit)
    if program.straights:
        named |= program.straights.named * blocks.live
        np.maximum(decimals, program.straights.decimals, out=decimals)
    if lost.flags.writeable:
        vague = vague | (lost != 0)
    rotary, extruder = _lines_with(blocks, "ABC"), _lines_with(blocks, "E")
    return AxisWords(named, lost, decimals, arc_decimals, arc, twice, vague, rotary, extruder)


def _own(column: NDArray[Any]) -> NDArray[Any]:
    """The column in memory of its own."""
    return column if column.flags.writeable else column.copy()


def _with(column: NDArray[Any], line: NDArray[np.intp], bit: np.uint8 | np.bool) -> NDArray[Any]:
    """The column (l,) with a bit set on some lines: itself where there are none."""
    if len(line):
        column = _own(column)
        column[line] |= bit
    return column


def _raise_to(
    most: NDArray[np.int8], line: NDArray[np.intp], values: NDArray[np.int8], again: NDArray[np.intp]
) -> None:
    """Raise `most` (l,) to the values (w,) on their lines, where `again` are the places of repeated lines."""
    here = np.zeros(len(most), np.int8)
    here[line] = values
    if len(again):
        np.maximum.at(here, line[again], values[again])
    np.maximum(most, here, out=most)


def _lines_with(blocks: Blocks, letters: str) -> NDArray[np.bool_]:
    found = np.broadcast_to(np.False_, blocks.program.lines)
    for letter in letters:
        found = _with(found, blocks.program.line[blocks.words(letter)].astype(np.intp), np.True_)
    return found


def moving_rows(blocks: Blocks, axes: AxisWords, words: GWords, modes: Modes, unread: UnreadBlocks) -> Rows:
    """The rows of a program, one for each block that moves or may move."""
    act = _acts(blocks, words)
    barrier = _barriers(blocks, axes, words, unread) | ((act & (Act.UNKNOWN | Act.CALLS)) != 0)
    # in one column, so that the rows' lines are looked up once
    what = act & np.uint8(Act.CONSUMES | Act.STRAYS | Act.IN_PLANE)
    for bit, mask in ((_BARRIER, barrier), (_VAGUE, axes.vague), (_BROKEN, _broken(blocks, axes, modes))):
        what |= mask * np.uint8(bit)
    line = marked(_moving(axes, what, modes) & blocks.live)
    line = line[~_idle(blocks, axes, what, modes, line)]
    what, named = what.take(line), axes.named.take(line)
    motion = modes.motion.at(line).astype(np.uint8)
    loses = _losses(axes, what, named, modes, line, motion)
    undecided = _undecided(blocks, words, modes, line) & (named != 0)
    lost = np.flatnonzero(undecided | ((what & _BROKEN) != 0))
    loses[lost] |= named[lost]
    loses[(what & _BARRIER) != 0] = ALL
    motion[(what & (_BARRIER | _VAGUE | _BROKEN | Act.STRAYS)) != 0] = Motion.OTHER
    motion[undecided | (motion > Motion.OTHER)] = Motion.OTHER
    return Rows(line, motion, loses)


def _idle(
    blocks: Blocks, axes: AxisWords, what: NDArray[np.uint8], modes: Modes, line: Lines
) -> NDArray[np.bool_]:
    """Which of these lines (n,) are barriers behind another one, with nothing said between.

    Behind the first no axis is known already, and a hostile program has one a line. But a code between may
    say where an axis is (G92), which the next one ends, or how the spindle turns in the bodies called.
    """
    idle: NDArray[np.bool_] = ((what.take(line) & _BARRIER) != 0) & (axes.named.take(line) == 0)
    if idle.any():
        at, code = blocks.codes("M")
        telling = np.zeros(blocks.program.lines, np.bool_)
        telling[at[~np.isin(code, _MACRO_CALLS)]] = True
        for letter in "GTSF":
            telling[blocks.program.line[blocks.words(letter)]] = True
        said, spindle = np.cumsum(telling, dtype=np.int32).take(line), modes.spindle.at(line)
        idle[1:] &= idle[:-1].copy() & (said[1:] == said[:-1]) & (spindle[1:] == spindle[:-1])
        idle[:1] = False
    return idle


def _moving(axes: AxisWords, what: NDArray[np.uint8], modes: Modes) -> NDArray[np.bool_]:
    """Lines (l,) that move or may: with an axis that no other code takes; of an arc a centre is enough."""
    taken = (what & Act.CONSUMES) != 0
    moving: NDArray[np.bool_] = ((axes.named != 0) | ((what & Act.IN_PLANE) != 0)) & ~taken
    moving |= (what & (_BARRIER | Act.STRAYS)) != 0
    bare = marked(axes.arc & ~taken & ~moving)
    motion = modes.motion.at(bare)
    moving[bare] = (motion == Motion.CW) | (motion == Motion.CCW)
    return moving


def _acts(blocks: Blocks, words: GWords) -> NDArray[np.uint8]:
    """What the G words of each line (l,) do beside setting modes: bits of `Act`."""
    act = np.zeros(blocks.program.lines, np.uint8)
    at = np.flatnonzero(words.act)
    np.bitwise_or.at(act, words.line[at], words.act[at])
    return act


def simple_rows(blocks: Blocks, words: GWords, modes: Modes, rows: Rows) -> NDArray[np.bool_]:
    """Which rows (n,) are blocks of X Y Z I J K R F N words and G0 to G3 alone, in absolute distance.

    Such a block depends on what stands before it, and what follows depends on it, by the motion, the feed
    and the place alone; an arc, too, on how centres are read.
    """
    program = blocks.program
    other = (program.flags & ~COMMENT) != 0
    for letter, word in blocks.by_letter.items():
        if letter not in "XYZIJKRFNG":
            other[program.line[word]] = True
    other[words.line[np.flatnonzero((words.code > 30) | (words.code % 10 != 0))]] = True
    simple: NDArray[np.bool_] = (rows.motion <= Motion.CCW) & (rows.loses == 0) & ~other.take(rows.line)
    if modes.distance.value.any():
        simple &= modes.distance.at(rows.line) == 0
    return simple


def _broken(blocks: Blocks, axes: AxisWords, modes: Modes) -> NDArray[np.bool_]:
    """Lines (l,) that may mean two things: a repeated word, two codes of one group, a switch."""
    odd: NDArray[np.bool_] = axes.twice | ((blocks.program.flags & BLOCK_DELETE) != 0)
    odd[modes.odd] = True
    return odd


def _undecided(blocks: Blocks, words: GWords, modes: Modes, line: Lines) -> NDArray[np.bool_]:
    """Rows in a distance mode, unit or plane that nobody says since a call or since a body began.

    So it is where calls and returns do not all find the same mode in force.
    """
    found = np.zeros(len(line), np.bool_)
    code_line, code = blocks.codes("M")
    named = named_bodies(blocks)
    calls = distinct(np.concatenate((code_line[np.isin(code, _CALLS)], words.line[words.code == 650])))
    ends = np.concatenate((calls, code_line[code == 990], named["CALL"], named["ENDSUB"], named["RETURN"]))
    if not blocks.bodies.size and not named["SUB"].size:
        return found
    opened = np.concatenate((calls + 1, blocks.bodies, *(named[k] + 1 for k in ("CALL", "SUB", "ENDSUB"))))
    opened, none = distinct(opened), np.array([-1], np.int32)
    since = spread(line, opened, np.concatenate((none, opened)))
    for track, group in _CARRIED:
        if len(distinct(getattr(modes, track).at(distinct(ends)))) > 1:
            said = distinct(words.line[words.group == group])
            found |= spread(line, said, np.concatenate((none, said))) < since
    return found


def named_bodies(blocks: Blocks) -> dict[str, Lines]:
    """Lines of the control words that begin, end and call subprograms by name."""
    found: dict[str, list[int]] = {word: [] for word in ("SUB", "ENDSUB", "CALL", "RETURN")}
    lines = blocks.program.unread.lines("control")
    for line in lines[blocks.live[lines]].tolist():
        word = re.match(_CONTROL_WORD, blocks.program.line_text(line).upper())
        if word:
            found[word[1].decode()].append(line)
    return {word: np.array(at, np.int32) for word, at in found.items()}


def _losses(
    axes: AxisWords,
    what: NDArray[np.uint8],
    named: NDArray[np.uint8],
    modes: Modes,
    line: Lines,
    motion: NDArray[np.uint8],
) -> NDArray[np.uint8]:
    """Bits of the axes that each row leaves at an end that the program does not say."""
    loses = axes.lost.take(line)
    special = np.flatnonzero(motion == Motion.OTHER)
    loses[special] |= named[special]
    stray, round_ = (np.flatnonzero(what & kind) for kind in (Act.STRAYS, Act.IN_PLANE))
    loses[stray] |= np.where(named[stray] == 0, np.uint8(ALL), named[stray])
    cycle = np.flatnonzero((motion == Motion.CYCLE) & ((what & Act.STRAYS) == 0))  # G28 drills no hole
    if cycle.size or round_.size:
        normal = modes.plane.at(line)
        loses[cycle] |= np.left_shift(1, normal[cycle]).astype(np.uint8)
        plane = np.array([1 << a | 1 << b for a, b in PLANE_AXES], np.uint8)
        loses[round_] |= plane[normal[round_]]
    return loses


def _barriers(blocks: Blocks, axes: AxisWords, words: GWords, unread: UnreadBlocks) -> NDArray[np.bool_]:
    """Lines (l,) after which no axis is known: calls, bodies, control lines, unreadable blocks."""
    barrier = np.zeros(blocks.program.lines, np.bool_)
    line, code = blocks.codes("M")
    barrier[line[np.isin(code, _MACRO_CALLS)]] = True
    barrier[blocks.bodies] = True
    barrier[unread.moving] = True
    calling = np.isin(words.code, (660, 661))
    if calling.any():  # a modal macro call: every move runs it
        worded, switch = axes.worded, calling | (words.code == 670)
        stops = np.append(words.line[switch][1:], len(barrier))
        for start, stop, on in zip(words.line[switch], stops, calling[switch], strict=True):
            barrier[start:stop] |= on & worded[start:stop]
    return barrier


def row_warnings(blocks: Blocks, axes: AxisWords, words: GWords, modes: Modes, rows: Rows) -> tuple[str, ...]:
    """What in the moving blocks a person should know."""
    deletable = blocks.deletable(words.line)
    other_group = (words.group > 1) & deletable
    unknown = (words.act & Act.UNKNOWN) != 0
    undecided = _undecided(blocks, words, modes, rows.line) & (axes.named[rows.line] != 0)
    strange_m, m_names = _strange_m(blocks)
    said = (
        (
            rows.line[undecided],
            "no G90 or G91, unit or plane since a call or since the body began, and several are in use; "
            "not followed: say them again there",
        ),
        (_unreached(blocks), "moves behind the end of the program (M2 or M30); they are not read"),
        (rows.line[axes.twice[rows.line]], "a repeated word; what the block means cannot be told"),
        (modes.odd, "two codes of one modal group in a block; what it means cannot be told"),
        (words.line[other_group], "a mode is set in a block that a switch can turn off; taken as set"),
        (
            words.line[unknown],
            f"G codes that are not known ({_names(words.code[unknown])}); left alone from there on",
        ),
        (strange_m, f"M codes that are not known ({m_names}); taken to leave the path as it is"),
        (
            blocks.bodies,
            "a subprogram body, read on its own from an unknown position, in the program's first "
            "units and plane and G90",
        ),
    )
    units = (
        () if _says_units(modes, rows) else ("no G20 or G21 before the first move; millimetres are assumed",)
    )
    return tuple(f"{where(line)}: {what}" for line, what in said if len(line)) + units


def _says_units(modes: Modes, rows: Rows) -> bool:
    """Whether a units word stands before the first move, or nothing moves."""
    first = modes.units.line[:1]
    return not len(rows.line) or bool(len(first) and first[0] <= rows.line[0])


def _unreached(blocks: Blocks) -> Lines:
    """Lines with an X, Y or Z word that no executed part of the program reaches."""
    program = blocks.program
    dead = ~blocks.live
    dead[program.end_line :] = False
    if not dead.any():
        return np.zeros(0, np.int32)
    named = np.zeros(program.lines, np.bool_) if not program.straights else program.straights.named != 0
    named[program.line[np.isin(program.letter, [ord(letter) for letter in AXES])]] = True
    return marked(dead & named)


def _strange_m(blocks: Blocks) -> tuple[Lines, str]:
    """Lines with M codes that are not known, and their names."""
    line, code = blocks.codes("M")
    strange = ~np.isin(code, KNOWN_M, kind="table")
    return line[strange], _names(code[strange], "M")


def _names(code: NDArray[np.int16], letter: str = "G") -> str:
    names = [f"{letter}?" if c < 0 else f"{letter}{c / 10:g}" for c in sorted(set(code.tolist()))]
    return ", ".join(names[:6]) + (", …" if len(names) > 6 else "")


def where(line: Sequence[int] | Lines) -> str:
    """Lines for a message, counted from 1: "line 5", "lines 5, 8 and 12 more"."""
    numbers = distinct(np.asarray(line, np.int64)) + 1
    if len(numbers) == 1:
        return f"line {numbers[0]}"
    more = f" and {len(numbers) - 3} more" if len(numbers) > 3 else ""
    return f"lines {', '.join(map(str, numbers[:3].tolist()))}{more}"

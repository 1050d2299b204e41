"""Sections: the stretches of a program cut with one tool; knows no positions."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct, field
from numpy.typing import NDArray

from roundwright.read.distinct import distinct
from roundwright.read.program import NO_VALUE
from roundwright.trace.block import Blocks, Lines
from roundwright.trace.event import NONE, Events, Part
from roundwright.trace.modal import Modes, Track, track_of
from roundwright.trace.moves import Motion, Section
from roundwright.trace.row import Rows, named_bodies
from roundwright.trace.stop import told_stops
from roundwright.units import PER_UNIT

#: order within a block, NIST IR 6556 table 8: T, M6, and the stops after the motion.
_RETURN, _BODY, _HIDDEN, _SELECT, _CHANGE, _SAID, _STOP = -1, 0, 1, 5, 6, 7, 21
_UNTRACED = "a subprogram body: which tool calls it is not traced"


class _Walk(Struct):
    """What the walk through the tool events has come to."""

    changes: frozenset[int]  # lines with an M6
    cuts: NDArray[np.int32]  # by line: the moves that cut before it
    told: frozenset[int]  # lines of stops beside which a comment speaks of a tool
    selected: int | None = None
    staged: str = ""  # why it cannot be told which of two selected tools a change loads
    found: list[Section] = field(default_factory=list)

    def tool(self) -> int | None:
        return self.found[-1].tool if self.found else None

    def begin(self, tool: int | None, line: int, doubtful: str = "") -> None:
        if self.found and self.cuts[line] == self.cuts[self.found[-1].line]:
            self.found.pop()  # it cuts nothing, and a hostile program has one a line
        self.found.append(Section(tool, line, doubtful or self.staged))

    def select(self, tool: int | None, line: int) -> None:
        """Take a T word. Beside an M6, while another tool waits, controls differ in which one is loaded."""
        if self.selected not in (None, tool) and line in self.changes and not self.staged:
            self.staged = (
                f"T{self.selected} was waiting when line {line + 1} changed the tool and named another: "
                "some controls load the one, some the other"
            )
        self.selected = tool


def trace_sections(
    blocks: Blocks, modes: Modes, rows: Rows, hidden: Lines
) -> tuple[tuple[Section, ...], Track]:
    """The sections and the index in force by line; sections that cut nothing are dropped.

    With an M6 anywhere T only selects, and an M6 without a new T loads what nobody says; without any,
    T is the change. A stop with the spindle off may be a change by hand. `hidden` are the lines of unread
    blocks that name a tool. Where it cannot be told which of two selected tools is loaded, all are doubtful
    from there on.
    """
    events = Events.of(_events(blocks, hidden))
    changes = frozenset(events.line[events.order == _CHANGE].tolist())
    walk = _Walk(changes, _cuts(rows, blocks.program.lines), told_stops(blocks))
    switched, spindle = blocks.deletable(events.line), modes.spindle.at(events.line)
    for (line, order, said), deletable, turning in zip(events, switched, spindle, strict=True):
        number = None if said == NONE else said
        doubt = f"a tool change in line {line + 1} that a switch can turn off" if deletable else ""
        if order == _SELECT:
            walk.select(number, line)
            if not walk.changes:
                walk.begin(number, line, doubt)
        elif order == _CHANGE:
            walk.begin(walk.selected, line, doubt)
            walk.selected = None
        elif order == _STOP:
            _stop(walk, line, turning)
        elif order == _SAID:
            walk.begin(number, line, f"M61 in line {line + 1} says which tool is in the spindle")
        elif order == _HIDDEN:
            walk.selected = None
            walk.begin(None, line, f"a block in line {line + 1} that cannot be read names a tool")
        elif order == _RETURN:
            walk.begin(number, line)
        else:
            walk.begin(number, line, _UNTRACED if number is None else "")
    return _kept(walk.found, walk.cuts)


def _stop(walk: _Walk, line: int, turning: int) -> None:
    """An M0 or M1: after it another tool may be in the spindle, unless the spindle turns."""
    if turning == 5:
        walk.begin(None, line + 1)
    elif walk.changes and walk.selected not in (None, walk.tool()):
        why = f"T{walk.selected} waits at the stop (M0) in line {line + 1}, which may be its change by hand"
        walk.begin(walk.tool(), line + 1, why)
    elif line in walk.told:
        why = f"a comment at the stop (M0) in line {line + 1} speaks of a tool: it may be a change by hand"
        walk.begin(walk.tool(), line + 1, why)
    elif turning == 0:
        walk.begin(walk.tool(), line + 1, f"a stop (M0) in line {line + 1} may be a tool change")


def _cuts(rows: Rows, lines: int) -> NDArray[np.int32]:
    """How many moves that cut stand before each line (l + 1,), the last of which is none."""
    cutting = (rows.motion != Motion.RAPID) & (rows.motion != Motion.OTHER)
    cuts = np.zeros(lines + 1, np.int32)
    cuts[1:][rows.line[cutting]] = 1
    return np.cumsum(cuts, dtype=np.int32, out=cuts)


def _events(blocks: Blocks, hidden: Lines) -> Iterator[Part]:
    """(lines, order of execution, tool numbers) of every kind of event."""
    program = blocks.program
    word = blocks.words("T")
    value, bad = np.divmod(program.value[word], PER_UNIT)
    bad = (bad != 0) | (program.decimals[word] == NO_VALUE)
    yield program.line[word], _SELECT, np.where(bad, NONE, value)
    line_m, code = blocks.codes("M")
    yield line_m[code == 60], _CHANGE, NONE
    yield line_m[code == 610], _SAID, NONE
    yield line_m[(code == 0) | (code == 10)], _STOP, NONE
    yield hidden, _HIDDEN, NONE
    yield blocks.bodies, _BODY, NONE
    yield from _named(blocks, distinct(value[~bad]), several=bool(bad.any() or len(hidden)))


def _named(blocks: Blocks, tools: NDArray[np.int64], *, several: bool) -> Iterator[Part]:
    """The events of bodies that have names: whichever tool calls them, unless the program has but one."""
    only = int(tools[0]) if len(tools) == 1 and not several else NONE
    if not len(tools) and not several:
        return
    bodies = named_bodies(blocks)
    yield bodies["SUB"], _BODY, only
    yield bodies["ENDSUB"], _RETURN, only


def _kept(found: list[Section], cuts: NDArray[np.int32]) -> tuple[tuple[Section, ...], Track]:
    """The sections in which something is cut; the first one also owns what comes before it."""
    starts = np.array([0, *(section.line for section in found)], np.int64)
    counts = np.diff(cuts[starts], append=cuts[-1])
    everything = [Section(None, 0), *found]
    kept = [section for section, count in zip(everything, counts, strict=True) if count]
    kept = kept or everything[-1:]
    return tuple(kept), track_of([(s.line, i) for i, s in enumerate(kept)], 0)

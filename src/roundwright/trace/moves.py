"""The trace room's product: where the tool goes, as columns of moves."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from typing import Any, Literal

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.distinct import index_of
from roundwright.read.program import Source


class Motion(np.uint8, Enum):
    """What kind of move a row is. A byte, so that a column of bytes is compared with it as it is."""

    RAPID = 0
    LINE = 1
    CW = 2
    CCW = 3
    CYCLE = 4  # a canned cycle: a hole drilled at the end position
    OTHER = 5  # the path cannot be told: unread block, home, probe, machine coordinates, broken arc


class ArcFault(np.uint8, Enum):
    """Why an arc cannot be taken as written."""

    NONE = 0
    RADII = 1  # start and end are not equally far from the centre
    NO_CENTRE = 2  # no I, J, K or R
    SHORT_R = 3  # R shorter than half the chord
    SAME_POINT = 4  # R form with end = start
    ZERO = 5  # no radius
    UNKNOWN = 6  # start position unknown, and the form needs it
    HALF_CENTRE = 7  # an absolute centre of which one word is missing: 0, the start or the last one


class Section(Struct, frozen=True):
    """A stretch of the program cut with one tool.

    `tool` is the T number, None where no T word says it. `doubtful` says why the tool may not be
    what it seems (a stop with the spindle's state unknown); empty where there is no doubt.
    """

    tool: int | None
    line: int  # the line that begins it, from 0
    doubtful: str = ""


class State(Struct, frozen=True):
    """The modal state that a move is made in. `normal` is the plane's normal axis: 2 for G17 (XY)."""

    normal: int = 2  # 2: G17 XY, 1: G18 ZX, 0: G19 YZ
    inch: bool = False
    incremental: bool = False
    arc_absolute: bool | None = None  # None where no word says it
    feed_mode: Literal[93, 94, 95] = 94
    compensation: Literal[40, 41, 42] = 40
    frame: int = 0  # index into Moves.frames
    spindle: Literal[0, 3, 4, 5] = 0  # 0: no word has said it
    section: int = 0  # index into Moves.sections
    unsupported: str = ""  # "scaling", "polar coordinates", "diameter mode", …; empty where all is well


#: in-plane axes (first, second) by normal axis: G19 YZ, G18 ZX, G17 XY. Counter-clockwise goes from
#: the first towards the second, seen from the normal's positive end (NIST IR 6556, 3.5.3).
PLANE_AXES: tuple[tuple[int, int], ...] = ((1, 2), (2, 0), (0, 1))
#: the letters of the in-plane axes and of their centre offsets, by normal axis.
PLANE_NAMES: tuple[str, ...] = ("YZ", "ZX", "XY")
CENTRE_LETTERS: tuple[str, ...] = ("JK", "KI", "IJ")


class Arcs(Struct, frozen=True, eq=False):
    """The arcs among the moves, one row each (shape m).

    Centres are in the plane's two axes in the order of `PLANE_AXES`, mm. Where the start position is
    unknown but the form does not need it, `centre` is relative to an assumed start: the number in
    `Moves.start`. Where a fault leaves no centre or no angle to tell, they are nan.
    """

    row: NDArray[np.int64]  # (m,) index of the move
    centre: NDArray[np.float64]  # (m, 2) mm
    radius: NDArray[np.float64]  # (m,) mm: distance of the start; for R form |R|
    radius_end: NDArray[np.float64]  # (m,) mm: distance of the end
    sweep: NDArray[np.float64]  # (m,) radians, counter-clockwise positive, whole turns of P included
    r_form: NDArray[np.bool_]  # (m,)
    fault: NDArray[np.uint8]  # (m,) ArcFault

    def at(self, row: NDArray[np.signedinteger[Any]]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
        """Which of the arcs each of these moves (k,) is, and whether it is one; where not, any number."""
        if not len(self.row):
            return np.zeros(len(row), np.intp), np.zeros(len(row), np.bool_)
        found = np.minimum(self.row.searchsorted(row), len(self.row) - 1)
        return found, np.asarray(self.row[found] == row)

    def number(self, row: int) -> int | None:
        """Which of the arcs a move is; None where it is none."""
        return index_of(self.row, row)


class Moves(Struct, frozen=True, eq=False):
    """Every motion block of a program, in order (shape n).

    Positions are whole counts of 1e-8 mm in program coordinates of the move's frame. Where an axis is
    unknown its bit is missing in `start_known`/`end_known` (1 X, 2 Y, 4 Z); its number then only
    serves differences in incremental mode.
    """

    program: Source
    line: NDArray[np.int32]  # (n,) from 0
    motion: NDArray[np.uint8]  # (n,) Motion
    start: NDArray[np.int64]  # (n, 3)
    end: NDArray[np.int64]  # (n, 3)
    start_known: NDArray[np.uint8]  # (n,)
    end_known: NDArray[np.uint8]  # (n,)
    state: NDArray[np.unsignedinteger[Any]]  # (n,) index into states, of the narrowest kind
    feed: NDArray[np.floating[Any]]  # (n,) the F in force, program units as written; nan before the first
    speed: NDArray[np.floating[Any]]  # (n,) the S in force; nan before the first
    decimals: NDArray[np.int8]  # (n,) most decimals of its own words X Y Z I J K R, at most `finest`
    simple: NDArray[np.bool_]  # (n,) plain moves and arcs in absolute distance: `row.simple_rows`
    arcs: Arcs
    states: tuple[State, ...]
    frames: tuple[str, ...]  # "G54", "G54+1", …
    sections: tuple[Section, ...]
    finest: int  # most decimals of any position or arc word, 0 where none has a point
    arc_centres: str  # a sentence: how I J K were taken and why
    absolute_centres: bool  # they were taken as absolute where no word says it
    odd_centres: bool  # some arcs' radii agree only if I J K had other signs
    warnings: tuple[str, ...]
    seal: int = 0  # checksum of all this as it was traced

    def __len__(self) -> int:
        """Number of moves."""
        return len(self.line)

    @property
    def linked(self) -> bool:
        """Whether starts and ends are one piece of memory: every move starts where the one before it ends."""
        begin, end = (place.__array_interface__["data"][0] for place in (self.start, self.end))
        return bool(self.start.strides == self.end.strides and begin + self.start.strides[0] == end)

    @property
    def inch(self) -> bool:
        """Whether the program is in inches: most of its moves are."""
        inches = np.array([state.inch for state in self.states], dtype=np.bool_)
        return bool(inches[self.state].mean() > 0.5) if len(self.state) else False


def displaced_rows(one: Moves, other: Moves) -> NDArray[np.intp]:
    """The moves of two programs of as many that do not start and end at the same places."""
    apart = _unlike(one.end, other.end)
    if one.linked and other.linked:
        apart[1:] |= apart[:-1].copy()
        apart[:1] |= (one.start[:1] != other.start[:1]).any(axis=1)
    else:
        apart |= _unlike(one.start, other.start)
    return np.flatnonzero(apart)


def _unlike(one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which points (n,) are not the same; axis by axis, as they lie in memory."""
    unlike = np.zeros(len(one), np.bool_)
    for axis in range(3 if one is not other else 0):
        unlike |= one[:, axis] != other[:, axis]
    return unlike


def with_places(
    moves: Moves, row: NDArray[np.intp], start: NDArray[np.int64], end: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Start and end of all moves (n, 3), with these in some rows (k, 3) in order; linked if possible."""
    if moves.linked and len(row):
        place = np.empty((3, len(moves) + 1), np.int64)
        place[:, 0], place[:, 1:] = start[0] if row[0] == 0 else moves.start[0], moves.end.T
        place[:, row + 1] = end.T
        starts, ends = place[:, :-1].T, place[:, 1:].T
        follows = row[row + 1 < len(moves)] + 1
        follows = follows[~np.isin(follows, row)]
        if (starts[row] == start).all() and (starts[follows] == moves.start[follows]).all():
            return starts, ends
    starts, ends = moves.start.copy(), moves.end.copy()
    starts[row], ends[row] = start, end
    return starts, ends


def datum_set(frames: Sequence[str], before: int, after: int) -> bool:
    """Whether coordinates were shifted between two frames, other than by choosing another work offset.

    A frame's label ends in how often that has happened; a label without has no shift in it.
    """
    old, new = (frames[k].partition("+")[2] for k in (before, after))
    return bool(new) and new != old

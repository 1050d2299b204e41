"""Reads the new program afresh; of long stretches of plain moves and arcs with the same bytes only the edges.

What spares the rest is an induction. A stretch is made of simple blocks (`Moves.simple`) with the same bytes
as before. Where the new program enters it at the same place, in the same state and with the same feed, every
move in it is the same, and so is what the blocks behind find. The entry is read; so are the last blocks in
the stretch that change place, feed or motion, and with them the way out. How centres are read hangs on all
arcs: on none of those left out where what is read leads to the same. Where either is not as before, or
anything else looks otherwise, the whole program is read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.errors import RoundwrightError
from roundwright.prove.case import parts
from roundwright.read import read_program
from roundwright.read.lines import line_starts
from roundwright.read.program import ALL_READ, Source
from roundwright.settings import ArcCentres
from roundwright.trace import Moves, trace_moves
from roundwright.trace.moves import Arcs, with_places
from roundwright.trace.state import as_numbers

#: moves read at either edge of a stretch: more than any move's reading looks back or ahead.
_EDGE = 8
#: moves that are worth leaving out, in one stretch and in all.
_LEAST = 1000
#: the columns of moves, beside their places, of which each move has its own part.
_COLUMNS = (
    *("motion", "start_known", "end_known"),
    *("state", "feed", "speed", "decimals", "simple"),
)

Rows = NDArray[np.intp]


class _Spared(Struct, frozen=True):
    """What is left out: the moves that are not read (n,), those read to carry the state on, and the edges.

    `entries` and `exits` are the moves by which the state before and behind each stretch is told.
    """

    unread: NDArray[np.bool_]
    carriers: list[int]
    entries: list[int]
    exits: list[int]


def lines_of(new: bytes, old: Source) -> Source:
    """The new program cut into lines, none of them read."""
    starts = line_starts(new)
    lines = len(starts) - 1
    flags = np.broadcast_to(np.uint8(0), lines)
    return Source(new, old.name, starts, flags, ALL_READ, old.newline, lines, old.manner)


def reread(
    before: Moves,
    new: Source,
    changed: NDArray[np.int64],
    stamp_line: int | None,
    arc_centres: ArcCentres,
    least: int = _LEAST,
) -> Moves | None:
    """The moves of the new program, which has the `changed` lines of the old one otherwise and a stamp.

    None where the whole program must be read: stretches of fewer than `least` moves spare nothing.
    """
    spared = _spared(before, changed, least)
    if np.count_nonzero(spared.unread) < least:
        return None
    return _joined(before, new, stamp_line, arc_centres, spared)


def _spared(before: Moves, changed: NDArray[np.int64], least: int) -> _Spared:
    """The inner parts of all long stretches of simple blocks, line after line, none of them changed."""
    count = len(before)
    spared = _Spared(np.zeros(count, np.bool_), [], [], [])
    for first, stop in _stretches(before, changed, least + 2 * _EDGE):
        inner = slice(first + _EDGE, stop - _EDGE)
        spared.entries.append(inner.start - 1)
        spared.exits.append(inner.stop - 1)
        carriers = list(_carriers(before, inner))
        spared.carriers.extend(carriers)
        spared.unread[inner] = True
        spared.unread[carriers] = False
    return spared


def _stretches(before: Moves, changed: NDArray[np.int64], least: int) -> Iterator[tuple[int, int]]:
    """First and past the last move of each stretch of at least so many moves."""
    goes_on = np.zeros(len(before) + 1, np.bool_)  # each move from the one before it
    np.logical_and(before.simple[1:], before.simple[:-1], out=goes_on[1:-1])
    for part in parts(len(before) - 1):
        next_line = before.line[part] + 1
        goes_on[1:-1][part] &= next_line == before.line[1:][part]
    at = np.searchsorted(before.line, changed.astype(before.line.dtype))
    at = at[at < len(before)]  # where the line has no move, the next one is no loss
    goes_on[at] = goes_on[at + 1] = False
    edges = np.flatnonzero(goes_on[1:] != goes_on[:-1])
    for first, last in edges.reshape(-1, 2).tolist():
        if last + 1 - first >= least:
            yield first, last + 1


def _carriers(before: Moves, inner: slice) -> Iterator[int]:
    """The last move, and the last ones that change a coordinate, the feed or the motion."""
    yield inner.stop - 1
    earlier = slice(inner.start - 1, inner.stop - 1)
    pairs: list[tuple[NDArray[Any], NDArray[Any]]]
    pairs = [(before.end[inner, axis], before.start[inner, axis]) for axis in range(3)]
    pairs += [(column[inner], column[earlier]) for column in (before.feed, before.motion)]
    for now, was in pairs:
        at = _last_unlike(now, was)
        if at is not None:
            yield inner.start + at


def _last_unlike(one: NDArray[Any], other: NDArray[Any]) -> int | None:
    """The last place where two columns differ, looked for from the end."""
    stop, size = len(one), 64
    while stop:
        begin = max(stop - size, 0)
        at = np.flatnonzero(one[begin:stop] != other[begin:stop])
        if len(at):
            return begin + int(at[-1])
        stop, size = begin, 4 * size
    return None


def _joined(
    before: Moves, new: Source, stamp_line: int | None, arc_centres: ArcCentres, spared: _Spared
) -> Moves | None:
    """The old moves with what is read of the new program in its place; None where that cannot be told."""
    line = before.line if stamp_line is None else before.line + (before.line >= stamp_line).view(np.int8)
    kept = _kept(new.lines, line, spared.unread)
    try:
        read = trace_moves(read_program(_text(new, kept), new.name), arc_centres)
    except RoundwrightError:
        return None
    row = np.flatnonzero(~spared.unread)
    if len(read) != len(row) or not np.array_equal(kept[read.line], line[row]):
        return None
    part = _in_states_of(before, read)
    if part is None or not _enters_and_leaves(before, part, row, spared):
        return None
    arcs = _arcs_with(before, part, row, spared)
    if arcs is None:
        return None
    own = np.flatnonzero(~np.isin(row, spared.carriers))
    columns = {name: _with(getattr(before, name), row[own], getattr(part, name)[own]) for name in _COLUMNS}
    columns["start"], columns["end"] = with_places(before, row[own], part.start[own], part.end[own])
    before = replace(before, absolute_centres=part.absolute_centres, odd_centres=part.odd_centres)
    return replace(before, program=new, line=line, arcs=arcs, states=part.states, **columns)


def _arcs_with(before: Moves, part: Moves, row: Rows, spared: _Spared) -> Arcs | None:
    """The old arcs with those that are read in their places; None where that cannot be told.

    Arcs that are left out say nothing against how centres are read here, since they did not before.
    """
    centres = (before.absolute_centres, before.odd_centres) == (part.absolute_centres, part.odd_centres)
    at, read = np.flatnonzero(~spared.unread[before.arcs.row]), row[part.arcs.row]
    spares = len(at) < len(before.arcs.row)
    if not np.array_equal(before.arcs.row[at], read) or (spares and not (centres and not part.odd_centres)):
        return None
    own = np.flatnonzero(~np.isin(read, spared.carriers))
    names = (name for name in Arcs.__struct_fields__ if name != "row")
    some = {name: _with(getattr(before.arcs, name), at[own], getattr(part.arcs, name)[own]) for name in names}
    return replace(before.arcs, **some)


def _kept(lines: int, line: NDArray[np.int32], unread: NDArray[np.bool_]) -> Rows:
    """The lines (k,) that hold no unread move; the moves stand on these lines."""
    kept = np.ones(lines, np.bool_)
    for part in parts(len(line)):
        kept[line[part][unread[part]]] = False
    return np.flatnonzero(kept)


def _text(new: Source, kept: Rows) -> bytes:
    """The lines that are kept, as they are written."""
    begins = np.flatnonzero(np.diff(kept, prepend=-2) != 1)
    first, last = kept[begins], kept[np.append(begins[1:], len(kept)) - 1]
    bounds = zip(new.line_start[first].tolist(), new.line_start[last + 1].tolist(), strict=True)
    return b"".join(new.data[begin:end] for begin, end in bounds)


def _in_states_of(before: Moves, part: Moves) -> Moves | None:
    """The moves that are read, in states numbered as before; None where tools or frames are others."""
    tools = [[(one.tool, bool(one.doubtful)) for one in moves.sections] for moves in (before, part)]
    if tools[0] != tools[1] or before.frames != part.frames:
        return None
    number = {state: k for k, state in enumerate(before.states)}
    renumbered = as_numbers([number.setdefault(state, len(number)) for state in part.states], len(number))
    return replace(part, state=renumbered[part.state], states=tuple(number))


def _enters_and_leaves(before: Moves, part: Moves, row: Rows, spared: _Spared) -> bool:
    """Whether every stretch is entered and left as in the old program."""
    edges = np.array([*spared.entries, *spared.exits], np.intp)
    at = np.searchsorted(row, edges)
    names = ("motion", "end", "end_known", "state", "feed", "speed")
    return all(_same(getattr(before, name)[edges], getattr(part, name)[at]) for name in names)


def _with(column: NDArray[Any], row: Rows, values: NDArray[Any]) -> NDArray[Any]:
    """The column with these values in these rows: itself where they are there already."""
    if _same(column[row], values):
        return column
    column = column.astype(np.promote_types(column.dtype, values.dtype))
    column[row] = values
    return column


def held_once(before: Moves, after: Moves) -> Moves:
    """The new moves with the old columns wherever theirs are the same: nearly all, beside places and arcs."""
    arcs = replace(after.arcs, **_shared(before.arcs, after.arcs, Arcs.__struct_fields__))
    return replace(after, arcs=arcs, **_shared(before, after, ("line", *_COLUMNS)))


def _shared(old: Struct, new: Struct, names: Iterable[str]) -> dict[str, NDArray[Any]]:
    """The old columns that the new value has, too."""
    return {name: getattr(old, name) for name in names if _same(getattr(old, name), getattr(new, name))}


def _same(one: NDArray[Any], other: NDArray[Any]) -> bool:
    return one is other or np.array_equal(one, other, equal_nan=one.dtype.kind == "f")

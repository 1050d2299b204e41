"""Gathers the words of a program chunk by chunk and closes the columns to a `Program`."""

from __future__ import annotations

from array import array
from typing import Any

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.read.lines import Offsets
from roundwright.read.program import (
    TAPE_MARK,
    UNREAD_REASONS,
    Manner,
    Program,
    Straights,
    Unread,
    UnreadReason,
)
from roundwright.read.seal import sealed

#: letters whose words move an axis: a "%" behind one of them ends the program.
_AXES = np.frombuffer(b"ABCUVWXYZ", np.uint8)
_NEWLINES = (b"\n", b"\r\n", b"\r")

#: the word columns of `Program`.
WORD_TYPES: dict[str, type[np.generic]] = {
    "letter": np.uint8,
    "value": np.int64,
    "decimals": np.int8,
    "line": np.int32,
}


#: those of a chunk: where each word, its number and its end stand in it, too.
CHUNK_TYPES: dict[str, type[np.generic]] = {
    "letter": np.uint8,
    "value": np.int64,
    "decimals": np.int8,
    "start": np.int64,
    "number": np.int64,
    "stop": np.int64,
    "line": np.int32,
}


class Column:
    """A growing array of one type."""

    def __init__(self, kind: type[np.generic], capacity: int) -> None:
        self._array: NDArray[Any] = np.empty(max(capacity, 16), kind)
        self._used = 0

    def add(self, values: NDArray[Any]) -> None:
        """Append values, cast to the column's type."""
        end = self._used + len(values)
        if end > len(self._array):
            self._array.resize(max(end, len(self._array) * 5 // 4), refcheck=False)
        self._array[self._used : end] = values
        self._used = end

    def close(self) -> NDArray[Any]:
        """The values added, given away: the column takes no more."""
        self._array.resize(self._used, refcheck=False)
        return self._array


class Reasons:
    """The blocks that cannot be read, as they are found, in order."""

    def __init__(self) -> None:
        self._line = array("i")
        self._reason = bytearray()

    def __len__(self) -> int:
        return len(self._line)

    def add(self, line: int, reason: UnreadReason) -> None:
        """Note one more, behind those before."""
        self._line.append(line)
        self._reason.append(UNREAD_REASONS.index(reason))

    def first(self) -> int:
        """The line of the first one."""
        return self._line[0]

    def close(self) -> Unread:
        """What was found, given away."""
        return sealed(Unread(np.array(self._line, np.int32), np.frombuffer(self._reason, np.uint8)))


class Layout(Struct, frozen=True):
    """The lines of a program; `newline` is the commonest end."""

    line_start: Offsets  # (l + 1,)
    flags: NDArray[np.uint8]  # (l,)
    unread: Unread
    newline: bytes
    straights: Straights | None = None


def commonest_newline(counts: tuple[int, int, int]) -> bytes:
    """The line end that stands most often; LF where there is none."""
    return _NEWLINES[counts.index(max(counts))]


def close_program(
    data: bytes, name: str, words: dict[str, NDArray[Any]], layout: Layout, end: int, manner: Manner
) -> Program:
    """The program of these words and lines, with everything behind its end mark on line `end` dropped."""
    words = {key: words[key] for key in WORD_TYPES}
    flags, unread, straights = layout.flags, layout.unread, layout.straights
    if end < len(flags):
        kept = int(np.searchsorted(words["line"], end))
        words = {key: column[:kept] for key, column in words.items()}
        flags = flags.copy()
        flags[end + 1 :] = 0
        before = unread.line < end
        unread = Unread(unread.line[before], unread.reason[before])
        straights = _until(end, straights) if straights else None
    program = Program(
        data,
        name,
        line_start=layout.line_start,
        flags=flags,
        unread=unread,
        newline=layout.newline,
        end_line=end,
        manner=manner,
        straights=sealed(straights) if straights else None,
        **words,
    )
    return sealed(program)


def _until(end: int, straights: Straights) -> Straights:
    """The plain moves before line `end`, which is none of them."""
    named = straights.named.copy()
    named[end:] = 0
    return replace(straights, span=straights.span[straights.span[:, 1] <= end], named=named)


def end_line(data: bytes, words: dict[str, NDArray[Any]], layout: Layout) -> int:
    """The line of the "%" that ends the program, or the number of lines.

    Where the first line with anything on it is a "%", the next one ends the program (NIST IR 6556,
    3.1); else the first one behind a motion block does.
    """
    lines = len(layout.flags)
    marks = np.flatnonzero(layout.flags & TAPE_MARK)
    if not len(marks):
        return lines
    if not data[: int(layout.line_start[marks[0]])].removeprefix(b"\xef\xbb\xbf").strip(b" \t\r\n"):
        return int(marks[1]) if len(marks) > 1 else lines
    moving = np.flatnonzero(np.isin(words["letter"], _AXES))
    if not len(moving):
        return lines
    behind = marks[marks > words["line"][moving[0]]]
    return int(behind[0]) if len(behind) else lines

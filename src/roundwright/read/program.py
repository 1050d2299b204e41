"""The read room's product: a finished program, its bytes by line and its words as columns."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, get_args

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.lines import Offsets

UnreadReason = Literal["expression", "variable", "control", "number", "character", "comment"]
UNREAD_REASONS: tuple[UnreadReason, ...] = get_args(UnreadReason)

#: `Program.flags`, one byte a line.
BLOCK_DELETE = np.uint8(1)  # the block starts with "/"
CHECKSUM = np.uint8(2)  # the block ends in "*nn"
TAPE_MARK = np.uint8(4)  # a "%" line
UNREAD = np.uint8(8)  # something in the block could not be read: see `Program.unread`
COMMENT = np.uint8(16)  # the line holds a comment
PROGRAM_NUMBER = np.uint8(32)  # the block starts with an O word or ":" number

#: the letters of the linear axes, by their bits and columns.
AXES = "XYZ"
#: `Program.decimals` of a word whose value could not be read (`X[#1+2]`, `X-`, `X1e-3`).
NO_VALUE = -2
#: `Program.decimals` of a number written without a decimal point.
NO_POINT = -1


class Unread(Struct, frozen=True, eq=False):
    """Blocks that could not be read as plain words, in order (shape u); iterated, (line from 0, why) each.

    Columns, as all lines of a program may be such.
    """

    line: NDArray[np.int32]
    reason: NDArray[np.uint8]  # index into UNREAD_REASONS

    def __len__(self) -> int:
        """Number of blocks."""
        return len(self.line)

    def __iter__(self) -> Iterator[tuple[int, UnreadReason]]:
        """Each block's line and reason."""
        for line, reason in zip(self.line, self.reason, strict=True):
            yield int(line), UNREAD_REASONS[reason]

    def lines(self, reason: UnreadReason) -> NDArray[np.int32]:
        """The lines that could not be read for this reason."""
        found: NDArray[np.int32] = self.line[self.reason == UNREAD_REASONS.index(reason)]
        return found


#: nothing is unread.
ALL_READ = Unread(np.zeros(0, np.int32), np.zeros(0, np.uint8))


class Manner(Struct, frozen=True):
    """How a program writes lengths (words X Y Z I J K R).

    `least` and `fewest` are the fewest decimals of any of them and of those with a point, `bare`: no zero
    before the point (`.5`), `blanks`: words of a block stand apart.
    """

    least: int
    fewest: int
    bare: bool
    blanks: bool


class Source(Struct, frozen=True, eq=False):
    """The bytes of a finished program, untouched, and its lines (l,), which count from 0."""

    data: bytes
    name: str
    line_start: Offsets  # (l + 1,) byte offset of each line's first byte; the last is len(data)
    flags: NDArray[np.uint8]  # (l,) bits above
    unread: Unread
    newline: bytes  # the line end that the program uses most: b"\n", b"\r\n" or b"\r"
    end_line: int  # lines from here on stand behind the end mark "%" and are not read; else l
    manner: Manner

    @property
    def lines(self) -> int:
        """Number of lines."""
        return len(self.flags)

    def line_text(self, line: int) -> bytes:
        """One line as written, its line end included."""
        return self.data[int(self.line_start[line]) : int(self.line_start[line + 1])]


class Straights(Struct, frozen=True, eq=False):
    """Where plain blocks lead, in spans of lines (s, 2), first and stop.

    In a span every block has words N, F, X, Y, Z, G0 and G1 alone, each once at most, all readable; the first
    G word of a span stands in it or in a span that it continues. `place` (3, l) holds for each line the last
    number of each axis as written, counts of 1e-8 of its own unit, from the axis's first word in the span on.
    `named` and `decimals` (l,) are the bits of the axes named (1 X, 2 Y, 4 Z) and the most decimals, at most
    8. The program keeps of the words in a span each axis's first and last one, of F and G the first, the last
    and those that change something.
    """

    span: NDArray[np.int32]
    place: NDArray[np.int64]
    named: NDArray[np.uint8]
    decimals: NDArray[np.int8]


class Program(Source, frozen=True, eq=False):
    """A finished program, lossless: its bytes, and its words (w,) as columns in the order of the file.

    N words are among them, program numbers (O, ":") and what stands in comments, tape marks and
    checksums are not. A word whose value could not be read has value 0 and decimals `NO_VALUE`, and its
    line is `UNREAD`. Where a word stands in its line, `read.words_of` tells. Plain straight moves may be set
    apart: then most of their words are not among them.
    """

    letter: NDArray[np.uint8]  # (w,) upper-case ASCII code
    value: NDArray[np.int64]  # (w,) counts of 1e-8 of the word's own unit; exact up to 8 decimals
    decimals: NDArray[np.int8]  # (w,) digits written after the point, NO_POINT or NO_VALUE
    line: NDArray[np.int32]  # (w,) line of the word
    straights: Straights | None = None

    def source(self) -> Source:
        """The program without its words, which take most of the room."""
        return Source(
            self.data,
            self.name,
            self.line_start,
            self.flags,
            self.unread,
            self.newline,
            self.end_line,
            self.manner,
        )

"""The read room's product: a finished program, its bytes by line and its words as columns."""

from __future__ import annotations

from typing import Literal

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

UnreadReason = Literal["expression", "variable", "control", "number", "character", "comment"]

#: `Program.flags`, one byte a line.
BLOCK_DELETE = np.uint8(1)  # the block starts with "/"
CHECKSUM = np.uint8(2)  # the block ends in "*nn"
TAPE_MARK = np.uint8(4)  # a "%" line
UNREAD = np.uint8(8)  # something in the block could not be read: see `Program.unread`
COMMENT = np.uint8(16)  # the line holds a comment
PROGRAM_NUMBER = np.uint8(32)  # the block starts with an O word or ":" number

#: `Program.decimals` of a word whose value could not be read (`X[#1+2]`, `X-`, `X1e-3`).
NO_VALUE = -2
#: `Program.decimals` of a number written without a decimal point.
NO_POINT = -1


class Unread(Struct, frozen=True):
    """A block that could not be read as plain words, and why. `line` counts from 0."""

    line: int
    reason: UnreadReason


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
    line_start: NDArray[np.int64]  # (l + 1,) byte offset of each line's first byte; the last is len(data)
    flags: NDArray[np.uint8]  # (l,) bits above
    unread: tuple[Unread, ...]
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


class Program(Source, frozen=True, eq=False):
    """A finished program, lossless: its bytes, and its words (w,) as columns in the order of the file.

    N words are among them, program numbers (O, ":") and what stands in comments, tape marks and
    checksums are not. A word whose value could not be read has value 0 and decimals `NO_VALUE`, and its
    line is `UNREAD`. Where a word stands in its line, `read.words_of` tells.
    """

    letter: NDArray[np.uint8]  # (w,) upper-case ASCII code
    value: NDArray[np.int64]  # (w,) counts of 1e-8 of the word's own unit; exact up to 8 decimals
    decimals: NDArray[np.int8]  # (w,) digits written after the point, NO_POINT or NO_VALUE
    line: NDArray[np.int32]  # (w,) line of the word

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

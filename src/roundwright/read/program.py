"""The read room's product: a finished program as columns of words over its untouched bytes."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from roundwright.values import dataclass

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


@dataclass(frozen=True, slots=True)
class Unread:
    """A block that could not be read as plain words, and why. `line` counts from 0."""

    line: int
    reason: UnreadReason


@dataclass(frozen=True, slots=True, eq=False)
class Program:
    """A finished program, lossless: `data` is the source, every word a span of it.

    Shapes: w words, l lines. Words stand in the order of the file; N words are among them, program
    numbers (O, ":") and what stands in comments, tape marks and checksums are not. Lines count from 0.
    A word whose value could not be read has value 0 and decimals `NO_VALUE`, and its line is `UNREAD`.
    """

    data: bytes
    name: str
    letter: NDArray[np.uint8]  # (w,) upper-case ASCII code
    value: NDArray[np.int64]  # (w,) counts of 1e-8 of the word's own unit; exact up to 8 decimals
    decimals: NDArray[np.int8]  # (w,) digits written after the point, NO_POINT or NO_VALUE
    start: NDArray[np.int64]  # (w,) byte offset of the letter
    number: NDArray[np.int64]  # (w,) byte offset of the number's first character (sign, digit or point)
    stop: NDArray[np.int64]  # (w,) byte offset behind the number's last character
    line: NDArray[np.int32]  # (w,) line of the word
    line_start: NDArray[np.int64]  # (l + 1,) byte offset of each line's first byte; the last is len(data)
    first_word: NDArray[np.int64]  # (l + 1,) index of each line's first word; the last is w
    flags: NDArray[np.uint8]  # (l,) bits above
    unread: tuple[Unread, ...]
    newline: bytes  # the line end that the program uses most: b"\n", b"\r\n" or b"\r"
    end_line: int  # lines from here on stand behind the end mark "%" and are not read; else l

    @property
    def lines(self) -> int:
        """Number of lines."""
        return len(self.flags)

    def words_of(self, line: int) -> range:
        """Indices of the words of one line."""
        return range(int(self.first_word[line]), int(self.first_word[line + 1]))

    def text(self, word: int) -> bytes:
        """The word's number as written, blanks inside included."""
        return self.data[int(self.number[word]) : int(self.stop[word])]

    def line_text(self, line: int) -> bytes:
        """One line as written, its line end included."""
        return self.data[int(self.line_start[line]) : int(self.line_start[line + 1])]

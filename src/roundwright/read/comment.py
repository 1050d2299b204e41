"""Finds the comments of a line: `( … )` up to the same line's end, and `;` to the line's end."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from roundwright.read.program import COMMENT, Source

#: bytes looked at together, and the bit that tells a small letter from a large one.
_PORTION, _SMALL = 1 << 18, np.uint8(0x20)

#: comments do not nest and close on their own line (NIST IR 6556, 3.3.4).
_COMMENT = re.compile(rb"\([^)\r\n]*\)?|;[^\r\n]*")


def comment_spans(text: bytes) -> list[tuple[int, int]]:
    """Start and stop of each comment in one line, its marks included. An unclosed one ends with the line."""
    return [match.span() for match in _COMMENT.finditer(text)]


def without_comments(text: bytes) -> bytes:
    """The text of some lines with its comments cut out."""
    return _COMMENT.sub(b"", text)


def comments(program: Source, letter: str | None = None) -> Iterator[tuple[int, bytes]]:
    """Each comment of the program as (line from 0, text without its marks), in order.

    Lines behind the end mark and tape marks hold none. With `letter` at least those that have it, in either
    case, and few others. Costs nothing for lines without comments.
    """
    having = (program.flags & COMMENT) != 0
    if letter is not None and having.any():
        having &= _with_letter(program, letter)
    for line in np.flatnonzero(having).tolist():
        for match in _COMMENT.finditer(program.line_text(line)):
            text = match.group()
            yield line, (text[1:-1] if text[:1] == b"(" and text[-1:] == b")" else text[1:])


def _with_letter(program: Source, letter: str) -> NDArray[np.bool_]:
    """Which lines (l,) have a letter of the alphabet, in either case, anywhere."""
    raw, start = np.frombuffer(program.data, np.uint8), program.line_start
    having = np.zeros(program.lines, np.bool_)
    for first in range(0, len(raw), _PORTION):
        at = np.flatnonzero((raw[first : first + _PORTION] | _SMALL) == ord(letter.lower())) + first
        having[np.searchsorted(start, at.astype(start.dtype), side="right") - 1] = True
    return having

"""Finds the comments of a line: `( … )` up to the same line's end, and `;` to the line's end."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from roundwright.read.program import COMMENT, Source

#: comments do not nest and close on their own line (NIST IR 6556, 3.3.4).
_COMMENT = re.compile(rb"\([^)\r\n]*\)?|;[^\r\n]*")


def comment_spans(text: bytes) -> list[tuple[int, int]]:
    """Start and stop of each comment in one line, its marks included. An unclosed one ends with the line."""
    return [match.span() for match in _COMMENT.finditer(text)]


def without_comments(text: bytes) -> bytes:
    """The text of some lines with its comments cut out."""
    return _COMMENT.sub(b"", text)


def comments(program: Source) -> Iterator[tuple[int, bytes]]:
    """Each comment of the program as (line from 0, text without its marks), in order.

    Lines behind the end mark and tape marks hold none. Costs nothing for lines without comments.
    """
    for line in np.flatnonzero(program.flags & COMMENT).tolist():
        for match in _COMMENT.finditer(program.line_text(line)):
            text = match.group()
            yield line, (text[1:-1] if text[:1] == b"(" and text[-1:] == b")" else text[1:])

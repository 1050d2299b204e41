"""Unread blocks: what a block that could not be read may do to positions, modes and tools."""

from __future__ import annotations

import re
from array import array

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read import words_of
from roundwright.read.program import NO_VALUE
from roundwright.trace.block import Blocks, Lines

#: patterns are compiled by the first block that asks for them: most programs have none.
#: what holds no words: comments, names and strings; then, with brackets, expressions.
_ASIDE = rb"\([^)\r\n]*\)?|;[^\r\n]*|<[^<>\r\n]*>|\"[^\"\r\n]*\""
#: brackets, an opening one with its function's name; no run of letters is looked at twice.
_BRACKET = rb"(?<![A-Z])[A-Z]*\[|\[|\]"
#: the start of a block that sets one variable: `#5=…`, `#<name>=…` (cut to `#`), `#[…]=…`.
_ASSIGNMENT = rb"(?:/[0-9]?)?(?:N[0-9]+)?#[0-9]*="
_OPERATIONS = rb"MOD|AND|XOR|OR|EQ|NE|GT|GE|LT|LE"
_MODE = rb"(?<![A-Z0-9_])(?:N\s*[0-9]+)?G\s*[0-9#=]"
_TOOL = rb"(?<![A-Z0-9_])(?:T\s*[0-9#=]|M\s*0*6(?![0-9.]))"
_MOVE = rb"[GXYZ]\s*[-+.0-9#\[]"


class UnreadBlocks(Struct, frozen=True, eq=False):
    """Lines of unread blocks.

    After those `moving` no axis is known; those `setting` hold a G code, those `changing` a tool.
    """

    moving: Lines
    setting: Lines
    changing: Lines


def unread_blocks(blocks: Blocks, worded: NDArray[np.bool_]) -> UnreadBlocks:
    """Judge every unread block that is executed. `worded` (l,) are lines with axis or centre words."""
    found = (array("i"), array("i"), array("i"))
    moving, setting, changing = found
    for line, reason in blocks.program.unread:
        if not blocks.live[line]:
            continue
        if reason not in ("control", "variable"):
            if _may_move(blocks, reason, line, bool(worded[line])):
                moving.append(line)
            continue
        text = _open_text(blocks.program.line_text(line).upper())
        if reason == "variable" and _only_assigns(text):
            continue
        moving.append(line)
        if re.search(_MODE, text):
            setting.append(line)
        if re.search(_TOOL, text):
            changing.append(line)
    return UnreadBlocks(*(np.array(lines, np.int32) for lines in found))


def _may_move(blocks: Blocks, reason: str, line: int, worded: bool) -> bool:
    """Whether what could not be read may be a move: not where it is only words without a value."""
    if reason == "comment":
        return re.search(_MOVE, blocks.program.line_text(line).upper()) is not None
    named = any(word.decimals == NO_VALUE for word in words_of(blocks.program, line))
    return reason == "character" or (reason == "number" and worded and not named)


def _open_text(text: bytes) -> bytes:
    """The block without comments, names, strings and expressions."""
    text = re.sub(_ASIDE, b"", text)
    opened: list[int] = []
    pairs: list[tuple[int, int]] = []  # the outermost so far
    for match in re.finditer(_BRACKET, text):
        if match[0] != b"]":
            opened.append(match.start())
        elif opened:
            start = opened.pop()
            while pairs and pairs[-1][0] >= start:
                pairs.pop()
            pairs.append((start, match.end()))
    ends = [0, *(stop for _, stop in pairs)]
    return b"".join(text[a:b] for a, b in zip(ends, [*(start for start, _ in pairs), len(text)], strict=True))


def _only_assigns(text: bytes) -> bool:
    """Whether a block does nothing but set variables."""
    bare = b"".join(text.split())
    start = re.match(_ASSIGNMENT, bare)
    return start is not None and not re.search(rb"[A-Z]", re.sub(_OPERATIONS, b"", bare[start.end() :]))

"""Edits on byte spans: sorted, disjoint, applied in one pass; checksums of changed lines follow."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import reduce
from io import BytesIO
from operator import xor
from typing import NamedTuple

from roundwright.errors import CannotWrite
from roundwright.read import words_of
from roundwright.read.program import CHECKSUM, Source

BOM = b"\xef\xbb\xbf"


class Edit(NamedTuple):
    """Replace the bytes from `start` up to `stop` by `text`; nothing replaced is an insertion."""

    start: int
    stop: int
    text: bytes


def apply_edits(data: bytes, edits: Sequence[Edit]) -> bytes:
    """The data with all edits made; everything between them is the same bytes.

    Raises ValueError where two edits overlap: that is an error of the caller's.
    """
    whole, at = memoryview(data), 0
    written = BytesIO()  # gives its bytes away without a copy
    for edit in sorted(edits):
        if edit.start < at:
            raise ValueError(f"edits overlap at byte {edit.start}")
        written.write(whole[at : edit.start])
        written.write(edit.text)
        at = edit.stop
    written.write(whole[at:])
    return written.getvalue()


def checksum_edits(program: Source, edits: Sequence[Edit], row_of_line: dict[int, int]) -> list[Edit]:
    """New checksums for the changed lines that have one: the exclusive or of all bytes before "*".

    Raises CannotWrite where a line's checksum is not that as it stands.
    """
    if not (program.flags & CHECKSUM).any():
        return []
    by_line: dict[int, list[Edit]] = {}
    for edit in edits:
        by_line.setdefault(bisect_right(program.line_start, edit.start) - 1, []).append(edit)
    return [
        _checksum_edit(program, line, changes, row_of_line[line])
        for line, changes in sorted(by_line.items())
        if program.flags[line] & CHECKSUM
    ]


def _checksum_edit(program: Source, line: int, edits: list[Edit], row: int) -> Edit:
    begin = int(program.line_start[line])
    text = program.line_text(line)
    star = text.index(b"*", max(w.stop for w in words_of(program, line)) - begin)
    tail = text[star + 1 :]
    first = len(tail) - len(tail.lstrip(b" \t"))
    last = next((k for k in range(first, len(tail)) if not tail[k : k + 1].isdigit()), len(tail))
    skip = len(BOM) if begin == 0 and text.startswith(BOM) else 0
    if int(tail[first:last]) != reduce(xor, text[skip:star], 0):
        raise CannotWrite(
            f"the checksum of line {line + 1} is not the exclusive or of its bytes, a new one can't be told",
            rows=(row,),
            cure="Save the program without checksums",
        )
    moved = [Edit(e.start - begin, e.stop - begin, e.text) for e in edits]
    fresh = reduce(xor, apply_edits(text[:star], moved)[skip:], 0)
    return Edit(begin + star + 1 + first, begin + star + 1 + last, b"%d" % fresh)

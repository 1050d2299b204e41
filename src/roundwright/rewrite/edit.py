"""Edits on byte spans: sorted, disjoint, applied in one pass; checksums of changed lines follow."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import reduce
from io import BytesIO
from operator import xor
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.errors import CannotWrite
from roundwright.read import words_of
from roundwright.read.program import CHECKSUM, Source

BOM = b"\xef\xbb\xbf"
Integers = NDArray[np.int64]
#: edits that are made from columns together.
_TOGETHER = 1 << 12


class Edit(NamedTuple):
    """Replace the bytes from `start` up to `stop` by `text`; nothing replaced is an insertion."""

    start: int
    stop: int
    text: bytes


class Edits(Struct, frozen=True, eq=False):
    """Many edits (k,) as columns: text `k` is that of `texts` from `begin[k]` up to `begin[k + 1]`."""

    start: Integers
    stop: Integers
    begin: Integers  # (k + 1,)
    texts: bytes

    @classmethod
    def of(cls, edits: Sequence[Edit]) -> Edits:
        """The same edits as columns."""
        bounds = np.array([(edit.start, edit.stop) for edit in edits], np.int64).reshape(-1, 2)
        begin = np.cumsum([0, *(len(edit.text) for edit in edits)])
        return cls(bounds[:, 0], bounds[:, 1], begin, b"".join(edit.text for edit in edits))

    @classmethod
    def joined(cls, parts: Sequence[Edits]) -> Edits:
        """All edits of several columns, one after the other."""
        parts = [one for one in parts if len(one.start)] or list(parts[:1])
        if len(parts) == 1:
            return parts[0]  # as mostly, where checksums or what is odd might have been
        begin = np.concatenate(([0], np.cumsum(np.concatenate([np.diff(one.begin) for one in parts]))))
        start, stop = (np.concatenate([getattr(one, name) for one in parts]) for name in ("start", "stop"))
        return cls(start, stop, begin, b"".join(one.texts for one in parts))

    def only(self, at: Integers) -> Edits:
        """Some of the edits, as columns."""
        begin = np.concatenate(([0], np.cumsum(np.diff(self.begin)[at])))
        texts = b"".join(edit.text for edit in self.taken(at))
        return Edits(self.start[at], self.stop[at], begin, texts)

    def taken(self, at: Integers) -> Iterator[Edit]:
        """Some of the edits, in this order."""
        columns = self.start[at], self.stop[at], self.begin[at], self.begin[at + 1]
        for start, stop, first, end in zip(*(column.tolist() for column in columns), strict=True):
            yield Edit(start, stop, self.texts[first:end])

    def in_order(self) -> Iterator[Edit]:
        """The edits by their places, made as they are asked for; what stands in one place keeps its order."""
        order = np.lexsort((self.stop, self.start))
        for first in range(0, len(order), _TOGETHER):
            yield from self.taken(order[first : first + _TOGETHER])


def apply_edits(data: bytes, edits: Iterable[Edit]) -> bytes:
    """The data with all edits made, which come in order; everything between them is the same bytes.

    Raises ValueError where two edits overlap: that is an error of the caller's.
    """
    whole, at = memoryview(data), 0
    written = BytesIO()  # gives its bytes away without a copy
    for edit in edits:
        if edit.start < at:
            raise ValueError(f"edits overlap at byte {edit.start}")
        written.write(whole[at : edit.start])
        written.write(edit.text)
        at = edit.stop
    written.write(whole[at:])
    return written.getvalue()


def checksum_edits(program: Source, edits: Edits, row_of_line: Callable[[int], int]) -> list[Edit]:
    """New checksums for the changed lines that have one: the exclusive or of all bytes before "*".

    Raises CannotWrite where a line's checksum is not that as it stands.
    """
    if not (program.flags & CHECKSUM).any():
        return []
    lines = np.searchsorted(program.line_start, edits.start, side="right") - 1
    summed = np.flatnonzero(program.flags[lines] & CHECKSUM)
    by_line: dict[int, list[Edit]] = {}
    for line, edit in zip(lines[summed].tolist(), edits.taken(summed), strict=True):
        by_line.setdefault(line, []).append(edit)
    return [
        _checksum_edit(program, line, changes, row_of_line(line)) for line, changes in sorted(by_line.items())
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
    fresh = reduce(xor, apply_edits(text[:star], sorted(moved))[skip:], 0)
    return Edit(begin + star + 1 + first, begin + star + 1 + last, b"%d" % fresh)

"""The second reader for many blocks at once: blocks of one form are read once, their numbers as columns.

The form of a block is its text with a 0 for each run of digits. `read_block` reads it as it reads the block
itself, since it asks of digits only whether they are there: so it tells where the words of all blocks of
that form stand. It knows nothing of the read room.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.prove.blocks import PlainBlock, read_block
from roundwright.read.lines import Offsets

Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
#: bytes of a number or a gap; a block with a longer one is not read here.
LONGEST = 24
#: counts of 1e-8 and the decimals that they hold.
_DIGITS = 8
#: digits before the point of a number; more would not fit 64 bits on their way to inches.
_WHOLE = 7
#: what only some digits may follow ("/1"), and what is read with the digits behind it.
_COUNTED = b"/*"


class Read(Struct, frozen=True, eq=False):
    """Blocks (l,) and their words (w,), in order. A gap that holds digits stands as a word without name.

    `sort` numbers the blocks that differ in nothing but their numbers and the digits of their gaps; -1 where
    a block is not read here.
    """

    sort: Integers  # (l,)
    line: Integers  # (w,) index of the word's block
    name: NDArray[np.uint8]  # (w,) upper-case ASCII code, 0 for a gap
    text: NDArray[np.uint8]  # (w, LONGEST) the number as written, then zeros
    decimals: Integers  # (w,) digits behind the point, -1 without one
    value: Integers  # (w,) counts of 1e-8, as far as `exact`
    exact: Flags  # (w,) no more decimals and digits than that

    def of(self, block: Flags) -> Read:
        """Some of the blocks."""
        word, number = block[self.line], np.cumsum(block) - 1
        return Read(
            self.sort[block],
            number[self.line[word]],
            self.name[word],
            self.text[word],
            self.decimals[word],
            self.value[word],
            self.exact[word],
        )


class _Form(Struct, frozen=True):
    """Where the words of a form stand: name, start and stop, and the point, -1 without one."""

    sort: int
    words: tuple[tuple[int, int, int, int], ...]


class Reader:
    """Reads blocks; what it has read has the same numbers of sorts ever after."""

    def __init__(self) -> None:
        self._forms: dict[bytes, _Form] = {}
        self._sorts: dict[tuple[tuple[bytes, ...], ...], int] = {}

    def read(self, data: bytes, start: Offsets, stop: Offsets) -> Read:
        """The blocks of these spans (l,) of the data."""
        text = b"".join([data[a:b] for a, b in zip(start.tolist(), stop.tolist(), strict=True)])
        size = stop - start
        begin = np.concatenate(([0], np.cumsum(size)))
        byte = np.frombuffer(text, np.uint8)
        digit = (byte >= ord("0")) & (byte <= ord("9"))
        kept = np.ones(len(text), np.bool_)
        kept[1:] = ~(digit[1:] & digit[:-1])
        kept[begin[:-1][size > 0]] = True
        at = np.append(np.flatnonzero(kept), len(text))  # where each byte of a form stands
        first = np.searchsorted(at, begin)
        short = byte[at[:-1]].tobytes().translate(_ZEROS)
        bounds = first.tolist()
        forms = [self._form(short[a:b]) for a, b in pairwise(bounds)]
        return _columns(byte, at, first[:-1], forms)

    def _form(self, text: bytes) -> _Form:
        form = self._forms.get(text)
        if form is None:
            form = self._forms[text] = self._learned(text)
        return form

    def _learned(self, text: bytes) -> _Form:
        block = None if any(mark in text for mark in _COUNTED) else read_block(text)
        if block is None or any(b" " in word.number or b"\t" in word.number for word in block.words):
            return _Form(-1, ())
        kind = (*((word.before, word.letter, word.pad) for word in block.words), (block.tail,))
        return _Form(self._sorts.setdefault(kind, len(self._sorts)), tuple(_places(block)))


_ZEROS = bytes(ord("0") if 48 <= code <= 57 else code for code in range(256))


def _places(block: PlainBlock) -> Iterator[tuple[int, int, int, int]]:
    """Where each number, and each gap with digits, stands in a block."""
    at = 0
    for word in block.words:
        if b"0" in word.before:
            yield 0, at, at + len(word.before), -1
        start = at + len(word.before + word.letter + word.pad)
        point = word.number.find(b".")
        at = start + len(word.number)
        yield ord(word.name), start, at, start + point if point >= 0 else -1
    if b"0" in block.tail:
        yield 0, at, at + len(block.tail), -1


def _columns(byte: NDArray[np.uint8], at: Integers, first: Integers, forms: list[_Form]) -> Read:
    """The words of these blocks, which begin at `first` (l,) among the bytes that are kept, from `at` on."""
    number: dict[int, int] = {}
    distinct: list[_Form] = []
    for form in forms:
        if number.setdefault(id(form), len(distinct)) == len(distinct):
            distinct.append(form)
    kind = np.array([number[id(form)] for form in forms], np.int64)
    table = np.array([word for form in distinct for word in form.words], np.int64).reshape(-1, 4)
    counts = np.array([len(form.words) for form in distinct], np.int64)
    begins = np.cumsum(counts) - counts
    count = counts[kind]
    line = np.repeat(np.arange(len(forms)), count)
    word = np.arange(len(line)) - np.repeat(np.cumsum(count) - count, count) + begins[kind][line]
    name, start, stop, point = table[word].T
    base = first[line]
    start, stop, point = at[base + start], at[base + stop], np.where(point < 0, -1, at[base + point])
    sort = np.array([form.sort for form in distinct], np.int64)[kind]
    sort[line[stop - start > LONGEST]] = -1
    place = start[:, None] + np.arange(LONGEST)
    inside = place < stop[:, None]
    text = np.where(inside, byte[np.minimum(place, len(byte) - 1)], 0).astype(np.uint8)
    decimals = np.where(point < 0, -1, stop - point - 1)
    value, exact = _values(text, decimals, np.where(point < 0, stop, point) - start)
    return Read(sort, line, name.astype(np.uint8), text, decimals, value, exact)


def _values(text: NDArray[np.uint8], decimals: Integers, whole: Integers) -> tuple[Integers, Flags]:
    """The values in counts of 1e-8; `whole` bytes stand before the point, a sign among them."""
    value = np.zeros(len(text), np.int64)
    behind = np.maximum(decimals, 0)
    for column in text.T[: _WHOLE + _DIGITS + 2]:
        digit = (column >= ord("0")) & (column <= ord("9"))
        value = np.where(digit, value * 10 + column - ord("0"), value)
    exact = (behind <= _DIGITS) & (whole <= _WHOLE + 1)
    value *= 10 ** np.where(exact, _DIGITS - behind, 0)
    return np.where(text[:, 0] == ord("-"), -value, value), exact

"""Sets plain straight moves apart while a program is read: where they lead, by line, in place of their words.

Of most long programs nearly every block is such a move. Its words are read and forgotten chunk by chunk; that
saves the room of all words and the time of following them one by one.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from roundwright.read.distinct import distinct
from roundwright.read.program import AXES, COMMENT, NO_POINT, Straights
from roundwright.units import GRAIN_DIGITS, PER_UNIT

#: letters of which a plain block has one word each at most.
_LETTERS = "XYZFGN"
_OTHER = np.ones(256, np.bool_)
_OTHER[np.frombuffer(_LETTERS.encode(), np.uint8)] = False
#: fewer lines are not worth it.
_LEAST = 256
#: places of so many lines take over 32 MB, the most that the C library keeps when they are dropped; for
#: fewer it is not worth it.
_GIVEN_BACK, _FEW = (33 << 20) // 24, 100_000
#: numbers this large are left to those who judge what they mean: counts of 1e-8 of their own unit.
_LARGE, _LARGE_COUNT = 100_000 * PER_UNIT, 1_000 * PER_UNIT

Words = dict[str, NDArray[Any]]
Lines = NDArray[np.int64]


class Gathering:
    """The plain blocks of the chunks so far; `lines` is the most that the program can have."""

    def __init__(self, lines: int) -> None:
        # pages that nobody touches cost nothing
        self._place = np.empty((3, max(lines, _GIVEN_BACK if lines > _FEW else 0)), np.int64)
        self._named = np.empty(lines, np.uint8)
        self._decimals = np.empty(lines, np.int8)
        self._spans: list[Lines] = []
        self._lines = 0
        self._open = False  # the last line so far stands in a span
        self._incremental = False

    def take(self, words: Words, flags: NDArray[np.uint8]) -> Words:
        """Note the plain blocks of some whole lines, and give back the words that stay."""
        lines = len(flags)
        chunk = _Chunk(words, lines)
        steps = self._steps(chunk.value("G"))
        spans = np.zeros((0, 2), np.int64) if steps else chunk.spans(flags, joined=self._open)
        self._open = bool(len(spans)) and bool(spans[-1, 1] == lines)
        here = slice(self._lines, self._lines + lines)
        named, decimals = self._named[here], self._decimals[here]
        named[:], decimals[:] = 0, 0
        if len(spans):
            chunk.fill(self._place[:, here], named, decimals)
            outside = _outside(spans, lines)
            named[outside] = 0
            decimals[outside] = 0
            words = chunk.kept(spans)
        self._spans.append(spans + self._lines)
        self._lines += lines
        return words

    def _steps(self, code: NDArray[np.int64]) -> bool:
        """Whether a block with these G words may be incremental (G91), which is followed word by word."""
        said = code[(code == 90 * PER_UNIT) | (code == 91 * PER_UNIT)]
        found = self._incremental or bool((said == 91 * PER_UNIT).any())
        if len(said):
            self._incremental = bool(said[-1] == 91 * PER_UNIT)
        return found

    def close(self) -> Straights:
        """What was gathered."""
        return Straights(
            np.concatenate([np.zeros((0, 2), np.int32), *self._spans], dtype=np.int32),
            self._place[:, : self._lines],
            self._named[: self._lines],
            self._decimals[: self._lines],
        )


def _outside(spans: Lines, lines: int) -> NDArray[np.bool_]:
    """The lines (l,) that no span holds."""
    edge = np.zeros(lines + 1, np.int8)
    edge[spans[:, 0]] = 1
    edge[spans[:, 1]] -= 1
    outside: NDArray[np.bool_] = np.cumsum(edge[:-1], dtype=np.int8) == 0
    return outside


class _Chunk:
    """The words of some whole lines, by letter."""

    def __init__(self, words: Words, lines: int) -> None:
        self._words, self._lines = words, lines
        letter = words["letter"]
        self._word = {one: np.flatnonzero(letter == ord(one)) for one in _LETTERS}
        self._line = {one: words["line"].take(at, mode="clip") for one, at in self._word.items()}
        self._value = {one: words["value"].take(at, mode="clip") for one, at in self._word.items()}

    def value(self, letter: str) -> NDArray[np.int64]:
        """The values of the words with this letter, in order."""
        return self._value[letter]

    def spans(self, flags: NDArray[np.uint8], *, joined: bool) -> Lines:
        """First and stop of each span (s, 2); `joined`: the line before the first one stands in a span."""
        words = self._words
        plain = (flags & ~COMMENT) == 0
        plain[words["line"].take(np.flatnonzero(_OTHER.take(words["letter"])))] = False
        for letter, line in self._line.items():
            plain[line[1:][line[1:] == line[:-1]]] = False  # a repeated word
            value = self.value(letter)
            if letter in AXES and len(value):
                plain[line[self._large(letter, value)]] = False
            elif letter == "G":
                plain[line[(value != 0) & (value != PER_UNIT)]] = False
        edges = np.flatnonzero(np.diff(np.concatenate(([False], plain, [False])).view(np.int8)))
        runs = edges.reshape(-1, 2).astype(np.int64)
        runs[:, 0] = self._said(runs, joined=joined)
        kept = runs[:, 1] - runs[:, 0] >= _LEAST
        if joined:
            kept |= runs[:, 0] == 0  # it goes on with the span before it
        return runs[kept]

    def _large(self, letter: str, value: NDArray[np.int64]) -> NDArray[np.int64]:
        if value.max() < _LARGE_COUNT and value.min() > -_LARGE_COUNT:
            return np.zeros(0, np.int64)
        size = np.abs(value)
        whole = self._words["decimals"].take(self._word[letter], mode="clip") == NO_POINT
        return np.flatnonzero((size >= _LARGE) | (whole & (size >= _LARGE_COUNT)))

    def _said(self, runs: Lines, *, joined: bool) -> Lines:
        """The first line (r,) of each run of plain blocks from which on its motion is told in it."""
        line = np.append(self._line["G"].astype(np.int64), self._lines)
        first: Lines = line.take(np.searchsorted(line, runs[:, 0]))
        if joined and len(runs) and runs[0, 0] == 0:
            first[0] = 0
        np.minimum(first, runs[:, 1], out=first)
        return first

    def fill(self, place: NDArray[np.int64], named: NDArray[np.uint8], decimals: NDArray[np.int8]) -> None:
        """Write what each line's axis words say, and carry the numbers on to the next ones."""
        for axis, letter in enumerate(AXES):
            line, word = self._line[letter], self._word[letter]
            if not len(line):
                continue
            value = self.value(letter)
            written = np.minimum(self._words["decimals"].take(word), np.int8(GRAIN_DIGITS))
            bit = np.uint8(1 << axis)
            if len(line) == self._lines and bool((line[1:] != line[:-1]).all()):  # a word a line
                place[axis] = value
                named |= bit
                np.maximum(decimals, written, out=decimals)
                continue
            place[axis, line[0] :] = np.repeat(value, np.diff(line, append=self._lines))
            here, most = np.zeros((2, self._lines), np.int8)
            here[line], most[line] = bit, written
            named |= here.view(np.uint8)
            np.maximum(decimals, most, out=decimals)

    def kept(self, spans: Lines) -> Words:
        """The words without those in a span that nobody needs."""
        bounds = np.searchsorted(self._words["line"], spans)
        edges = [0, *bounds.ravel().tolist(), len(self._words["line"])]
        kept = [np.arange(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True)]  # outside the spans
        for letter, line in self._line.items():
            if letter != "N":
                bounds = np.searchsorted(line, spans)
                bounds = bounds[bounds[:, 0] < bounds[:, 1]]
                at = [bounds[:, 0], bounds[:, 1] - 1]
                if letter in "GF":
                    value = self.value(letter)
                    at.append(np.flatnonzero(value[1:] != value[:-1]) + 1)
                kept += [self._word[letter].take(some) for some in at]
        at_all = distinct(np.concatenate(kept))
        return {key: column.take(at_all) for key, column in self._words.items()}

"""Reads the words of some lines afresh, all together: the same that `words_of` reads of each."""

from __future__ import annotations

from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.columns import CHUNK_TYPES
from roundwright.read.plain import Word
from roundwright.read.program import Source
from roundwright.read.scan import read_odd, read_words, with_plain
from roundwright.read.text import BOM
from roundwright.read.tokens import find_tokens, mark_tokens

Integers = NDArray[np.int64]
#: lines that are read together: the tokens of many take far more room than their words.
_AT_ONCE = 1 << 13


class Excerpt(Struct, frozen=True, eq=False):
    """The words (w,) of some lines (l,) as columns, their places as byte offsets in the program."""

    line: Integers  # (l,) the lines, ascending
    first: Integers  # (l + 1,) index of each line's first word
    letter: NDArray[np.uint8]  # (w,) upper-case ASCII code
    value: Integers  # (w,) counts of 1e-8 of the word's own unit
    decimals: NDArray[np.int8]  # (w,) as in `Program`
    start: Integers  # (w,) where the word begins
    number: Integers  # (w,) where its number does
    stop: Integers  # (w,) where it ends

    def of_line(self) -> Integers:
        """Which of the lines each word (w,) stands in."""
        return np.repeat(np.arange(len(self.line)), np.diff(self.first))

    def words(self, k: int) -> tuple[Word, ...]:
        """The words of one of the lines."""
        part = slice(int(self.first[k]), int(self.first[k + 1]))
        columns = (self.letter, self.value, self.decimals, self.start, self.number, self.stop)
        rows = zip(*(column[part].tolist() for column in columns), strict=True)
        return tuple(Word(*row) for row in rows)

    def named(self, letter: str) -> tuple[Integers, NDArray[np.bool_]]:
        """The first word of this letter in each line (l,), -1 where none is, and whether more are."""
        at = np.flatnonzero(self.letter == ord(letter))
        line = self.of_line()[at]
        word = np.full(len(self.line), -1, np.int64)
        word[line[::-1]] = at[::-1]
        more = np.zeros(len(self.line), np.bool_)
        more[line[1:][line[1:] == line[:-1]]] = True
        return word, more


def excerpt(source: Source, lines: Integers) -> Excerpt:
    """The words of these lines (l,), which ascend."""
    kept = lines[lines < source.end_line]
    parts = [_part(source, kept[k : k + _AT_ONCE]) for k in range(0, len(kept), _AT_ONCE)]
    first = np.zeros(len(lines) + 1, np.int64)
    counts = [counts for _, counts in parts]
    first[1 : len(kept) + 1] = np.cumsum(np.concatenate(counts)) if counts else 0
    first[len(kept) + 1 :] = first[len(kept)]
    names = ("letter", "value", "decimals", "start", "number", "stop")
    none = {key: np.empty(0, kind) for key, kind in CHUNK_TYPES.items()}
    columns = {name: np.concatenate([words[name] for words, _ in parts] or [none[name]]) for name in names}
    return Excerpt(lines, first, **columns)


def _part(source: Source, lines: Integers) -> tuple[dict[str, NDArray[Any]], Integers]:
    """The words of a few lines (l,), their places in the program, and how many each line has."""
    begin, stop = source.line_start[lines].tolist(), source.line_start[lines + 1].tolist()
    texts = [source.data[a:b].rstrip(b"\r\n") for a, b in zip(begin, stop, strict=True)]
    if begin[0] == 0 and texts[0].startswith(BOM):
        texts[0] = b" " * len(BOM) + texts[0][len(BOM) :]
    tokens = find_tokens(mark_tokens(b"\n".join((*texts, b""))))
    words, counts = read_words(tokens)
    if tokens.odd.any():
        words = with_plain(words, tokens, read_odd(tokens, counts))
    apart = (source.line_start[lines] - tokens.line_start)[words["line"]]
    for key in ("start", "number", "stop"):
        words[key] = words[key] + apart
    return words, counts

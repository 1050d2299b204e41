"""Reads a whole program into columns, chunk by chunk; hands the odd lines to the plain engine."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from roundwright.read.columns import WORD_TYPES, Column, Layout, close_program, commonest_newline
from roundwright.read.digits import DIGIT, POINT, Numbers, read_numbers
from roundwright.read.plain import Line, read_line
from roundwright.read.program import NO_POINT, NO_VALUE, Program, Unread
from roundwright.read.text import BOM, check_text
from roundwright.read.tokens import FIRST_LETTER, Tokens, find_tokens

#: bytes of whole lines taken at once: the columns of one chunk stay in the processor's cache.
CHUNK = 1 << 20


def read_program(data: bytes, name: str = "program") -> Program:
    """Read a finished program, losslessly.

    What cannot be read is a marked block (`Program.unread`), never an error. Raises `ProgramError` where
    `data` is UTF-16 text or a binary file.
    """
    check_text(data, name)
    if len(data) > CHUNK:
        _keep_memory()
    scan = _Scan(len(data))
    for base, chunk in _chunks(data, CHUNK):
        scan.take(base, chunk)
    return scan.close(data, name)


def _keep_memory() -> None:
    """Make the C library keep the chunks' arrays for the next chunk instead of giving them back each time.

    One large array, made and dropped untouched, raises its thresholds (halves the time of a first run).
    """
    np.empty(31 << 20, np.uint8)


def _chunks(data: bytes, size: int) -> Iterator[tuple[int, bytes]]:
    """The program in pieces of whole lines, each with its offset; a BOM is blanked."""
    start = 0
    while start < len(data):
        stop = _cut(data, start, size)
        chunk = data[start:stop]
        if start == 0 and chunk.startswith(BOM):
            chunk = b" " * len(BOM) + chunk[len(BOM) :]
        yield start, chunk
        start = stop


def _cut(data: bytes, start: int, size: int) -> int:
    """The offset behind the last line that ends within `size` bytes, or behind the first line."""
    limit = start + size
    if limit >= len(data):
        return len(data)
    for newline in (b"\n", b"\r"):
        # a CR at the limit's very edge may be half of a CRLF: leave it to the next chunk
        found = data.rfind(newline, start, limit - 1)
        if found >= 0 and not (newline == b"\r" and data[found + 1 : found + 2] == b"\n"):
            return found + 1
    ends = [place for place in (data.find(b"\n", limit - 1), data.find(b"\r", limit - 1)) if place >= 0]
    if not ends:
        return len(data)
    end = min(ends)
    return end + (2 if data[end : end + 2] == b"\r\n" else 1)


class _Scan:
    """The columns of the chunks read so far."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._words: dict[str, Column] = {}
        self._starts: list[NDArray[np.int64]] = []
        self._counts: list[NDArray[np.int64]] = []
        self._flags: list[NDArray[np.uint8]] = []
        self._unread: list[Unread] = []
        self._lines = 0

    def take(self, base: int, chunk: bytes) -> None:
        """Read one chunk, which stands at offset `base`, behind the chunks before."""
        tokens = find_tokens(chunk)
        words, counts = _read_words(tokens)
        flags = tokens.flags
        if tokens.odd.any():
            lines = {i: _read_odd(tokens, i) for i in np.flatnonzero(tokens.odd).tolist()}
            words = _merge(words, tokens, lines)
            for index, line in lines.items():
                counts[index], flags[index] = len(line.words), line.flags
                if line.reason:
                    self._unread.append(Unread(self._lines + index, line.reason))
        for key in ("start", "number", "stop"):
            words[key] += base
        words["line"] += self._lines
        self._add(words, len(chunk))
        self._starts.append(tokens.line_start + base)
        self._counts.append(counts)
        self._flags.append(flags)
        self._lines += len(flags)

    def _add(self, words: dict[str, NDArray[Any]], size: int) -> None:
        if not self._words:
            # as many words as this chunk's density foretells, and some more
            capacity = int(len(words["letter"]) * (self._size / size) * 1.05)
            self._words = {key: Column(kind, capacity) for key, kind in WORD_TYPES.items()}
        for key, column in self._words.items():
            column.add(words[key])

    def close(self, data: bytes, name: str) -> Program:
        words = {
            key: self._words[key].close() if self._words else np.empty(0, kind)
            for key, kind in WORD_TYPES.items()
        }
        layout = Layout(
            np.concatenate([*self._starts, np.array([len(data)])]),
            np.concatenate([np.empty(0, np.int64), *self._counts]),
            np.concatenate([np.empty(0, np.uint8), *self._flags]),
            tuple(self._unread),
            commonest_newline(data),
        )
        return close_program(data, name, words, layout)


def _read_words(tokens: Tokens) -> tuple[dict[str, NDArray[Any]], NDArray[np.int64]]:
    """The chunk's word columns and the words of each line; marks lines with an unreadable one as odd."""
    word = np.flatnonzero(tokens.kind >= FIRST_LETTER)
    letter = tokens.kind.take(word)
    start = tokens.place.take(word)
    numbers = read_numbers(tokens.buffer, tokens.classes, start, tokens.place.take(word + 1))
    counts = np.diff(np.searchsorted(word, tokens.line_end), prepend=0)
    line = np.repeat(np.arange(len(counts), dtype=np.int32), counts)
    doubtful = numbers.decimals == NO_VALUE
    exponents = np.flatnonzero(letter == ord("E"))
    if len(exponents):
        doubtful[exponents[_touching(tokens, numbers, start, exponents)]] = True
    if doubtful.any():
        tokens.odd[line[doubtful]] = True
    words: dict[str, NDArray[Any]] = {
        "letter": letter,
        "value": numbers.value,
        "decimals": numbers.decimals,
        "start": start,
        "number": numbers.start,
        "stop": numbers.stop,
        "line": line,
    }
    return words, counts


def _touching(
    tokens: Tokens, numbers: Numbers, start: NDArray[np.int64], word: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Which of these E words may be the exponent of the number before them."""
    before = tokens.classes.take(np.maximum(start[word] - 1, 0))
    touching: NDArray[np.bool_] = (before == DIGIT) | (before == POINT)
    touching &= numbers.decimals[word] == NO_POINT
    return touching


def _read_odd(tokens: Tokens, line: int) -> Line:
    start = int(tokens.line_start[line])
    stop = int(tokens.place[tokens.line_end[line]])
    return read_line(tokens.buffer[start:stop].rstrip(b"\r"))


def _merge(words: dict[str, NDArray[Any]], tokens: Tokens, lines: dict[int, Line]) -> dict[str, NDArray[Any]]:
    """The columns with the words of the odd lines replaced by what the plain engine read there."""
    rows = []
    for index, line in lines.items():
        at = int(tokens.line_start[index])
        for w in line.words:
            rows.append((w.letter, w.value, w.decimals, at + w.start, at + w.number, at + w.stop, index))
    even = np.flatnonzero(~tokens.odd.take(words["line"]))
    columns = zip(*rows, strict=True) if rows else [()] * len(WORD_TYPES)
    merged = {
        key: np.concatenate([words[key][even], np.array(column, kind)])
        for (key, kind), column in zip(WORD_TYPES.items(), columns, strict=True)
    }
    order = np.argsort(merged["start"], kind="stable")
    return {key: column[order] for key, column in merged.items()}

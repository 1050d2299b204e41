"""Reads a whole program into columns, chunk by chunk; hands the odd lines to the plain engine."""

from __future__ import annotations

import re
from array import array
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from roundwright.errors import Place, ProgramError
from roundwright.memory import keep_freed
from roundwright.read.columns import (
    CHUNK_TYPES,
    WORD_TYPES,
    Column,
    Layout,
    Reasons,
    close_program,
    commonest_newline,
    end_line,
)
from roundwright.read.digits import DIGIT, POINT, Numbers, read_numbers
from roundwright.read.lines import newlines, offset_kind
from roundwright.read.manner import Tally
from roundwright.read.plain import Line, read_line
from roundwright.read.program import NO_POINT, NO_VALUE, Manner, Program
from roundwright.read.straights import Gathering
from roundwright.read.text import BOM, check_text
from roundwright.read.tokens import FIRST_LETTER, Tokens, find_tokens, mark_tokens

#: bytes of whole lines taken at once: the columns of one chunk stay in the processor's cache.
CHUNK = 1 << 19
#: so many times its own words a chunk may foretell.
_FORETOLD = 16
#: bytes of a line, far more than a control takes: 256 in NIST IR 6556, 3.3. It bounds what a line costs.
LONGEST_LINE = 1 << 16
#: letters, marks and line ends taken at once: a quarter of a chunk's bytes in a usual program, in a hostile
#: one all. It bounds what a chunk costs, and is more than a line can hold.
MOST_TOKENS = 1 << 18
#: so many lines that cannot be read, and more than half of all, are no program.
MOST_UNREAD = 100_000

_LINE_END = re.compile(rb"\r\n|\r|\n")


def read_program(data: bytes, name: str = "program", *, apart: bool = False) -> Program:
    """Read a finished program, losslessly. `apart` sets plain straight moves apart (`Program.straights`).

    What cannot be read is a marked block (`Program.unread`), never an error. Raises `ProgramError` where
    `data` is UTF-16 text, a binary file, or other text than a program: with lines of over 65,536 bytes, or
    over 100,000 lines that cannot be read and make up more than half.
    """
    check_text(data, name)
    keep_freed(len(data))
    ends = newlines(data)
    lines = sum(ends) + 1
    scan = _Scan(len(data), lines, name, commonest_newline(ends), Gathering(lines) if apart else None)
    for base, chunk in _chunks(data, CHUNK):
        scan.take(base, chunk)
    return scan.close(data)


def _chunks(data: bytes, size: int) -> Iterator[tuple[int, bytes]]:
    """The program in pieces of whole lines, each with its offset; a BOM is blanked."""
    for start, chunk in _pieces(data, size):
        if start == 0 and chunk.startswith(BOM):
            chunk = b" " * len(BOM) + chunk[len(BOM) :]
        yield start, chunk


def _pieces(data: bytes, size: int) -> Iterator[tuple[int, bytes]]:
    """Some whole lines in pieces of about `size` bytes, each with its offset."""
    start = 0
    while start < len(data):
        stop = _cut(data, start, size)
        yield start, data[start:stop]
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
    most = limit + LONGEST_LINE  # a line that goes on beyond it is refused: there is no need to see its end
    ends = [place for newline in (b"\n", b"\r") if (place := data.find(newline, limit - 1, most)) >= 0]
    if not ends:
        return min(len(data), most + 1)
    end = min(ends)
    return end + (2 if data[end : end + 2] == b"\r\n" else 1)


def _too_long(chunk: bytes) -> int | None:
    """Where the first line of more than LONGEST_LINE bytes begins in some lines; None without one.

    Such a line covers a whole window of half its length, so hardly any byte is looked at.
    """
    for start in range(0, len(chunk), LONGEST_LINE // 2):
        stop = start + LONGEST_LINE // 2
        if max(chunk.rfind(b"\n", start, stop), chunk.rfind(b"\r", start, stop)) < 0:
            begin = max(chunk.rfind(b"\n", 0, start), chunk.rfind(b"\r", 0, start)) + 1
            end = begin + LONGEST_LINE
            if end < len(chunk) and _LINE_END.search(chunk, begin, end) is None:
                return begin
    return None


class _Scan:
    """The columns of the chunks read so far, of a program of so many bytes and `most` lines."""

    def __init__(self, size: int, most: int, name: str, newline: bytes, gathering: Gathering | None) -> None:
        self._size = size
        self._name = name
        self._newline = newline
        self._gathering = gathering
        self._words: dict[str, Column] = {}
        self._tally = Tally()
        self._starts = Column(offset_kind(size), most + 1)
        self._flags = Column(np.uint8, most)
        self._unread = Reasons()
        self._lines = 0

    def take(self, base: int, chunk: bytes) -> None:
        """Read one chunk, which stands at offset `base`, behind the chunks before."""
        begin = _too_long(chunk)
        if begin is not None:
            raise self._endless(len(_LINE_END.findall(chunk, 0, begin)))
        marked = mark_tokens(chunk)
        if len(marked.place) > MOST_TOKENS:
            for at, part in _pieces(chunk, len(chunk) // 2):
                self.take(base + at, part)
            return
        tokens = find_tokens(marked)
        words, counts = read_words(tokens)
        if tokens.odd.any():
            words = with_plain(words, tokens, read_odd(tokens, counts, self._note))
        self._tally.add(tokens.buffer, words)
        if self._gathering:
            words = self._gathering.take(words, tokens.flags)
        words["line"] += self._lines
        self._add(words, len(chunk))
        self._starts.add(tokens.line_start + base)
        self._flags.add(tokens.flags)
        self._lines += len(tokens.flags)

    def _note(self, index: int, line: Line) -> None:
        """Note of an odd line of the chunk why it cannot be read, if so."""
        if line.reason:
            self._unread.add(self._lines + index, line.reason)
            if len(self._unread) > max(MOST_UNREAD, (self._lines + index + 1) // 2):
                raise self._not_read()

    def _endless(self, index: int) -> ProgramError:
        return ProgramError(
            f"this line has more than {LONGEST_LINE:,} characters, and no control reads such a line",
            place=Place(self._name, self._lines + index + 1),
            cure="Give the program that the machine would run, a block a line",
        )

    def _not_read(self) -> ProgramError:
        return ProgramError(
            f"{len(self._unread):,} lines from this one on cannot be read, more than half of all",
            place=Place(self._name, self._unread.first() + 1),
            cure="Give the program that the machine would run, in plain G-code",
        )

    def _add(self, words: dict[str, NDArray[Any]], size: int) -> None:
        if not self._words:
            # as many words as this chunk's density foretells, and some more; a short chunk foretells little
            capacity = int(len(words["letter"]) * min(self._size / size, _FORETOLD) * 1.05)
            self._words = {key: Column(kind, capacity) for key, kind in WORD_TYPES.items()}
        for key, column in self._words.items():
            column.add(words[key])

    def close(self, data: bytes) -> Program:
        words = {
            key: self._words[key].close() if self._words else np.empty(0, kind)
            for key, kind in WORD_TYPES.items()
        }
        self._starts.add(np.array([len(data)]))
        layout = Layout(
            self._starts.close(),
            self._flags.close(),
            self._unread.close(),
            self._newline,
            self._gathering.close() if self._gathering else None,
        )
        end = end_line(data, words, layout)
        return close_program(data, self._name, words, layout, end, self._manner(data, layout, end))

    def _manner(self, data: bytes, layout: Layout, end: int) -> Manner:
        """How the words before the end mark are written; those behind it are read again without."""
        tally = self._tally
        if end < self._lines - 1:
            scan = _Scan(self._size, self._lines, self._name, self._newline, None)
            for base, chunk in _chunks(data[: int(layout.line_start[end])], CHUNK):
                scan.take(base, chunk)
            tally = scan._tally
        return tally.manner()


def read_words(tokens: Tokens) -> tuple[dict[str, NDArray[Any]], NDArray[np.int64]]:
    """The chunk's word columns and the words of each line; marks lines with an unreadable one as odd."""
    word = np.flatnonzero(tokens.kind >= FIRST_LETTER)
    letter = tokens.kind.take(word)
    start = tokens.place.take(word, mode="clip")
    numbers = read_numbers(tokens.buffer, tokens.classes, start, tokens.place.take(word + 1, mode="clip"))
    counts = _counts(tokens, word)
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


def _counts(tokens: Tokens, word: NDArray[np.int64]) -> NDArray[np.int64]:
    """How many of these tokens stand in each line (l,)."""
    if len(word) + len(tokens.line_end) == len(tokens.kind):  # there are no others
        return np.diff(tokens.line_end, prepend=-1) - 1
    return np.diff(np.searchsorted(word, tokens.line_end), prepend=0)


def _touching(
    tokens: Tokens, numbers: Numbers, start: NDArray[np.int64], word: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Which of these E words may be the exponent of the number before them."""
    before = tokens.classes.take(np.maximum(start[word] - 1, 0))
    touching: NDArray[np.bool_] = (before == DIGIT) | (before == POINT)
    touching &= numbers.decimals[word] == NO_POINT
    return touching


def read_odd(
    tokens: Tokens, counts: NDArray[np.int64], note: Callable[[int, Line], None] | None = None
) -> NDArray[np.int64]:
    """Read the odd lines plainly, and set their counts of words and their flags; their words (n, 7)."""
    rows = array("q")  # a row a word, as flat as can be: a whole chunk may be odd
    for index in np.flatnonzero(tokens.odd).tolist():
        start, stop = int(tokens.line_start[index]), int(tokens.place[tokens.line_end[index]])
        line = read_line(tokens.buffer[start:stop].rstrip(b"\r"))
        counts[index], tokens.flags[index] = len(line.words), line.flags
        for w in line.words:
            at = (start + w.start, start + w.number, start + w.stop)
            rows.extend((w.letter, w.value, w.decimals, *at, index))
        if note:
            note(index, line)
    return np.frombuffer(rows, np.int64).reshape(-1, len(CHUNK_TYPES))


def with_plain(
    words: dict[str, NDArray[Any]], tokens: Tokens, rows: NDArray[np.int64]
) -> dict[str, NDArray[Any]]:
    """The columns with the words of the odd lines replaced by what the plain engine read there."""
    even = np.flatnonzero(~tokens.odd.take(words["line"]))
    merged = {
        key: np.concatenate([words[key][even], rows[:, k].astype(kind)])
        for k, (key, kind) in enumerate(CHUNK_TYPES.items())
    }
    order = np.argsort(merged["start"], kind="stable")
    return {key: column[order] for key, column in merged.items()}

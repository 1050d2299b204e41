"""Reads one line at a time, plainly: for the odd lines of a program, and as the oracle of the fast path."""

from __future__ import annotations

import re

import numpy as np
from msgspec import Struct

from roundwright.read.columns import CHUNK_TYPES, Layout, Reasons, close_program, commonest_newline, end_line
from roundwright.read.comment import comment_spans
from roundwright.read.expression import HIDDEN, SEPARATOR, hide_expressions, is_exponent, steering
from roundwright.read.lines import as_offsets, newlines
from roundwright.read.manner import Tally
from roundwright.read.number import parse_number
from roundwright.read.program import (
    BLOCK_DELETE,
    CHECKSUM,
    COMMENT,
    NO_VALUE,
    PROGRAM_NUMBER,
    TAPE_MARK,
    UNREAD,
    Program,
    Source,
    UnreadReason,
)
from roundwright.read.text import BOM

#: what may stand before the words: block delete (some controls number their switches), N word, a second
#: place for block delete, program number.
_HEAD = re.compile(rb"\n*(/[1-9]?)?\n*(?:N[0-9]+\n*(/[1-9]?)?)?\n*([O:][0-9]+)?")
#: a tape mark; behind an N word (some writers number it too) it must stand alone.
_TAPE = re.compile(rb"[ \t]*(?:%|[Nn][ \t]*[0-9][ \t0-9]*%[ \t]*\Z)")
_CHECKSUM = re.compile(rb"\*[0-9]{1,3}\n*\Z")
_WORD = re.compile(rb"([A-Z])([^A-Z\n]*)|([^A-Z\n]+)")
_LINE = re.compile(rb"([^\r\n]*)(?:\r\n|\r|\n)|([^\r\n]+)\Z")
_NUMBER_BYTES = b"0123456789.+-"
_BLANKS = b" \t"


class Word(Struct, frozen=True):
    """One word; offsets count from where its line was said to begin."""

    letter: int  # upper-case ASCII code
    value: int
    decimals: int
    start: int
    number: int
    stop: int


class Line(Struct, frozen=True):
    """What stands in one line: `flags` are the bits of `Program.flags`."""

    words: tuple[Word, ...] = ()
    flags: int = 0
    reason: UnreadReason | None = None


def read_line(text: bytes, begin: int = 0) -> Line:
    """Read one line, given without its line end. Never fails: what it cannot read is the reason.

    `begin` is the offset of its first byte.
    """
    if _TAPE.match(text):
        return Line(flags=int(TAPE_MARK))
    spans = comment_spans(text)
    flags = int(COMMENT) if spans else 0
    spans, nested = _nested(text, spans)
    packed, at = _pack(text, spans, begin)
    flat = hide_expressions(packed)
    head = _HEAD.match(flat)
    assert head is not None  # every part of it may be missing
    for group in (1, 2):
        if head[group] and not flags & BLOCK_DELETE:
            flags |= int(BLOCK_DELETE)
            flat = _blank(flat, *head.span(group))
    flat, mark = _cut_marks(flat, head.span(3))
    steers = steering(flat, at)
    if steers:
        return Line((), flags | int(UNREAD), nested or steers)
    words, unreadable = _words(packed, flat, at)
    reason = nested or unreadable
    return Line(words, flags | mark | (int(UNREAD) if reason else 0), reason)


def _nested(text: bytes, spans: list[tuple[int, int]]) -> tuple[list[tuple[int, int]], UnreadReason | None]:
    """Take each `)` that no comment opened into the comment before it.

    Harmless where only blanks stand between, as in `(a (b))`; else nobody knows whether the words
    between were meant as comment. Without a comment before it, the mark alone is taken.
    """
    if b")" not in text:
        return spans, None
    taken: list[tuple[int, int]] = []
    reason: UnreadReason | None = None
    behind = 0
    for start, stop in [*spans, (len(text), len(text))]:
        stray = text.find(b")", behind, start)
        while stray >= 0:
            if not taken or text[behind:stray].strip(b" \t"):
                reason = "comment"
            taken.append((behind if taken else stray, stray + 1))
            behind = stray + 1
            stray = text.find(b")", behind, start)
        taken.append((start, stop))
        behind = stop
    return taken[:-1], reason


def _pack(text: bytes, spans: list[tuple[int, int]], begin: int) -> tuple[bytes, list[int]]:
    """The block in upper case without blanks, comments as separators, and where each byte stood."""
    packed = b""
    at: list[int] = []
    behind = 0
    for start, stop in [*spans, (len(text), len(text))]:
        part = text[behind:start]
        packed += part.translate(None, _BLANKS)
        at += [place for place, byte in enumerate(part, begin + behind) if byte not in _BLANKS]
        if start < stop:
            packed += SEPARATOR
            at.append(begin + start)
        behind = stop
    return packed.upper(), at


def _blank(flat: bytes, start: int, stop: int) -> bytes:
    return flat[:start] + SEPARATOR * (stop - start) + flat[stop:]


def _cut_marks(flat: bytes, title: tuple[int, int]) -> tuple[bytes, int]:
    """Take checksum and program number out of the block. An O word before other words is no number."""
    flags = 0
    check = _CHECKSUM.search(flat) if b"*" in flat and b"[" not in flat and b"#" not in flat else None
    if check:
        flags |= int(CHECKSUM)
        flat = _blank(flat, check.start(), len(flat))
    if title[0] >= 0 and not flat[title[1] :].strip(SEPARATOR):
        flags |= int(PROGRAM_NUMBER)
        flat = _blank(flat, *title)
    return flat, flags


def _words(packed: bytes, flat: bytes, at: list[int]) -> tuple[tuple[Word, ...], UnreadReason | None]:
    words: list[Word] = []
    reason: UnreadReason | None = None
    behind = -1  # where the word before ends
    for match in _WORD.finditer(flat):
        letter, text, stray = match.groups()
        if stray is not None:
            reason = reason or _why(stray)
            continue
        start, end = match.span()
        continues = letter == b"E" and start == behind and is_exponent(packed, at, start, text)
        behind = end
        if continues:
            last = words[-1]
            words[-1] = Word(last.letter, 0, NO_VALUE, last.start, last.number, at[end - 1] + 1)
            reason = reason or "number"
            continue
        parsed = parse_number(text)
        if parsed is None:
            reason = reason or _why(text)
        value, decimals = parsed or (0, NO_VALUE)
        number = at[start + 1] if text else at[start] + 1
        words.append(Word(letter[0], value, decimals, at[start], number, at[end - 1] + 1))
    return tuple(words), reason


def _why(text: bytes) -> UnreadReason:
    """Why `text` is no number."""
    if HIDDEN in text or b"#" in text:
        return "expression"
    return "character" if text.strip(_NUMBER_BYTES) else "number"


def words_of(source: Source, line: int) -> tuple[Word, ...]:
    """The words of one line, read afresh; their places are byte offsets in the program."""
    if line >= source.end_line:
        return ()
    text = source.line_text(line).rstrip(b"\r\n")
    if line == 0 and text.startswith(BOM):
        text = b" " * len(BOM) + text[len(BOM) :]
    return read_line(text, int(source.line_start[line])).words


def read_plainly(data: bytes, name: str = "program") -> Program:
    """The whole program line by line: what `read_program` must agree with, slowly."""
    rows: list[tuple[int, ...]] = []
    starts, flags, unread = [0], [], Reasons()
    for index, match in enumerate(_LINE.finditer(data)):
        text = match.group(1) if match.group(2) is None else match.group(2)
        if index == 0 and text.startswith(BOM):
            text = b" " * len(BOM) + text[len(BOM) :]
        line = read_line(text)
        base = match.start()
        rows += [
            (w.letter, w.value, w.decimals, base + w.start, base + w.number, base + w.stop, index)
            for w in line.words
        ]
        starts.append(match.end())
        flags.append(line.flags)
        if line.reason:
            unread.add(index, line.reason)
    columns = zip(*rows, strict=True) if rows else [()] * len(CHUNK_TYPES)
    words = {
        key: np.array(column, kind) for (key, kind), column in zip(CHUNK_TYPES.items(), columns, strict=True)
    }
    offsets = as_offsets(np.array(starts, np.int64), len(data))
    layout = Layout(offsets, np.array(flags, np.uint8), unread.close(), commonest_newline(newlines(data)))
    end = end_line(data, words, layout)
    tally = Tally()
    tally.add(data, {key: column[words["line"] < end] for key, column in words.items()})
    return close_program(data, name, words, layout, end, tally.manner())

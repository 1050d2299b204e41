"""Cuts a chunk of whole lines into tokens: letters, line ends, comment marks and odd bytes."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.digits import BLANK, DIGIT, MINUS, PADDING, PLUS, POINT, next_filled, trim
from roundwright.read.program import BLOCK_DELETE, CHECKSUM, COMMENT

Integers = NDArray[np.int64]
Bytes = NDArray[np.uint8]
Flags = NDArray[np.bool_]

# Token classes, above those of a number's text. Letters are their own upper-case code; O and all other
# bytes are ODD, which leaves their line to the plain engine.
LINE_END, OPEN, SEMICOLON, CLOSE, CLOSED, SLASH, STAR, ODD = range(8, 16)
FIRST_TOKEN = LINE_END
FIRST_LETTER = ord("A")


def _table() -> bytes:
    table = bytearray([ODD] * 256)
    table[ord(" ")] = table[ord("\t")] = BLANK
    table[ord("0") : ord("9") + 1] = bytes([DIGIT] * 10)
    table[ord(".")], table[ord("+")], table[ord("-")] = POINT, PLUS, MINUS
    table[ord("\r")] = BLANK  # of CRLF
    table[ord("\n")] = LINE_END
    table[ord("(")], table[ord(")")], table[ord(";")] = OPEN, CLOSE, SEMICOLON
    table[ord("/")], table[ord("*")] = SLASH, STAR
    for letter in b"ABCDEFGHIJKLMNPQRSTUVWXYZ":
        table[letter] = table[letter + 32] = letter
    return bytes(table)


_TABLE = _table()
#: rounds of comments in one line that are settled for all lines together; the plain engine does the rest.
_ROUNDS = 32


class Tokens(Struct, frozen=True):
    """The tokens of a chunk, comments emptied. Offsets count from the chunk's first byte."""

    buffer: bytes  # the chunk, a line end where it has none, and PADDING
    classes: Bytes  # class of each byte; what stands in comments is not changed
    place: Integers  # (t,) offset
    kind: Bytes  # (t,) class
    line_end: Integers  # (l,) index of the token that ends each line
    line_start: Integers  # (l,) offset
    flags: Bytes  # (l,) COMMENT, BLOCK_DELETE and CHECKSUM bits of `Program.flags`
    odd: Flags  # (l,) something outside words, numbers and comments stands in the line


class Marked(Struct, frozen=True):
    """A chunk, the class of each byte, and where tokens stand, those in comments too: see `Tokens`."""

    buffer: bytes
    classes: Bytes
    place: Integers


def mark_tokens(chunk: bytes) -> Marked:
    """Mark the tokens of some whole lines. Only the last line may lack its line end; CRLF is one line end."""
    buffer = chunk + (b"" if chunk.endswith((b"\n", b"\r")) else b"\n")
    size = len(buffer)
    buffer += b"\0" * PADDING
    classes = _classes(buffer, size)
    return Marked(buffer, classes, np.flatnonzero(classes >= FIRST_TOKEN))


def find_tokens(marked: Marked) -> Tokens:
    """The tokens of the lines, by line, with comments emptied."""
    buffer, classes, place = marked.buffer, marked.classes, marked.place
    kind = classes.take(place)
    line_end = np.flatnonzero(kind == LINE_END)
    lines = len(line_end)
    flags, odd = np.zeros(lines, np.uint8), np.zeros(lines, np.bool_)
    special = bool(((kind > LINE_END) & (kind < FIRST_LETTER)).any())
    if special:
        kept = _empty_comments(kind, line_end, flags, odd)
        place, kind = place.take(kept, mode="clip"), kind.take(kept)
        line_end = np.flatnonzero(kind == LINE_END)
    line_start, first = np.zeros(lines, np.int64), np.zeros(lines, np.int64)
    line_start[1:] = place.take(line_end[:-1], mode="clip") + 1
    first[1:] = line_end[:-1] + 1
    odd |= _filled(classes, line_start, place.take(first))
    tokens = Tokens(buffer, classes, place, kind, line_end, line_start, flags, odd)
    if special:
        _settle_marks(tokens, first)
    return tokens


def _settle_marks(tokens: Tokens, first: Integers) -> None:
    """Flag the lines with a checksum or a block delete in its usual place, and what is odd otherwise.

    `first` is the index of each line's first token.
    """
    place, kind = tokens.place, tokens.kind
    mark = np.flatnonzero((kind > SEMICOLON) & (kind < FIRST_LETTER))
    of = kind.take(mark)
    line = np.searchsorted(tokens.line_end, mark)
    odd = (of == ODD) | (of == CLOSE)
    odd |= _filled(tokens.classes, place.take(mark) + 1, place.take(mark + 1)) & (of != STAR)
    slash = of == SLASH
    odd |= slash & (mark != first.take(line))
    tokens.flags[line[slash]] |= BLOCK_DELETE
    star = np.flatnonzero(of == STAR)
    odd[star] = ~_is_checksum(tokens, mark.take(star))
    tokens.flags[line.take(star)] |= CHECKSUM
    tokens.odd[line[odd]] = True


def _is_checksum(tokens: Tokens, star: Integers) -> Flags:
    """Whether one to three digits follow each of these tokens, and then the block's end."""
    after = tokens.kind.take(star + 1)
    start, stop = tokens.place.take(star) + 1, tokens.place.take(star + 1)
    start, stop = trim(tokens.classes, start, stop)
    good: Flags = (after == LINE_END) | (after == SEMICOLON)
    good &= (stop - start >= 1) & (stop - start <= 3)
    for digit in range(3):
        good &= tokens.classes.take(np.minimum(start + digit, stop - 1)) == DIGIT
    return good


def _classes(buffer: bytes, size: int) -> Bytes:
    """The class of each byte; the CR of a CRLF is a blank."""
    classes = np.frombuffer(buffer.translate(_TABLE), np.uint8, size)
    if b"\r" not in buffer:
        return classes
    raw = np.frombuffer(buffer, np.uint8)
    alone = np.flatnonzero((raw[:-1] == ord("\r")) & (raw[1:] != ord("\n")))
    if len(alone):
        classes = classes.copy()
        classes[alone] = LINE_END
    return classes


def _empty_comments(kind: Bytes, line_end: Integers, flags: Bytes, odd: Flags) -> Integers:
    """Mark the lines that hold comments, and tell which tokens stand outside them.

    A comment's own marks stay; a closing mark that a comment owns becomes CLOSED. Round by round, each
    line's next comment is found: it opens at the next "(" or ";" and closes at the next ")" or line end.
    """
    opener = np.flatnonzero((kind == OPEN) | (kind == SEMICOLON))
    inside = np.zeros(len(kind) + 1, np.int8)
    beyond = len(kind)
    openers, closers = (np.append(at, beyond) for at in (opener, np.flatnonzero(kind == CLOSE)))
    line = np.searchsorted(line_end, opener)
    first = np.flatnonzero(np.diff(line, prepend=-1))
    opens, line = opener.take(first), line.take(first)
    for _ in range(_ROUNDS):
        if not len(opens):
            break
        flags[line] |= COMMENT
        end, close = line_end.take(line), closers.take(np.searchsorted(closers, opens))
        closes = np.where(kind.take(opens) == SEMICOLON, end, np.minimum(close, end))
        inside[opens + 1] += 1
        inside[closes] -= 1
        closed = np.flatnonzero(closes < end)
        closes, line = closes.take(closed), line.take(closed)
        kind[closes] = CLOSED
        opens = openers.take(np.searchsorted(openers, closes))
        again = np.flatnonzero(opens < line_end.take(line))
        opens, line = opens.take(again), line.take(again)
    else:
        odd[line] = True
    return np.flatnonzero(np.cumsum(inside[:-1], dtype=np.int8) == 0)


def _filled(classes: Bytes, start: Integers, stop: Integers) -> Flags:
    """Whether anything but blanks stands between each start and stop, where a token is."""
    filled = np.zeros(len(start), np.bool_)
    apart = np.flatnonzero(start < stop)
    filled[apart] = next_filled(classes, start[apart]) < stop[apart]
    return filled

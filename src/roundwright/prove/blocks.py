"""A second, plain reader of one block, in exact decimals; it knows nothing of the read room.

It reads less than the read room does: a block that it cannot read plainly may not have been changed.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache, reduce
from operator import xor

from msgspec import Struct

#: NIST IR 6556, 3.3 and appendix E.2: blanks may stand anywhere outside comments, a number has a sign,
#: digits and at most one point, no exponent. Checksums `*nn` are common practice, no source.
_PIECE = re.compile(
    rb"(?P<blank>[ \t]*)(?P<letter>[A-Za-z])(?P<pad>[ \t]*)(?P<number>[+-]?(?:[ \t]*[0-9.])+)"
    rb"|(?P<star>\*[ \t]*)(?P<sum>[0-9]+)"
    rb"|(?P<gap>[ \t]+|\([^)\r\n]*\)?(?:[ \t]*\))*|;[^\r\n]*|/[0-9]?|\r\n|\r|\n)"
)
_NUMBER = re.compile(rb"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_BLANKS = b" \t"


class PlainWord(Struct, frozen=True):
    """A word as written: what stands before it, its letter, blanks, its number, and the exact value.

    `name` is the letter, upper case.
    """

    name: str
    before: bytes
    letter: bytes
    pad: bytes
    number: bytes
    value: Decimal

    @property
    def decimals(self) -> int:
        """Digits written behind the point, -1 where there is no point."""
        _, point, digits = self.number.translate(None, _BLANKS).partition(b".")
        return len(digits) if point else -1


class PlainBlock(Struct, frozen=True):
    """One line as plain words; `tail` is what stands behind the last, but for the checksum's digits.

    `checksum` is the number behind "*", None where there is none, and `summed` the bytes that it covers.
    """

    words: tuple[PlainWord, ...]
    tail: bytes
    checksum: int | None
    summed: bytes

    def value(self, letter: str) -> Decimal | None:
        """The value of the first word with this letter."""
        for word in self.words:
            if word.name == letter:
                return word.value
        return None

    def codes(self) -> tuple[Decimal, ...]:
        """The numbers of its G words."""
        return tuple(word.value for word in self.words if word.name == "G")


def read_block(text: bytes) -> PlainBlock | None:
    """The block as plain words, or None where it holds anything else than words, blanks and comments."""
    words: list[PlainWord] = []
    before, at = b"", 0
    checksum, summed = None, b""
    for piece in _PIECE.finditer(text):
        blank, letter, pad, number, star = piece.group("blank", "letter", "pad", "number", "star")
        if piece.start() != at or (checksum is not None and letter):
            return None
        at = piece.end()
        if letter is None:
            before += star or piece[0]
            if star:
                checksum, summed = int(piece["sum"]), text[: piece.start()]
            continue
        value = _value(number)
        if value is None:
            return None
        words.append(PlainWord(letter.decode("ascii").upper(), before + blank, letter, pad, number, value))
        before = b""
    return PlainBlock(tuple(words), before, checksum, summed) if at == len(text) else None


@lru_cache(maxsize=4096)  # a program says the same numbers over and over
def _value(number: bytes) -> Decimal | None:
    digits = number.translate(None, _BLANKS)
    return Decimal(digits.decode("ascii")) if _NUMBER.fullmatch(digits) else None


def exclusive_or(summed: bytes) -> int:
    """The checksum of a block: the exclusive or of all bytes before "*"; common practice, no source."""
    return reduce(xor, summed, 0)

"""Tells whether the bytes are a program at all, before anything is read from them."""

from __future__ import annotations

from roundwright.errors import Place, ProgramError
from roundwright.read.comment import without_comments

BOM = b"\xef\xbb\xbf"
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
_ZIP = b"PK\x03\x04"
#: how much of the head is looked at; a binary file shows itself there.
_HEAD = 65536
_CONTROL = bytes(code for code in (*range(32), 127) if code not in b"\t\n\v\f\r")
_FEW = 16


def check_text(data: bytes, name: str) -> None:
    """Raise `ProgramError` where `data` is UTF-16 or no text. A stray control byte is no ground."""
    head = data[:_HEAD]
    if head[:2] in _UTF16 or _half_empty(head[:256]):
        raise ProgramError(
            "the program is UTF-16 text, two bytes a character",
            place=Place(name),
            cure="The shell re-encoded redirected output: write the file with -o, or save it as plain text.",
        )
    bare = without_comments(head)
    controls = len(bare) - len(bare.translate(None, _CONTROL))
    if head.startswith(_ZIP) or controls > max(_FEW, len(head) // 64):
        raise ProgramError(
            "this is not a G-code program but a binary file",
            place=Place(name),
            cure="Give the program that the machine would run.",
        )


def _half_empty(head: bytes) -> bool:
    """Whether every second byte of the head is NUL and hardly one of the others is."""
    if len(head) < 4:
        return False
    even, odd = head[0::2].count(0), head[1::2].count(0)
    most, least = max(even, odd), min(even, odd)
    return most >= 0.9 * (len(head) // 2) and least <= 0.1 * (len(head) // 2)

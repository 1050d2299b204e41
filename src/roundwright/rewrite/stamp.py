"""The stamp: the one comment line that says a program is corrected, written and found again."""

from __future__ import annotations

import re

import numpy as np

from roundwright.read.program import COMMENT, PROGRAM_NUMBER, TAPE_MARK, UNREAD, Source
from roundwright.rewrite.edit import BOM, Edit

#: how every stamp begins.
MARK = b"roundwright"
#: characters that some controls take for more than text even in a comment.
_UNSAFE = re.compile(r"[^A-Za-z0-9 .,:+_=/\[\]-]")
_STAMP = re.compile(
    rb"(?:^|[\r\n]|\xef\xbb\xbf)[ \t]*(?:\([ \t]*(roundwright[^()\r\n]*)\)|;[ \t]*(roundwright[^\r\n]*))"
)


def clean_stamp(text: str) -> str:
    """The text as a comment may hold it: ASCII, no parentheses, nothing that a control acts on."""
    plain = text.replace("(", "[").replace(")", "]")
    return _UNSAFE.sub("-", " ".join(plain.split()))


def stamp_edit(program: Source, text: str) -> Edit:
    """The edit that inserts the stamp directly before the first line that is no preamble.

    Preamble is what stands first: a byte order mark, blank lines, "%", program numbers.
    """
    comment = clean_stamp(text).encode("ascii")
    comment = b"(" + comment + b")" if _parentheses(program) else b"; " + comment
    for line in range(program.lines):
        if not _is_preamble(program, line):
            at = int(program.line_start[line])
            at += len(BOM) if at == 0 and program.data.startswith(BOM) else 0
            return Edit(at, at, comment + program.newline)
    end = len(program.data)
    closed = not program.data or program.data.endswith((b"\n", b"\r"))
    return Edit(end, end, (b"" if closed else program.newline) + comment + program.newline)


def _is_preamble(program: Source, line: int) -> bool:
    flags = int(program.flags[line])
    if flags & (int(TAPE_MARK) | int(PROGRAM_NUMBER)) and not flags & int(UNREAD):
        return True
    return not program.line_text(line).removeprefix(BOM if line == 0 else b"").strip()


def _parentheses(program: Source) -> bool:
    """Whether the program has a comment in parentheses, or none at all."""
    commented = np.flatnonzero(program.flags & COMMENT).tolist()
    return not commented or any(_opens(program.line_text(line)) for line in commented)


def _opens(text: bytes) -> bool:
    """Whether a line has a parenthesis that no ";" stands before."""
    return b"(" in text.partition(b";")[0]


def find_stamp(program: Source) -> str | None:
    """The text of the stamp that a program carries, None where it has none."""
    if MARK not in program.data:
        return None
    found = _STAMP.search(program.data)
    if found is None:
        return None
    return (found[1] or found[2]).decode("ascii", errors="replace").rstrip()

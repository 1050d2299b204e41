"""The stamp: the one line that a corrected program has more, found and judged by its bytes alone."""

from __future__ import annotations

import re
import string

from roundwright.prove.case import broken
from roundwright.read.program import Source

_INSTEAD = {"(": "[", ")": "]"}
_PLAIN = frozenset(string.ascii_letters + string.digits + " .,:+-_=/[]")
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
#: what stands before the stamp: blank lines, a tape mark, a program number.
_COMES_FIRST = re.compile(rb"[ \t]*(?:%|[Oo:][ \t]*[0-9]+[ \t]*(?:\([^()\r\n]*\)[ \t]*)?)?[\r\n]*")


def stamp_line_of(old: Source, new: Source, stamp: str | None, name: str, *, needed: bool) -> int | None:
    """The line of the new program, from 0, that holds the stamp; None where none is planned.

    `needed` tells that a program that differs must say so. Raises ProofError where it does not, where the
    new program has not exactly that line more, or where it is not a comment that holds the stamp and nothing
    else, before the first block, for a second run to see.
    """
    if needed and stamp is None and old.data != new.data:
        raise broken("the stamp", "nothing says that the program is corrected", name, None)
    more = new.lines - old.lines
    planned = stamp is not None
    if more != planned:
        what = f"the new program has {more:+d} lines, planned was {int(planned):+d}"
        raise broken("the same lines", what, name, None)
    if stamp is None:
        return None
    line = next((k for k in range(new.lines) if not _is_preamble(new.line_text(k))), new.lines - 1)
    found = new.line_text(line)
    bare = without_mark(found) if old.data.startswith(BYTE_ORDER_MARK) else found
    early = line + 1 < new.lines and _COMES_FIRST.fullmatch(without_mark(new.line_text(line + 1)))
    if early or not bare.endswith(old.newline) or not holds_stamp(bare.removesuffix(old.newline), stamp):
        what = f"expected the stamp '{stamp}' as a comment before the first block, found {_shown(found)}"
        raise broken("the stamp", what, name, line)
    if not says_corrected(found):
        what = f"a second run would not see it, and correct the program twice: {_shown(found)}"
        raise broken("the stamp", what, name, line)
    return line


def says_corrected(line: bytes) -> bool:
    """Whether a second run takes this line for the stamp: a comment by itself that begins with the name.

    What it does not see it would correct twice.
    """
    bare = without_mark(line).strip(b" \t\r\n")
    opened, text = bare[:1], bare[1:].lstrip(b" \t")
    closed = text.endswith(b")") and not set(text[:-1]) & set(b"()")
    return text.startswith(b"roundwright") and (opened == b";" or (opened == b"(" and closed))


def holds_stamp(line: bytes, stamp: str) -> bool:
    """Whether the line is a comment with the stamp and nothing else.

    Square brackets stand for round ones, which would open or close a comment, and "-" for whatever else
    a control may act on even there.
    """
    text = "".join(_INSTEAD.get(c, c if c in _PLAIN else "-") for c in " ".join(stamp.split()))
    return line.decode("latin-1") in (f"({text})", f"; {text}")


def without_mark(text: bytes) -> bytes:
    """The text without a byte order mark before it."""
    return text.removeprefix(BYTE_ORDER_MARK)


def _is_preamble(text: bytes) -> bool:
    """Whether the line is blank, a tape mark or a program number."""
    bare = without_mark(text).strip()
    return not bare or bare[:1] in (b"%", b"O", b"o", b":")


def _shown(text: bytes) -> str:
    return repr(text.decode("utf-8", errors="replace"))

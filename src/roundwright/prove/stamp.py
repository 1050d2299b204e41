"""The stamp: the one line that a corrected program has more, found and judged by its bytes alone."""

from __future__ import annotations

from roundwright.prove.case import broken
from roundwright.read.program import Program

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


def stamp_line_of(old: Program, new: Program, stamp: str | None, name: str) -> int | None:
    """The line of the new program, from 0, that holds the stamp; None where none is planned.

    Raises ProofError where the new program has not exactly that line more, or where it is not a
    comment that holds the stamp and nothing else, before the first block.
    """
    more = new.lines - old.lines
    planned = stamp is not None
    if more != planned:
        what = f"the new program has {more:+d} lines, planned was {int(planned):+d}"
        raise broken("the same lines", what, name, None)
    if stamp is None:
        return None
    line = next((k for k in range(new.lines) if not _is_preamble(new.line_text(k))), new.lines - 1)
    found = new.line_text(line)
    if found not in {comment + old.newline for comment in comments_of(stamp)}:
        what = f"expected the stamp '{stamp}' as a comment before the first block, found {_shown(found)}"
        raise broken("the stamp", what, name, line)
    return line


def comments_of(stamp: str) -> set[bytes]:
    """The ways in which a program may write the stamp as a comment of its own."""
    forms = (f"({stamp})", f";{stamp}", f"; {stamp}")
    return {form.encode(code, errors="replace") for form in forms for code in ("utf-8", "latin-1", "ascii")}


def _is_preamble(text: bytes) -> bool:
    """Whether the line is blank, a tape mark or a program number."""
    bare = text.removeprefix(_BYTE_ORDER_MARK).strip()
    return not bare or bare[:1] in (b"%", b"O", b"o", b":")


def _shown(text: bytes) -> str:
    return repr(text.decode("utf-8", errors="replace"))

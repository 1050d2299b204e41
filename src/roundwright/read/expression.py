"""Recognises what only a machine's own interpreter could work out: expressions, variables, control lines.

All functions take the `packed` block: upper case, blanks removed, each comment one SEPARATOR, so that
`at[i]` is the byte offset in the line of packed byte i.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal

SEPARATOR = b"\n"
#: stands for each byte inside brackets, for a function's name and for a named variable.
HIDDEN = ord("[")

_NAMED = re.compile(rb"#<[^>\n]*>?")
#: unary operations of NIST IR 6556 section 3.3.2.4, and the test that later dialects added.
_FUNCTION = re.compile(
    rb"(?<=[A-Z])[+-]?(?:ABS|ACOS|ASIN|ATAN|COS|EXISTS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN)(?=\[)"
)
_LETTERS = re.compile(rb"[A-Z]{2,}")
_EXPONENT = re.compile(rb"[+-]?[0-9]+")


def hide_expressions(packed: bytes) -> bytes:
    """The block with brackets and all in them, functions' and variables' names overwritten by HIDDEN.

    Same length as `packed`. An open bracket reaches to the block's end, comments behind it excepted.
    """
    if b"[" not in packed and b"#" not in packed:
        return packed
    text = bytearray(packed)
    names = [match.span() for pattern in (_NAMED, _FUNCTION) for match in pattern.finditer(packed)]
    for start, stop in names:
        text[start:stop] = b"?" * (stop - start)  # so that a bracket in a name opens nothing
    packed = bytes(text)
    for start, stop in names:
        text[start:stop] = bytes([HIDDEN]) * (stop - start)
    last = len(packed.rstrip(SEPARATOR))
    depth = 0
    for index in range(last):
        opens = packed[index] == ord("[")
        closes = packed[index] == ord("]") and depth > 0
        depth += opens
        if depth:
            text[index] = HIDDEN
        depth -= closes
    return bytes(text)


def steering(flat: bytes, at: Sequence[int]) -> Literal["variable", "control"] | None:
    """Whether the block sets a variable or steers the program's flow; what stands first decides.

    `flat` is the block after `hide_expressions`. An assignment shows by its `=`; a control line by a run
    of two or more letters that touch in the source (`WHILE`, `DEF`, a named word) or by an O word.
    """
    equals = flat.find(b"=")
    word = _first_run(flat, at)
    if equals < 0 and word < 0:
        return None
    return "variable" if word < 0 or 0 <= equals < word else "control"


def _first_run(flat: bytes, at: Sequence[int]) -> int:
    """Index of the first O or of the first two letters that touch in the source; -1 without any."""
    found = flat.find(b"O")
    for match in _LETTERS.finditer(flat):
        for index in range(match.start(), match.end() - 1):
            if at[index + 1] == at[index] + 1:
                return index if found < 0 else min(index, found)
    return found


def is_exponent(packed: bytes, at: Sequence[int], letter: int, text: bytes) -> bool:
    """Whether the E at index `letter`, followed by `text`, continues the number before it (`4.5e-17`).

    It does where it touches a digit or point and a whole number follows: `13.8E22.4` is two words.
    """
    if letter == 0 or packed[letter] != ord("E") or at[letter] != at[letter - 1] + 1:
        return False
    return packed[letter - 1 : letter] in b"0123456789." and _EXPONENT.fullmatch(text) is not None

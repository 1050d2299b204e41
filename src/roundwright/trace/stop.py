"""Stops: whether a comment beside an M0 or M1 speaks of a tool, as where it is changed by hand."""

from __future__ import annotations

import re
from collections.abc import Iterator

from roundwright.read.comment import without_comments
from roundwright.read.program import COMMENT, Program
from roundwright.trace.block import Blocks

#: words for a tool in the languages of common programs, a size in mm, a fraction, a tool number, in any case;
#: compiled by the first stop.
_TOOL = (
    rb"tool|cutter|\bbits?\b|mill|drill|router|burr|collet|\bv-?bit|engrav"
    rb"|werkz|fr[a\xe4\xc3][e\xa4]?s|bohrer|outil|fraise|foret|herram|fresa|broca|utens|\bpunta|gereed|frees|frez"
    rb"|verkt|\d\s*mm\b|\d/\d|\bT\s*\d"
)
#: lines before and behind a stop that are looked at, where they hold no words.
_BESIDE = 4


def told_stops(blocks: Blocks) -> frozenset[int]:
    """Lines of the stops (M0, M1) with a comment about a tool in their line or right beside it."""
    line, code = blocks.codes("M")
    stops = line[(code == 0) | (code == 10)].tolist()
    return frozenset(
        stop
        for stop in stops
        if any(re.search(_TOOL, text, re.IGNORECASE) for text in _remarks(blocks, stop))
    )


def _remarks(blocks: Blocks, stop: int) -> Iterator[bytes]:
    """The comments in the stop's line, and in the lines of nothing else above and below."""
    program = blocks.program
    yield _remark(program, stop)
    for step in (-1, 1):
        for at in range(stop + step, stop + step * (_BESIDE + 1), step):
            if not 0 <= at < program.lines or without_comments(program.line_text(at)).strip():
                break
            yield _remark(program, at)


def _remark(program: Program, line: int) -> bytes:
    text = program.line_text(line)
    return text if program.flags[line] & COMMENT else b""

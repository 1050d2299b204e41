"""Real programs against the line parser of the general-purpose library pygcode (0.2.1)."""

from __future__ import annotations

import random
import re

import pytest
from pygcode import Line

from corpus import FOLDER
from roundwright.read import read_program, words_of
from roundwright.read.program import PROGRAM_NUMBER, TAPE_MARK, UNREAD, Program

pytestmark = pytest.mark.published

FILES = sorted(FOLDER.glob("[0-9]*")) if FOLDER.is_dir() else []
LINES = 150
#: pygcode cannot read a number with blanks inside, which NIST IR 6556 3.3 allows: it drops what follows.
SPLIT = re.compile(rb"[0-9.][ \t]+[0-9.]")

SAMPLE = (
    b"N10 G0 X.5\nG1 X1.5 Y-2. F100\nG2 X1 Y1 I1 J0\n\nT1 M6\ng91.1\nM98 P100\nG43 H1\nG01X0Y-.25 (cut)\n"
)


def words_by_pygcode(text: bytes) -> list[tuple[str, float]] | None:
    """The words as pygcode reads them; None where it cannot."""
    try:
        return [(str(w.letter).upper(), float(w.value)) for w in Line(text.decode("latin-1")).block.words]
    except Exception:  # it fails in many ways, of its own and of Python's
        return None


def compare(program: Program, lines: list[int]) -> int:
    """How many of these lines both read; fails where they read different words."""
    compared = 0
    for line in lines:
        text = program.line_text(line).strip()
        if program.flags[line] & (UNREAD | TAPE_MARK | PROGRAM_NUMBER) or SPLIT.search(text):
            continue
        theirs = words_by_pygcode(text)
        if theirs is None:
            continue
        ours = [(chr(word.letter), word.value / 1e8) for word in words_of(program, line)]
        assert [letter for letter, _ in ours] == [letter for letter, _ in theirs], text
        for (_, value), (_, other) in zip(ours, theirs, strict=True):
            assert value == pytest.approx(other, abs=0.51e-8), text
        compared += 1
    return compared


def test_a_plain_program():
    program = read_program(SAMPLE)
    assert compare(program, list(range(program.lines))) == program.lines


@pytest.mark.skipif(not FILES, reason="no corpus of real programs here")
def test_real_programs():
    chance = random.Random(6556)
    compared = seen = 0
    for path in FILES:
        program = read_program(path.read_bytes(), path.name)
        lines = range(program.end_line)
        chosen = sorted(chance.sample(lines, min(LINES, len(lines))))
        compared += compare(program, chosen)
        seen += len(chosen)
    assert compared > 0.8 * seen

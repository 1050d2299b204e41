"""What is fuzzed: each target takes any bytes and fails where a promise to every input is broken."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random

from roundwright import pipeline
from roundwright.calibration import Table, open_table, problems
from roundwright.errors import Place, ProgramError, ProofError, RoundwrightError, TableError
from roundwright.read import read_program, words_of
from roundwright.read.columns import WORD_TYPES
from roundwright.read.plain import read_plainly
from roundwright.report.table import table_as_csv, table_as_json, table_as_text
from roundwright.settings import Settings

Target = Callable[[bytes], str]
TESTS = Path(__file__).parents[1]
#: what a table's readings and a program's tools are in the whole run.
TABLE = TESTS / "whole" / "table.toml"


def read(data: bytes) -> str:
    """Any bytes are refused plainly or read, losslessly, by both engines alike."""
    try:
        program = read_program(data, "fuzz.nc")
    except ProgramError as error:
        return _plain(error)
    plainly = read_plainly(data, "fuzz.nc")
    for column in (*WORD_TYPES, "line_start", "flags"):
        ours, theirs = getattr(program, column).tolist(), getattr(plainly, column).tolist()
        assert ours == theirs, f"the engines differ in {column}"
    assert (list(program.unread), program.newline, program.end_line) == (
        list(plainly.unread),
        plainly.newline,
        plainly.end_line,
    )
    assert b"".join(program.line_text(k) for k in range(program.lines)) == data
    words = (word for line in range(min(program.lines, 2000)) for word in words_of(program, line))
    assert all(word.start < word.number <= word.stop for word in words)
    return "unread blocks" if program.unread else "read"


@cache
def _table() -> Table:
    return open_table(TABLE.read_text(encoding="utf-8"), TABLE.name)


def correct(data: bytes) -> str:
    """Any bytes are refused plainly or corrected, and then nothing has changed that was not planned."""
    settings = Settings()
    try:
        outcome = pipeline.correct(data, "fuzz.nc", _table(), settings)
    except ProofError as error:
        raise AssertionError(f"written, and refused by the proof: {error}") from error
    except RoundwrightError as error:
        return _plain(error)
    output, plan = outcome.output, outcome.plan
    assert output is not None
    done = [c for c in plan.corrections if c.status == "corrected"]
    assert bool(done) == (output != data)
    for correction in plan.corrections:
        assert correction.status != "left-alone" or (correction.reason and correction.why)
    if plan.stamp is not None:
        assert read_program(output).lines == outcome.program.lines + 1
        try:
            pipeline.correct(output, "fuzz.nc", _table(), settings)
        except ProgramError as error:
            assert "corrected already" in str(error)
        else:
            raise AssertionError("a corrected program was corrected again")
    return f"corrected {len(done)}" if done else "left alone"


def table(data: bytes) -> str:
    """Any text is refused with a line, or opens, and then it can be shown."""
    text = data.decode("utf-8", errors="replace")
    found = problems(text, "fuzz.toml")
    lines = text.count("\n") + 1
    assert all(1 <= one.line <= lines and one.what for one in found)
    wrong = [one for one in found if one.level == "wrong"]
    try:
        opened = open_table(text, "fuzz.toml")
    except TableError as error:
        assert wrong, "refused without a problem"
        return _plain(error)
    assert not wrong, "opened in spite of a problem"
    assert all(show(opened) for show in (table_as_text, table_as_json, table_as_csv))
    return "opened"


TARGETS: dict[str, Target] = {"read": read, "correct": correct, "table": table}


def _plain(error: RoundwrightError) -> str:
    """What is said of a refusal: a place, what is wrong, and no more than a person reads."""
    assert isinstance(error.place, Place) and error.what and len(str(error)) < 1000, repr(error)
    return "refused"


# ---- seeds and mutation --------------------------------------------------------------------------------

_NUMBER = re.compile(rb"[+-]?[0-9]*\.?[0-9]+")
#: what stands in programs and tables, odd things among them.
PIECES: dict[str, tuple[bytes, ...]] = {
    "program": tuple(
        b"G0 |G1 |G2 |G3 |G17|G18|G19|G20|G21|G28 X0|G40|G41 D1|G43 H1|G52 X1|G53 |G54|G68|G80|G81 |G90|"
        b"G90.1|G91|G91.1|G92 X0|G93|G94|M0|M1|M2|M30|M3 S9000|M6|M98 P1|M99|T1|T2|N10|O100|%|/|(|)|;|*71|"
        b"[|]|#1=5|"
        b"#1|X|Y|Z|I|J|K|R|F|P2|-|+|.|0|1e5|X1 X2|\r\n|\r|\n|\t| |\xef\xbb\xbf|\xe4|\0|IF|GOTO 1|=".split(
            b"|"
        )
    ),
    "table": tuple(
        b"nan|inf|-|[|]|[[|]]|{|}|'|\"|'''|\"\"\"|\n|\r\n|=|.|,|#|1e999|true|0x1f|2026-10-03|12:00:00|[[tool]]\n|"
        b"[[condition]]\n|[machine]\n|[limits]\n|programmed = 1.0|diameter = |x = |\\u0000|\\|25.4|0.0394|"
        b"\xc3|\0".split(b"|")
    ),
}


@cache
def seeds(target: str) -> tuple[bytes, ...]:
    """Programs or tables of our own to begin with, small ones first."""
    if target == "table":
        files = [TABLE, *(TESTS.parent / "samples").glob("*.toml")]
    else:
        files = [*(TESTS / "whole" / "cases").glob("*/program.*")]
    found = sorted({path.read_bytes() for path in files}, key=lambda data: (len(data), data))
    return tuple(found)


def mutated(target: str, data: bytes, chance: Random) -> bytes:
    """The data with one to four changes: pieces put in, lines moved, numbers replaced, bytes flipped."""
    pieces = PIECES["table" if target == "table" else "program"]
    for _ in range(chance.randint(1, 4)):
        data = chance.choice(_CHANGES)(data, chance, pieces)
    return data


def _put_in(data: bytes, chance: Random, pieces: tuple[bytes, ...]) -> bytes:
    at = chance.randint(0, len(data))
    return data[:at] + chance.choice(pieces) + data[at + chance.choice((0, 0, 1, 3)) :]


def _other_number(data: bytes, chance: Random, pieces: tuple[bytes, ...]) -> bytes:
    found = list(_NUMBER.finditer(data))
    if not found:
        return data
    match = chance.choice(found)
    old = match[0]
    new = chance.choice(
        (
            b"-" + old,
            old + b"0",
            old + b"1",
            b"0",
            b"1",
            old[:-1],
            b"9" * 20,
            b"%.3f" % chance.uniform(-99, 99),
        )
    )
    other = chance.choice(found)[0]
    return data[: match.start()] + chance.choice((new, other)) + data[match.end() :]


def _lines_moved(data: bytes, chance: Random, pieces: tuple[bytes, ...]) -> bytes:
    lines = data.splitlines(keepends=True)
    if not lines:
        return data
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    match chance.randrange(4):
        case 0:
            lines[a], lines[b] = lines[b], lines[a]
        case 1:
            del lines[a]
        case 2:
            lines.insert(b, lines[a])
        case _:
            lines = lines[:a] + lines[a : a + 5] * 2 + lines[a + 5 :]
    return b"".join(lines)


def _byte_flipped(data: bytes, chance: Random, pieces: tuple[bytes, ...]) -> bytes:
    if not data:
        return data
    at = chance.randrange(len(data))
    return data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]


_CHANGES = (_put_in, _put_in, _other_number, _other_number, _lines_moved, _byte_flipped)

"""Break corrected programs of every kind in every way: all of these mutants must be refused.

Each way is tried on every changed line of each program that it can be tried on, some on others as well.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache

import pytest

from captured import Captured, captured
from cases import CASES, Case
from roundwright.errors import ProofError

#: what stands in each: R form, helices, increments, compensation, frames, subprograms, G93, checksums, tabs.
NAMES = (
    "halves",
    "odd-angle-r-halves",
    "r-quarters-inch",
    "helix-flat-turn",
    "helix-of-halves-conventional",
    "helix-turns-word",
    "incremental-hole",
    "incremental-throughout",
    "incremental-switched",
    "absolute-centres",
    "compensated-hole",
    "frames-shifted",
    "two-frames",
    "subprogram-between",
    "inverse-time-feed",
    "checksums",
    "rotated",
    "spindle-along-x",
    "tabs",
    "units-change",
    "clearing-rings",
    "chords-lead-arc",
    "lead-line-and-arc",
    "trimmed-zeros-inch",
)
WORD = re.compile(rb"([A-Za-z])([ \t]*)([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
COMMENT = re.compile(rb"\([^)\r\n]*\)|;[^\r\n]*")
Lines = list[bytes]


@cache
def run_of(name: str) -> Captured:
    case = Case(CASES / name)
    return captured(case.data, "program.nc", case.table, case.settings())


def words(line: bytes, letters: bytes) -> Iterator[re.Match[bytes]]:
    """The words with these letters, comments aside."""
    hidden = COMMENT.sub(lambda match: b" " * len(match[0]), line)
    return (match for match in WORD.finditer(hidden) if match[1].upper() in letters)


def numbers(letters: bytes, change: Callable[[float], float]) -> Callable[[bytes], Iterator[bytes]]:
    """The number of each word with these letters changed."""

    def mutants(line: bytes) -> Iterator[bytes]:
        for match in words(line, letters):
            new = change(float(match[3]))
            if abs(new - float(match[3])) > 1e-9:
                yield line[: match.start(3)] + b"%.6f" % new + line[match.end(3) :]

    return mutants


def letters(old: bytes, new: bytes) -> Callable[[bytes], Iterator[bytes]]:
    """Each word's letter made another."""

    def mutants(line: bytes) -> Iterator[bytes]:
        for match in words(line, old):
            yield line[: match.start(1)] + new + line[match.end(1) :]

    return mutants


def digit_more(line: bytes) -> Iterator[bytes]:
    """One more digit before the point."""
    for match in words(line, b"XYZIJKR"):
        at = match.start(3) + match[3].startswith((b"-", b"+"))
        yield line[:at] + b"1" + line[at:]


def point_moved(line: bytes) -> Iterator[bytes]:
    """The point one place to the right: a decimal slip."""
    yield from numbers(b"XYZIJKRF", lambda value: value * 10)(line)


def word_lost(line: bytes) -> Iterator[bytes]:
    """A word left out."""
    for match in words(line, b"GXYZIJKRFSTMP"):
        yield line[: match.start()] + line[match.end() :]


def word_doubled(line: bytes) -> Iterator[bytes]:
    """A word written twice."""
    for match in words(line, b"XYZIJKRF"):
        yield line[: match.end()] + match[0] + line[match.end() :]


def without_end(line: bytes) -> tuple[bytes, bytes]:
    bare = line.rstrip(b"\r\n")
    return bare, line[len(bare) :]


def other_end(line: bytes) -> Iterator[bytes]:
    """Another line end."""
    bare, end = without_end(line)
    yield bare + (b"\n" if end == b"\r\n" else b"\r\n")


def added(text: bytes) -> Callable[[bytes], Iterator[bytes]]:
    """Something more at the line's end."""

    def mutants(line: bytes) -> Iterator[bytes]:
        bare, end = without_end(line)
        yield bare + text + end

    return mutants


def comment_changed(line: bytes) -> Iterator[bytes]:
    """A letter of a comment."""
    for match in COMMENT.finditer(line):
        yield line[: match.start() + 1] + b"?" + line[match.start() + 1 :]


def case_changed(line: bytes) -> Iterator[bytes]:
    """Upper case for lower, or the other way."""
    yield line.swapcase()


def lost(line: bytes) -> Iterator[bytes]:
    """No line."""
    yield b""


def doubled(line: bytes) -> Iterator[bytes]:
    """The line twice."""
    yield line + line


#: on every changed line.
CHANGED: dict[str, Callable[[bytes], Iterator[bytes]]] = {
    **{
        f"{' or '.join(some)}, {way}": numbers(some.encode(), change)
        for some in ("X", "Y", "Z", "I", "JK", "R")
        for way, change in {
            "more": lambda value: value + 0.011,
            "less": lambda value: value - 0.011,
            "sign": lambda value: -value,
            "unit slip": lambda value: value * 25.4,
            "unit slip back": lambda value: value / 25.4,
        }.items()
    },
    "radius or place, one more digit": digit_more,
    "decimal slip": point_moved,
    "I for J": letters(b"I", b"J"),
    "J for I": letters(b"J", b"I"),
    "X for Y": letters(b"X", b"Y"),
    "Y for X": letters(b"Y", b"X"),
    "R for I": letters(b"I", b"R"),
    "a word lost": word_lost,
    "a word doubled": word_doubled,
    "lower case, upper case": case_changed,
}
#: on every changed line, and on every third of the others, which ones differs from way to way.
ANY: dict[str, Callable[[bytes], Iterator[bytes]]] = {
    "a line lost": lost,
    "a line doubled": doubled,
    "another line end": other_end,
    "a comment changed": comment_changed,
    "a comment added": added(b"(x)"),
    "a blank more": added(b" "),
    "a depth added": added(b" Z-9."),
    "F": numbers(b"F", lambda value: value * 1.5 + 1),
    "S": numbers(b"S", lambda value: value + 100),
    "T": numbers(b"T", lambda value: value + 1),
    "M": numbers(b"M", lambda value: value + 1),
    "G": numbers(b"G", lambda value: value + 1),
    "P": numbers(b"P", lambda value: value + 1),
    "N": numbers(b"N", lambda value: value + 1),
    "Z of any line": numbers(b"Z", lambda value: value - 0.02),
    "X of any line": numbers(b"X", lambda value: value + 0.02),
    "Y of any line": numbers(b"Y", lambda value: value - 0.02),
}


def as_before(run: Captured) -> Iterator[bytes]:
    """A changed line as it was: a lead not moved, a ring not moved, a rejoin missed."""
    for at, before, _ in run.changed():
        yield run.with_line(at, before)


def swapped(run: Captured) -> Iterator[bytes]:
    """Two lines in the other order."""
    all_lines = run.new.splitlines(keepends=True)
    for k in range(len(all_lines) - 1):
        yield b"".join([*all_lines[:k], all_lines[k + 1], all_lines[k], *all_lines[k + 2 :]])


def stamp_lost(run: Captured) -> Iterator[bytes]:
    """No stamp, or one too many."""
    all_lines = run.new.splitlines(keepends=True)
    at = next(k for k, line in enumerate(all_lines) if b"roundwright" in line)
    yield b"".join(all_lines[:at] + all_lines[at + 1 :])
    yield b"".join(all_lines[: at + 1] + all_lines[at:])


def cut_short(run: Captured) -> Iterator[bytes]:
    """The end is missing."""
    for share in (0, 1, 2, 3):
        yield run.new[: len(run.new) * share // 4]


WHOLE: dict[str, Callable[[Captured], Iterator[bytes]]] = {
    "a changed line as before": as_before,
    "two lines swapped": swapped,
    "the stamp lost or doubled": stamp_lost,
    "cut short": cut_short,
}


def mutants(way: str, run: Captured) -> Iterator[bytes]:
    """The spoiled programs of one way."""
    if way in WHOLE:
        yield from WHOLE[way](run)
        return
    places = {at for at, _, _ in run.changed()}
    all_lines = run.new.splitlines(keepends=True)
    if way in ANY:
        places.update(range([*ANY].index(way) % 3, len(all_lines), 3))
    for at in sorted(places):
        for line in (CHANGED.get(way) or ANY[way])(all_lines[at]):
            yield run.with_line(at, line)


@pytest.mark.parametrize("way", [*CHANGED, *ANY, *WHOLE])
def test_no_program_of_any_kind_passes(way: str) -> None:
    through, tried = [], 0
    for name in NAMES:
        run = run_of(name)
        for mutant in mutants(way, run):
            if mutant == run.new:
                continue
            tried += 1
            try:
                run.prove(mutant)
            except ProofError:
                continue
            through.append((name, mutant))
    assert through == [] and tried >= 1

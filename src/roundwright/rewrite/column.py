"""The changed numbers of all steady blocks together, as columns.

What is not easy in a block, a word that is missing, repeated or not read plainly, is left with the whole
block to the plain engine in `block.py`; where both may write, they agree.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.excerpt import Excerpt, excerpt
from roundwright.read.program import NO_VALUE, UNREAD
from roundwright.rewrite.block import ROUNDING
from roundwright.rewrite.circle import PlannedArc
from roundwright.rewrite.edit import Edit
from roundwright.rewrite.number import Habit
from roundwright.rewrite.position import Solution
from roundwright.rewrite.round import Fineness, natives_of, scale
from roundwright.rewrite.run import Runs, of_states
from roundwright.rewrite.spelling import LONGEST, Numbers, decimals_of_all, spell_all
from roundwright.rewrite.word import is_special
from roundwright.trace.moves import CENTRE_LETTERS, Moves
from roundwright.units import GRAIN

Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
#: how far a centre may be off the one that was read, mm.
_OFF = ROUNDING * GRAIN + 1e-6


class Columns(Struct, frozen=True, eq=False):
    """The blocks (s,) that are `easy`, and their edits by block."""

    easy: Flags
    edits: dict[int, list[Edit]]


class _Wish(NamedTuple):
    """What the word of this letter is to say in some blocks (k,), with `most` decimals at most."""

    letter: str
    block: Integers
    native: Integers
    most: int


class _Page(Struct, frozen=True, eq=False):
    """The steady blocks, and their words as they stand; `hard` (s,) gathers the others."""

    moves: Moves
    solution: Solution
    fineness: Fineness
    runs: Runs
    words: Excerpt
    inch: Flags
    hard: Flags

    def says(self, letter: str) -> tuple[Integers, Flags]:
        """What the word of this letter says in each block (s,), 0 where none is, and where one is."""
        word, _ = self.words.named(letter)
        there = word >= 0
        value = np.zeros(len(word), np.int64)
        value[there] = self.words.value[word[there]]
        return value, there


def write_columns(moves: Moves, solution: Solution, fineness: Fineness, habit: Habit, runs: Runs) -> Columns:
    """The edits of the easy blocks in steady runs."""
    words = excerpt(moves.program, moves.line[runs.row].astype(np.int64))
    hard = ~runs.of_steady | (moves.program.flags[words.line] & UNREAD != 0) | _special(words)
    inch = of_states(moves, runs.row, lambda state: state.inch) != 0
    page = _Page(moves, solution, fineness, runs, words, inch, hard)
    wishes = [*_ends(page), *_circles(page)]
    drafts = [_written(page, wish, habit) for wish in wishes]
    edits: dict[int, list[Edit]] = {}
    for blocks, written in drafts:
        for block, edit in zip(blocks.tolist(), written, strict=True):
            edits.setdefault(block, []).append(edit)
    return Columns(~hard, edits)


def _special(words: Excerpt) -> Flags:
    """Which blocks (s,) have a G word that does more or else than plain motion and modes."""
    at = np.flatnonzero(words.letter == ord("G"))
    special = np.array([is_special(value) for value in words.value[at].tolist()], np.bool_)
    found = np.zeros(len(words.line), np.bool_)
    found[words.of_line()[at[special]]] = True
    return found


def _ends(page: _Page) -> Iterator[_Wish]:
    """Absolute words of the axes: replaced where their value changes."""
    runs = page.runs
    known = page.moves.end_known[runs.row]
    for axis, letter in enumerate("XYZ"):
        value, there = page.says(letter)
        was, now = runs.was_end[:, axis], runs.end[:, axis]
        changes = (now != was) | (runs.start[:, axis] != runs.was_start[:, axis])
        changes &= there | (runs.start[:, axis] != now)
        untold = (known >> axis & 1) == 0
        untold |= there & (np.abs(value - natives_of(was, page.inch)) > ROUNDING)
        page.hard[changes & (untold | ~there)] = True
        block = np.flatnonzero(changes & there & (now != was))
        yield _Wish(letter, block, natives_of(now, page.inch)[block], page.fineness.most)


def _circles(page: _Page) -> Iterator[_Wish]:
    """The words I J K, from the written start or absolute, and R."""
    arcs = [arc for arc in page.solution.planned.values() if not arc.r_form]
    for normal, letters in enumerate(CENTRE_LETTERS):
        yield from _centres(page, [arc for arc in arcs if 3 - sum(arc.axes) == normal], letters)
    rounds = [arc for arc in page.solution.planned.values() if arc.r_form]
    radius = [page.solution.arcs[arc.row].radius * (-1 if arc.major else 1) for arc in rounds]
    yield _Wish("R", _blocks(page, rounds), np.array(radius, np.int64), page.fineness.most)


def _blocks(page: _Page, arcs: list[PlannedArc]) -> Integers:
    return np.searchsorted(page.runs.row, np.array([arc.row for arc in arcs], np.int64))


def _centres(page: _Page, arcs: list[PlannedArc], letters: str) -> Iterator[_Wish]:
    """The wishes for the arcs of one plane."""
    if not arcs:
        return
    block, axes = _blocks(page, arcs), arcs[0].axes
    inch = page.inch[block]
    size = np.where(inch, scale(True), scale(False))
    row = page.runs.row[block]
    said = of_states(page.moves, row, lambda s: -1 if s.arc_absolute is None else s.arc_absolute)
    off_absolute, off_step = np.zeros(len(arcs)), np.zeros(len(arcs))
    for k, letter in enumerate(letters):
        value = page.says(letter)[0][block] * size
        centre = np.array([arc.old_centre[k] for arc in arcs])
        start = np.array([arc.old_start[k] for arc in arcs], np.int64)
        off_absolute = np.maximum(off_absolute, np.abs(value - centre))
        off_step = np.maximum(off_step, np.abs(value - (centre - start * GRAIN)))
    absolute = np.where(said < 0, off_absolute < off_step, said == 1)
    page.hard[block[np.where(absolute, off_absolute, off_step) > _OFF]] = True
    for k, (axis, letter) in enumerate(zip(axes, letters, strict=True)):
        native = np.array([page.solution.arcs[arc.row].centre[k] for arc in arcs], np.int64)
        native -= np.where(absolute, 0, natives_of(page.runs.start[block, axis], inch))
        wanted = (native != 0) | page.says(letter)[1][block]
        yield _Wish(letter, block[wanted], native[wanted], page.fineness.exact)


def _written(page: _Page, wish: _Wish, habit: Habit) -> tuple[Integers, list[Edit]]:
    """The edits that fulfil a wish, with the blocks they stand in; notes the blocks where that is hard."""
    words = page.words
    named, more = words.named(wish.letter)
    word = named[wish.block]
    page.hard[wish.block[word < 0]] = True
    changes = (word >= 0) & (words.value[word] != wish.native)
    block, native, word = wish.block[changes], wish.native[changes], word[changes]
    start, stop = words.number[word], words.stop[word]
    kept = np.maximum(words.decimals[word], 0)
    least = np.where(page.inch[block], page.fineness.inch, page.fineness.mm)
    needed = decimals_of_all(native)
    decimals = np.maximum(needed, np.minimum(np.maximum(least, kept), wish.most))
    hard = more[block] | (words.decimals[word] == NO_VALUE) | (decimals > wish.most)
    hard |= stop - start > LONGEST
    page.hard[block[hard]] = True
    own = np.flatnonzero(~page.hard[block])
    numbers = Numbers(native[own], decimals[own], needed[own], kept[own].astype(np.int64))
    texts, plainly = spell_all(page.moves.program.data, start[own], stop[own], numbers, habit)
    page.hard[block[own[~plainly]]] = True
    edits = map(Edit, start[own].tolist(), stop[own].tolist(), texts)
    return block[own], list(edits)

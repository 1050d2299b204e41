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
from roundwright.rewrite.edit import Edits
from roundwright.rewrite.number import Habit
from roundwright.rewrite.position import Solution
from roundwright.rewrite.round import Fineness, natives_of, scale
from roundwright.rewrite.run import Blocks, Runs
from roundwright.rewrite.spelling import LONGEST, Numbers, decimals_of_all, spell_all
from roundwright.rewrite.states import of_states
from roundwright.rewrite.word import is_special
from roundwright.trace.moves import CENTRE_LETTERS, PLANE_AXES, Moves
from roundwright.units import GRAIN

Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
#: how far a centre may be off the one that was read, mm.
_OFF = ROUNDING * GRAIN + 1e-6
#: blocks that are written together.
_TOGETHER = 1 << 12


class Columns(Struct, frozen=True, eq=False):
    """The blocks (s,) that are `easy`, and edits (k,) with the `block` that each stands in."""

    easy: Flags
    block: Integers
    edits: Edits

    def of(self, blocks: Flags) -> Edits:
        """The edits of some of the blocks (s,)."""
        return self.edits if blocks[self.block].all() else self.edits.only(np.flatnonzero(blocks[self.block]))


class _Wish(NamedTuple):
    """What the word of this letter is to say in some blocks (k,), with `most` decimals at most."""

    letter: str
    block: Integers
    native: Integers
    most: int


class _Page(Struct, frozen=True, eq=False):
    """Some blocks (s,), and their words as they stand; `hard` (s,) gathers those that are not written here.

    `kind` (s,) is the arc that a block is to be, -1 where none.
    """

    moves: Moves
    solution: Solution
    kind: Integers
    fineness: Fineness
    runs: Blocks
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
    """The edits of the easy blocks in steady runs, worked out in portions: their words take far more room."""
    kind, steady = solution.planned.numbers(runs.row), runs.of_steady
    easy = np.zeros(len(runs.row), np.bool_)
    columns: list[Integers] = []
    drafts: list[Edits] = []
    for first in range(0, len(easy), _TOGETHER):
        part = slice(first, first + _TOGETHER)
        blocks = runs.blocks(part)
        words = excerpt(moves.program, moves.line[blocks.row].astype(np.int64))
        hard = ~steady[part] | (moves.program.flags[words.line] & UNREAD != 0) | _special(words)
        inch = of_states(moves, blocks.row, lambda state: state.inch) != 0
        page = _Page(moves, solution, kind[part], fineness, blocks, words, inch, hard)
        for block, edits in [_written(page, wish, habit) for wish in (*_ends(page), *_circles(page))]:
            columns.append(block + first)
            drafts.append(edits)
        easy[part] = ~page.hard
    return Columns(easy, np.concatenate(columns), Edits.joined(drafts))


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
    planned = page.solution.planned
    r_form, normal = (np.append(column, -1)[page.kind] for column in (planned.r_form, planned.normal))
    for plane, letters in enumerate(CENTRE_LETTERS):
        yield from _centres(page, np.flatnonzero((r_form == 0) & (normal == plane)), letters)
    rounds = np.flatnonzero(r_form == 1)
    kind = page.kind[rounds]
    radius = page.solution.arcs.radius[kind] * np.where(planned.major[kind], -1, 1)
    yield _Wish("R", rounds, radius, page.fineness.most)


def _centres(page: _Page, block: Integers, letters: str) -> Iterator[_Wish]:
    """The wishes for the arcs of one plane, in these blocks."""
    if not len(block):
        return
    kind, inch = page.kind[block], page.inch[block]
    size = np.where(inch, scale(True), scale(False))
    row = page.runs.row[block]
    said = of_states(page.moves, row, lambda s: -1 if s.arc_absolute is None else s.arc_absolute)
    off_absolute, off_step = np.zeros(len(block)), np.zeros(len(block))
    for k, letter in enumerate(letters):
        value = page.says(letter)[0][block] * size
        centre, start = page.solution.planned.centre[kind, k], page.solution.planned.start[kind, k]
        off_absolute = np.maximum(off_absolute, np.abs(value - centre))
        off_step = np.maximum(off_step, np.abs(value - (centre - start * GRAIN)))
    absolute = np.where(said < 0, off_absolute < off_step, said == 1)
    page.hard[block[np.where(absolute, off_absolute, off_step) > _OFF]] = True
    axes = PLANE_AXES[page.solution.planned.normal[kind[0]]]
    for k, (axis, letter) in enumerate(zip(axes, letters, strict=True)):
        native = page.solution.arcs.centre[kind, k]
        native = native - np.where(absolute, 0, natives_of(page.runs.start[block, axis], inch))
        wanted = (native != 0) | page.says(letter)[1][block]
        yield _Wish(letter, block[wanted], native[wanted], page.fineness.exact)


def _written(page: _Page, wish: _Wish, habit: Habit) -> tuple[Integers, Edits]:
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
    begin = np.cumsum([0, *map(len, texts)])
    return block[own], Edits(start[own], stop[own], begin, b"".join(texts))

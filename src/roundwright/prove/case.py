"""What every promise is checked on: both programs as traced, the plan, and the tolerances."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.errors import Place, ProofError
from roundwright.find.feature import Feature
from roundwright.plan.plan import Plan
from roundwright.prove.rings import Circles
from roundwright.read.excerpt import Excerpt, excerpt
from roundwright.trace.moves import Moves, displaced_rows
from roundwright.units import INCH, MICROMETRE

Again = Callable[[Moves], Sequence[Feature]]

#: what a corrected circle may be off, by the units of its block (contract, invariant 2).
TOLERANCE_MM = 1.0 * MICROMETRE
TOLERANCE_INCH = 2.6 * MICROMETRE
#: changed numbers have at least so many decimals, however few the program writes.
LEAST_MM, LEAST_INCH = 3, 4
#: changed lines that are looked at together.
TOGETHER = 1 << 12
#: noise of floating point on lengths (mm).
NOISE = 1e-7
#: moves looked at together: what is made of them takes little room, and stays in the processor's cache.
PART = 1 << 16
#: what counts as unchanged in derived lengths and angles (mm, radians).
UNCHANGED = 1e-6


class Case(Struct, frozen=True, eq=False):
    """One proof: the old and new program as traced, the plan, and a finder for the new one.

    `stamp_line` is the line of the new program that holds the stamp, from 0, None without one, `changed` the
    lines (l,) of the old program that the new one has otherwise, ascending, `displaced` the moves (sorted)
    that start or end elsewhere: what holds of a move by itself is looked at there alone. `circles` are the
    rings of what is corrected, as they were found.
    """

    name: str
    old: Moves
    new: Moves
    plan: Plan
    again: Again
    stamp_line: int | None
    changed: NDArray[np.int64]
    displaced: NDArray[np.int64]
    circles: Circles

    def new_line(self, old_line: int) -> int:
        """The line of the new program, from 0, that a line of the old one has become."""
        moved = self.stamp_line is not None and old_line >= self.stamp_line
        return old_line + moved

    def new_lines(self, old_lines: NDArray[np.int64]) -> NDArray[np.int64]:
        """The lines of the new program that these lines (l,) of the old one have become."""
        return old_lines if self.stamp_line is None else old_lines + (old_lines >= self.stamp_line)

    def portions(self) -> Iterator[slice]:
        """The changed lines in portions: words and numbers of lines take far more room than the lines."""
        return (slice(first, first + TOGETHER) for first in range(0, len(self.changed), TOGETHER))

    def words_before(self, part: slice) -> Excerpt:
        """The words of some of the changed lines as they were."""
        return excerpt(self.old.program, self.changed[part])

    def broken(self, promise: str, what: str, line: int) -> ProofError:
        """The error for a promise broken on a line of the old program, from 0."""
        return broken(promise, what, self.name, self.new_line(line))

    def broken_at(self, promise: str, what: str, row: int) -> ProofError:
        """The error for a promise broken by a move."""
        return self.broken(promise, what, int(self.old.line[row]))


def broken(promise: str, what: str, name: str, line: int | None) -> ProofError:
    """The error that names a broken promise; `line` of the new program, from 0."""
    return ProofError(
        f"the corrected program breaks the promise '{promise}': {what}",
        place=Place(name, None if line is None else line + 1),
        cure="Nothing of it is handed out. Cut nothing from it; please report this with program and table",
    )


def displaced_moves(old: Moves, new: Moves) -> NDArray[np.int64]:
    """The moves that start or end elsewhere, where there are as many."""
    if len(old) != len(new):
        return np.zeros(0, np.int64)  # another promise is broken, and says so
    return displaced_rows(old, new)


def by_unit(moves: Moves, mm: float, inch: float) -> NDArray[np.float64]:
    """One of two figures for each move (n,), by the unit that it is written in."""
    kinds = {state.inch for state in moves.states}
    if len(kinds) == 1:
        return np.broadcast_to(np.float64(inch if kinds.pop() else mm), len(moves))
    return np.asarray(np.where([state.inch for state in moves.states], inch, mm)[moves.state])


def tolerance(moves: Moves) -> NDArray[np.float64]:
    """How far each move (n,) may be off the plan, mm."""
    return by_unit(moves, TOLERANCE_MM, TOLERANCE_INCH)


def unit(moves: Moves) -> NDArray[np.float64]:
    """The last decimal's unit of each changed move (n,), mm.

    It is the program's finest, but never coarser than what changed numbers are written to.
    """
    fine_mm = 10.0 ** -max(moves.finest, LEAST_MM)
    fine_inch = INCH * 10.0 ** -max(moves.finest, LEAST_INCH)
    return by_unit(moves, fine_mm, fine_inch)


def first(mask: NDArray[np.bool_]) -> int | None:
    """Index of the first true entry, None where there is none."""
    at = np.flatnonzero(mask)
    return int(at[0]) if len(at) else None


def parts(count: int) -> Iterator[slice]:
    """So many moves in parts."""
    return (slice(at, min(at + PART, count)) for at in range(0, count, PART))

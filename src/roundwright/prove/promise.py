"""The proof: what a corrected program promises, checked with other eyes than those that wrote it.

The map of the room: each promise is a function of its own that returns or raises.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.errors import ProofError, RoundwrightError
from roundwright.plan.plan import Plan
from roundwright.prove.case import Again, Case, broken, displaced_moves
from roundwright.prove.circles import clearing_rings, corrected_walls, left_alone, sound_arcs
from roundwright.prove.elsewhere import ends_in_place, modest_moves, planned_arcs
from roundwright.prove.found import found_again
from roundwright.prove.kept import same_feeds, same_moves, same_words
from roundwright.prove.reread import held_once, lines_of, reread
from roundwright.prove.rings import corrected_rings
from roundwright.prove.stamp import stamp_line_of
from roundwright.prove.tied import rings_as_read, tied_to_rings
from roundwright.prove.untouched import bytes_untouched, changed_lines
from roundwright.read import read_program
from roundwright.read.seal import checksum
from roundwright.settings import ArcCentres
from roundwright.trace import PLANE_AXES, ArcFault, Moves, trace_moves
from roundwright.units import GRAIN

#: the bits of an end that is known in all axes.
ALL_AXES = 7


class Promise(Struct, frozen=True):
    """One promise as a sentence, and the check that raises ProofError where it is broken."""

    sentence: str
    check: Callable[[Case], None]


#: in the order of checking: what later checks rest on comes first.
PROMISES: tuple[Promise, ...] = (
    Promise("only numbers that had to, and words added beside them, differ", bytes_untouched),
    Promise("every word that is no position is the same", same_words),
    Promise("as many moves, of the same kinds, in the same states", same_moves),
    Promise("every end is where it was, or where the plan wants it", ends_in_place),
    Promise("no arc has become less sound", sound_arcs),
    Promise("corrected circles have their centre and the planned radius", corrected_walls),
    Promise("circles left alone are as they were", left_alone),
    Promise("clearing rings move in proportion to their wall, or stay, as planned", clearing_rings),
    Promise("every other arc is as it was, or as planned", planned_arcs),
    Promise("nothing moves further than the corrections ask for", modest_moves),
    Promise("the circles that the plan corrects are those of the old program", rings_as_read),
    Promise("what moves is a corrected ring, or a path that such a ring leads", tied_to_rings),
    Promise("feeds and speeds are the same; in G93 the feed along the path is", same_feeds),
    Promise("the features are found again with the planned diameters", found_again),
)


def prove_program(
    before: Moves, new: bytes, plan: Plan, *, arc_centres: ArcCentres, again: Again, stamped: bool = True
) -> None:
    """Check the corrected program against the plan and the input; return where every promise holds.

    `before` is the input as traced. To trace it afresh would be the same work by the same rules on the same
    bytes, so all that it could show is a change made since; the seal shows that, too: a checksum that the
    trace took of the bytes and of every column. It counts twice, since moves of the new program on lines
    that are the same are taken from the old one (`reread`). What the trace itself may have got wrong, other
    eyes must see: `misread` reads the lines that change, before and after, by the second reader. `again`
    finds the features afresh on the new program's moves. `stamped` tells that a program that differs from the
    old one must say so. Where the plan asks for nothing, the same bytes are proof enough. Raises ProofError
    that names the broken promise, the line of the new program, what was expected and what was found.
    """
    name = before.program.name
    if checksum(before) != before.seal:
        what = "its bytes or its moves are no longer those that were read"
        raise broken("the old program as traced", what, name, None)
    if new == before.program.data and _asks_nothing(plan):
        return
    try:
        after, changed, stamp_line = _read_back(before, new, plan, arc_centres, stamped=stamped)
        after = held_once(before, in_place(before, as_fine_as(before, after)))
        case = _case(before, after, plan, again, changed, stamp_line)
        for promise in PROMISES:
            promise.check(case)
    except ProofError:
        raise
    except RoundwrightError as error:
        line = error.place.line if error.place else None
        what = f"it can no longer be read: {error.what}"
        raise broken("read back", what, name, None if line is None else line - 1) from error


def _read_back(
    before: Moves, new: bytes, plan: Plan, arc_centres: ArcCentres, *, stamped: bool
) -> tuple[Moves, NDArray[np.int64], int | None]:
    """The moves of the new program, the lines that the old one has otherwise, and the line of the stamp."""
    name = before.program.name
    lines = lines_of(new, before.program)
    stamp_line = stamp_line_of(before.program, lines, plan.stamp, name, needed=stamped)
    changed = changed_lines(before.program, lines, stamp_line)
    after = reread(before, lines, changed, stamp_line, arc_centres)
    if after is None:
        del lines  # it is read with lines of its own
        after = trace_moves(read_program(new, name), arc_centres)
    return after, changed, stamp_line


def _asks_nothing(plan: Plan) -> bool:
    """Whether the plan leaves every feature alone, and every move and line where it is."""
    corrected = any(correction.status == "corrected" for correction in plan.corrections)
    return not (corrected or plan.ends or plan.arcs or plan.stamp is not None)


def _case(
    before: Moves, after: Moves, plan: Plan, again: Again, changed: NDArray[np.int64], stamp_line: int | None
) -> Case:
    """The case of these moves; `changed` are the lines of the old program that the new one has otherwise."""
    displaced = displaced_moves(before, after)
    name, circles = before.program.name, corrected_rings(plan)
    return Case(name, before, after, plan, again, stamp_line, changed, displaced, circles)


def as_fine_as(old: Moves, new: Moves) -> Moves:
    """The new moves judged by the old program's decimals.

    What is written more finely must not make the rest look coarse: an arc whose radii agree as well as
    before has no new fault. Whether they do is a promise of its own.
    """
    arcs, before = new.arcs, old.arcs
    if len(arcs.row) == len(before.row):
        slack = (before.fault == ArcFault.NONE) & (arcs.fault == ArcFault.RADII)
        arcs = replace(arcs, fault=np.where(slack, ArcFault.NONE, arcs.fault).astype(np.uint8))
    decimals = np.minimum(new.decimals, old.finest)
    return replace(new, finest=old.finest, decimals=decimals, arcs=arcs)


def in_place(old: Moves, new: Moves) -> Moves:
    """The new moves with what stands in unknown positions counted from where the old program counts it.

    Where an axis is unknown its number only serves differences, but hangs on the last known place: behind a
    home it would differ by what a circle before has moved. Ways and circles keep their size and their form.
    """
    if len(old) != len(new) or not np.array_equal(old.arcs.row, new.arcs.row):
        return new  # another promise is broken, and says so
    unknown = np.flatnonzero((old.start_known & old.end_known) != ALL_AXES)
    if np.array_equal(old.start[unknown], new.start[unknown]):
        return new
    axes = np.arange(3)
    lost, ends_lost = ((known[:, None] >> axes & 1) == 0 for known in (old.start_known, old.end_known))
    begins = lost & ~np.vstack([np.zeros((1, 3), dtype=bool), (lost & ends_lost)[:-1]])
    since = np.maximum.accumulate(np.where(begins, np.arange(len(old))[:, None], 0), axis=0)
    apart = old.start - new.start
    by = np.where(lost, np.take_along_axis(apart, since, 0), 0)
    end = new.end + np.where(ends_lost, np.where(lost, by, apart), 0)
    normal = np.array([state.normal for state in old.states], dtype=np.intp)[old.state[old.arcs.row]]
    shift = np.take_along_axis(by[old.arcs.row], np.array(PLANE_AXES)[normal], 1)
    centre = new.arcs.centre + shift * GRAIN
    return replace(new, start=new.start + by, end=end, arcs=replace(new.arcs, centre=centre))

"""Which changed blocks are beyond doubt, all together: only numbers that may change have, as was traced.

It asks what `untouched` and `written` ask of a single block, and no less. What it does not vouch for, a word
added, a checksum, a number written unusually, anything wrong, they judge.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from roundwright.prove.form import Read
from roundwright.prove.written import APART, COUNTS
from roundwright.trace.moves import CENTRE_LETTERS, PLANE_AXES, ArcFault, Moves
from roundwright.units import GRAIN, INCH, PER_UNIT

Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
_GEOMETRY = np.frombuffer(b"XYZIJKR", np.uint8)
#: limits are tighter by so much (mm) than where blocks are judged one by one, whose decimals round otherwise.
_CLOSER = 1e-9


class _Said(NamedTuple):
    """What the blocks (l,) say with one letter: counts of 1e-8 of their unit, 0 where `there` is none."""

    value: Integers
    there: Flags


def only_numbers(old: Read, new: Read, movable: Flags, fixed_codes: frozenset[int], most: int) -> Flags:
    """Which of these blocks (l,) of the same sorts differ in nothing but numbers that may.

    `movable` (l, 256) tells the letters of numbers that may, `fixed_codes` the G words of blocks that may not
    change at all. A changed number has a point and at most `most` decimals, or as many as it had.
    """
    same = (old.text == new.text).all(axis=1)
    bad = ~same & ~movable[old.line, old.name]
    bad |= ~same & ~(old.exact & new.exact & (old.value != new.value) & (new.decimals >= 0))
    bad |= ~same & (new.decimals > np.maximum(most, old.decimals))
    bad |= (old.name == ord("R")) & ((old.value > 0) != (new.value > 0))
    fixed = np.isin(np.abs(old.value) // PER_UNIT, list(fixed_codes)) | ~old.exact
    bad |= (old.name == ord("G")) & fixed
    fine = np.ones(len(old.sort), np.bool_)
    fine[old.line[bad]] = False
    return fine


def as_traced(moves: Moves, row: Integers, read: Read) -> Flags:
    """Which of these moves (l,) go where their blocks (l,) say, round the circles that they say.

    A block with two moves, with a letter twice or in a state that is not followed is not among them.
    """
    said = {letter: _said(read, letter) for letter in "XYZIJKR"}
    geometry = np.isin(read.name, _GEOMETRY)
    fine = np.ones(len(row), np.bool_)
    fine[read.line[geometry & ~read.exact]] = False
    words = np.bincount(read.line[geometry], minlength=len(row))
    fine &= words == sum(one.there for one in said.values())
    line, last = moves.line, len(moves) - 1
    fine &= (row == 0) | (line[row - 1] != line[row])
    fine &= (row == last) | (line[np.minimum(row + 1, last)] != line[row])
    states = moves.states
    state = moves.state[row]
    fine &= ~np.array([bool(one.unsupported) for one in states])[state]
    inch = np.array([one.inch for one in states])[state]
    step = np.array([one.incremental for one in states])[state]
    for axis, letter in enumerate("XYZ"):
        value, there = said[letter]
        goes = moves.end[row, axis] - moves.start[row, axis]
        found = np.where(there & ~step, moves.end[row, axis], goes)
        due = np.where(inch, np.sign(value) * (np.abs(value) * 254 // 10), value)
        fine &= np.abs(found - due) <= np.where(inch, COUNTS * INCH, COUNTS)
    return fine & _round(moves, row, said, np.where(inch, INCH * GRAIN, GRAIN))


def _said(read: Read, letter: str) -> _Said:
    value, there = np.zeros(len(read.sort), np.int64), np.zeros(len(read.sort), np.bool_)
    at = np.flatnonzero(read.name == ord(letter))
    value[read.line[at]], there[read.line[at]] = read.value[at], True
    return _Said(value, there)


def _round(moves: Moves, row: Integers, said: dict[str, _Said], size: NDArray[np.float64]) -> Flags:
    """Which of these moves are no sound arcs, or go round the circle that their blocks say.

    `size` is the length of a count in each block's unit, mm.
    """
    arcs = moves.arcs
    fine = np.ones(len(row), np.bool_)
    if not len(arcs.row):
        return fine
    k, arc = arcs.at(row)
    arc = arc & (arcs.fault[k] == ArcFault.NONE)
    radius = arc & arcs.r_form[k]
    fine[radius] = (np.abs(np.abs(said["R"].value * size) - arcs.radius[k]) <= APART - _CLOSER)[radius]
    states = moves.states
    normal = np.array([one.normal for one in states])[moves.state[row]]
    absolute = np.array([-1 if one.arc_absolute is None else one.arc_absolute for one in states])
    absolute = absolute[moves.state[row]]
    for plane, letters in enumerate(CENTRE_LETTERS):
        here = np.flatnonzero(arc & ~arcs.r_form[k] & (normal == plane))
        for number, (axis, letter) in enumerate(zip(PLANE_AXES[plane], letters, strict=True)):
            due, start = said[letter].value[here] * size[here], moves.start[row[here], axis] * GRAIN
            from_start = np.abs(arcs.centre[k[here], number] - (start + due))
            from_zero = np.abs(arcs.centre[k[here], number] - due)
            off = np.where(absolute[here] == 1, from_zero, from_start)
            off = np.where(absolute[here] < 0, np.minimum(from_start, from_zero), off)
            off = np.where(said[letter].there[here], off, from_start)
            fine[here] &= off <= APART - _CLOSER
    return fine

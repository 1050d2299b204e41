"""Arcs: centre, radii and sweep of every arc from its words, or why it cannot be taken as written.

Centre and radius form as in NIST IR 6556, 3.5.3; knows no circles.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.program import Program
from roundwright.settings import ArcCentres
from roundwright.trace.block import Blocks, Lines
from roundwright.trace.modal import Modes, Track, Values
from roundwright.trace.mode import Verdict, Witness, judge, refuse_doubtful_default
from roundwright.trace.moves import PLANE_AXES, ArcFault, Arcs, Motion
from roundwright.trace.row import Rows, where
from roundwright.trace.travel import ReadWords, Travel, row_words
from roundwright.units import INCH, MICROMETRE, PER_UNIT

#: radii may differ by this much at least, mm (by unit: mm, inch); NIST IR 6556, 3.5.3.2 allows
#: 0.002 mm and 0.0002 in, controls in use more.
_LEAST_SLACK = (5 * MICROMETRE, 0.0005 * INCH)
#: written units coarser than this excuse no more, mm (by unit): 0.01 mm, 0.001 in.
_COARSEST = (0.01, 0.001 * INCH)
_TURN = 2 * np.pi
#: so many moves before and behind a full circle are its lead.
_BESIDE = 4
#: arcs that are looked at together: what is made of them takes little room.
_PORTION = 1 << 14
#: faults that leave no centre and no angle to tell.
_NOTHING = (
    *(ArcFault.NO_CENTRE, ArcFault.HALF_CENTRE, ArcFault.SHORT_R),
    *(ArcFault.SAME_POINT, ArcFault.UNKNOWN),
)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class ArcWords(Struct, frozen=True, eq=False):
    """What the arcs say (m,), lengths in mm. In-plane pairs (m, 2) are in the order of `PLANE_AXES`.

    `step` is end minus start, `closed` where it is exactly nothing, `step_known` and `start_known` by
    axis. `offset` is the centre word, 0 where missing; `has_centre`, `has_radius` where such words stand,
    `has_both` where both words of the centre do.
    """

    row: NDArray[np.int64]
    line: Lines
    normal: Values
    ccw: Bools
    start: Floats
    step: Floats
    closed: Bools
    start_known: Bools
    step_known: Bools
    offset: Floats
    has_centre: Bools
    has_both: Bools
    has_radius: Bools
    radius: Floats
    turns: Floats
    slack: Floats


def plain_arcs(blocks: Blocks, rows: Rows, modes: Modes) -> Rows:
    """Rows without the arcs that no table defines: with centre and radius both, or a broken turn count.

    Those become OTHER: the end is known, the path is not.
    """
    lines = blocks.program.lines
    circular = np.flatnonzero((rows.motion == Motion.CW) | (rows.motion == Motion.CCW))
    if not len(circular):
        return rows
    line = rows.line[circular]
    has_r, has_c, odd = (np.zeros(lines, np.bool_) for _ in range(3))
    has_r[blocks.program.line[blocks.words("R")]] = True
    normal = modes.plane.at(line)
    centre = np.zeros(len(line), np.bool_)
    for axis, letter in enumerate("IJK"):
        has_c[:] = False
        has_c[blocks.program.line[blocks.words(letter)]] = True
        centre |= has_c[line] & (normal != axis)
    turns = blocks.words("P")
    value = blocks.program.value[turns]
    bad = ~blocks.readable(turns) | (value < PER_UNIT) | (value % PER_UNIT != 0)
    odd[blocks.program.line[turns[bad]]] = True
    odd[blocks.program.line[blocks.words("L")]] = True
    strange = circular[(has_r[line] & centre) | odd[line]]
    if not len(strange):
        return rows
    motion = rows.motion.copy()
    motion[strange] = Motion.OTHER
    return Rows(rows.line, motion, rows.loses)


class WrittenArcs(Struct, frozen=True, eq=False):
    """The arcs (m,) of a program and their words, from which `ArcWords` are made in portions.

    `words` are those of I, J, K, R and P, by the arc that they stand in.
    """

    row: NDArray[np.int64]
    line: Lines
    normal: Values
    inch: Bools
    words: tuple[ReadWords, ...]

    @classmethod
    def of(cls, blocks: Blocks, rows: Rows, modes: Modes) -> WrittenArcs:
        """Gather the words of all arcs."""
        row = np.flatnonzero((rows.motion == Motion.CW) | (rows.motion == Motion.CCW))
        line = rows.line[row]
        inch = modes.units.at(line) == 1
        words = (row_words(blocks, one, line, inch if one != "P" else inch & False) for one in "IJKRP")
        return cls(row, line, modes.plane.at(line), inch, tuple(words))

    def portions(self) -> Iterator[slice]:
        """The arcs in portions."""
        for first in range(0, len(self.row) or 1, _PORTION):
            yield slice(first, min(first + _PORTION, len(self.row)))


def arc_words(
    arcs: WrittenArcs, part: slice, rows: Rows, travel: Travel, decimals: NDArray[np.int8]
) -> ArcWords:
    """What some of the arcs say; `decimals` (n,) are the most of each row's own words."""
    row, inch, count = arcs.row[part], arcs.inch[part], part.stop - part.start
    plane = np.array(PLANE_AXES, np.int64)[arcs.normal[part]]
    each = np.arange(count)
    offset, has = np.zeros((count, 3), np.int64), np.zeros((count, 5), np.bool_)
    radius, turns = np.zeros(count), np.ones(count)
    for place, words in enumerate(arcs.words):
        some = slice(*np.searchsorted(words.row, (part.start, part.stop)))
        at, value = words.row[some] - part.start, words.value[some]
        has[at, place] = True
        if place < 3:
            offset[at, place] = value
        else:
            (radius if place == 3 else turns)[at] = value / PER_UNIT
    start, end = (np.take_along_axis(a[row], plane, 1) for a in (travel.start, travel.end))
    known, given = (b[row, None] >> plane & 1 != 0 for b in (travel.start_known, travel.given))
    return ArcWords(
        row=row,
        line=arcs.line[part],
        normal=arcs.normal[part],
        ccw=rows.motion[row] == Motion.CCW,
        start=start / PER_UNIT,
        step=(end - start) / PER_UNIT,
        closed=(end == start).all(axis=1),
        start_known=known,
        step_known=known | ~given,
        offset=np.take_along_axis(offset, plane, 1) / PER_UNIT,
        has_centre=has[each, plane[:, 0]] | has[each, plane[:, 1]],
        has_both=has[each, plane[:, 0]] & has[each, plane[:, 1]],
        has_radius=has[:, 3],
        radius=radius,
        turns=turns,
        slack=_slack(inch, decimals[row]),
    )


def _slack(inch: Bools, decimals: NDArray[np.int8]) -> Floats:
    """How much the radii at start and end of an arc may differ, mm.

    Two units of the finest decimal that it is written to in each axis, within limits.
    """
    unit = np.where(inch, INCH, 1.0) * 10.0 ** -decimals.astype(np.float64)
    coarsest, least = (
        np.where(inch, _COARSEST[1], _COARSEST[0]),
        np.where(inch, _LEAST_SLACK[1], _LEAST_SLACK[0]),
    )
    slack: Floats = np.maximum(2 * np.sqrt(2) * np.minimum(unit, coarsest), least)
    return slack


def judged_centres(
    program: Program, arcs: Iterable[ArcWords], arc_distance: Track, option: ArcCentres
) -> Verdict:
    """How the centres of a program's arcs are to be read, by what all of them say.

    `arc_distance` tells what the modal word says of I J K on each line: 0 nothing, 1 increments, 2
    absolute. Raises ProgramError where undecided arcs contradict each other.
    """
    found: list[Witness] = []
    decided = centred = 0
    for words in arcs:
        said = arc_distance.at(words.line)
        by_centre = ~words.has_radius & words.has_centre
        found.append(_witness(words, np.flatnonzero(by_centre & (said == 0))))
        decided += int((by_centre & (said != 0)).sum())
        centred += int(by_centre.sum())
    columns = ([getattr(one, name) for one in found] for name in Witness.__struct_fields__)
    witness = Witness(*map(np.concatenate, columns))
    return judge(program, witness, option, decided=decided, arcs=centred)


def trace_arcs(words: ArcWords, said: Values, verdict: Verdict) -> Arcs:
    """Some arcs; `said` (m,) is what the modal word says of I J K on each arc's line."""
    r_form = words.has_radius
    open_ = ~r_form & words.has_centre & (said == 0)
    absolute = ~r_form & ((said == 2) | ((said == 0) & verdict.absolute))
    from_start = np.where(absolute[:, None], words.offset - words.start, words.offset)
    if r_form.any():
        from_start[r_form] = _radius_form(words, np.flatnonzero(r_form))
    r_start = np.hypot(from_start[:, 0], from_start[:, 1])
    to_end = words.step - from_start
    r_end = np.hypot(to_end[:, 0], to_end[:, 1])
    fault = _faults(words, absolute, r_start, r_end)
    if verdict.unsigned:
        fault[open_ & words.closed & (fault == ArcFault.NONE)] = ArcFault.RADII
    sweep = _sweeps(words, from_start, to_end)
    radius = np.where(r_form, np.abs(words.radius), r_start)
    return _blanked(words, fault, from_start, radius, r_end, sweep)


def arc_warnings(arcs: Arcs, rows: Rows) -> tuple[str, ...]:
    """What to say of arcs whose centres no one can tell."""
    half = arcs.row[arcs.fault == ArcFault.HALF_CENTRE]
    if not len(half):
        return ()
    return (
        f"{where(rows.line[half])}: the centre is absolute and one of its words is missing, which controls "
        "read as zero, the start or the last one; these arcs are left alone; post the program with both",
    )


def _blanked(
    words: ArcWords,
    fault: NDArray[np.uint8],
    from_start: Floats,
    radius: Floats,
    r_end: Floats,
    sweep: Floats,
) -> Arcs:
    """The arcs' columns, nan where nothing can be said."""
    nothing = np.isin(fault, _NOTHING)
    centre = words.start + from_start
    centre[nothing] = np.nan
    r_end = np.where(nothing, np.nan, r_end)
    radius = np.where(nothing & ~words.has_radius, np.nan, radius)
    sweep = np.where(nothing, np.nan, sweep)
    return Arcs(words.row, centre, radius, r_end, sweep, words.has_radius, fault)


def _witness(words: ArcWords, at: NDArray[np.int64]) -> Witness:
    """Which readings of I J K make the radii of these arcs agree.

    An arc that the other reading misses only narrowly speaks for neither alone: its rounding may be coarse.
    One that lacks a centre word does not speak for absolute alone: that would take the word for zero.
    """
    step, offset, slack = words.step[at], words.offset[at], words.slack[at]
    sure = words.step_known[at].all(axis=1)
    placed = sure & words.start_known[at].all(axis=1)
    incremental = sure & _agree(offset, step, slack)
    absolute = placed & _agree(offset - words.start[at], step, slack)
    signs = [_agree(offset * sign, step, slack) for sign in ((1, -1), (-1, 1), (-1, -1))]
    plain = (offset >= 0).all(axis=1)
    unsigned = sure & plain & np.logical_or.reduce(signs) & ~incremental & ~absolute
    nearly = sure & _agree(offset, step, 4 * slack)
    nearly_absolute = placed & _agree(offset - words.start[at], step, 4 * slack)
    return Witness(
        words.line[at],
        incremental=incremental & (absolute | ~nearly_absolute),
        absolute=absolute & (incremental | (~nearly & words.has_both[at])),
        unsigned=unsigned,
        negative=np.asarray((offset < 0).any(axis=1)),
    )


def doubt_default(program: Program, arcs: Iterable[ArcWords], travel: Travel, arc_distance: Track) -> None:
    """Look where the path goes beside full circles whose centres no word and no radii tell.

    Raises ProgramError where that speaks against the default, which is increments from the start.
    """
    lines, hits = [np.zeros(0, np.int32)], [np.zeros((0, 2), np.bool_)]
    for words in arcs:
        unsaid = ~words.has_radius & words.has_centre & (arc_distance.at(words.line) == 0)
        open_ = np.flatnonzero(unsaid & words.closed & words.start_known.all(axis=1))
        lines.append(words.line[open_])
        hits.append(_passed_by(words, open_, travel))
    line = np.concatenate(lines)
    if len(line):
        refuse_doubtful_default(program, line, np.concatenate(hits))


def _passed_by(words: ArcWords, which: NDArray[np.intp], travel: Travel) -> Bools:
    """Whether the path goes to the centre near some circles (k, 2): taken from the start, and as absolute."""
    row, centre = words.row[which], words.offset[which]
    plane = np.array(PLANE_AXES, np.int64)[words.normal[which]][:, None]
    near = np.clip(row[:, None] + np.arange(-_BESIDE, _BESIDE + 1), 0, len(travel.end) - 1)
    point = np.take_along_axis(travel.end[near], np.broadcast_to(plane, (*near.shape, 2)), 2) / PER_UNIT
    known = (travel.end_known[near][..., None] >> plane & 1 != 0).all(axis=2)
    apart = np.stack([point - (words.start[which] + centre)[:, None], point - centre[:, None]])
    close = np.hypot(apart[..., 0], apart[..., 1]) <= words.slack[which][:, None]
    return np.asarray((close & known).any(axis=2).T)


def _agree(from_start: Floats, step: Floats, slack: Floats) -> Bools:
    """Whether start and end are equally far from the centre, and that is somewhere else."""
    r_start = np.hypot(from_start[:, 0], from_start[:, 1])
    r_end = np.hypot(*(step - from_start).T)
    agree: Bools = (np.abs(r_start - r_end) <= slack) & (r_start > slack)
    return agree


def _radius_form(words: ArcWords, at: NDArray[np.int64]) -> Floats:
    """Centre from the start by R (NIST IR 6556, 3.5.3.1).

    It lies left of the chord for G3 with R > 0 and for G2 with R < 0, else right. A chord a little too
    long for R is a diameter.
    """
    step, radius = words.step[at], words.radius[at]
    half = np.hypot(step[:, 0], step[:, 1]) / 2
    height = np.sqrt(np.maximum(radius**2 - half**2, 0.0))
    left = np.where(words.ccw[at] == (radius > 0), 1.0, -1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = np.where(half > 0, left * height / (2 * half), 0.0)
    centre: Floats = step / 2 + along[:, None] * np.stack((-step[:, 1], step[:, 0]), axis=1)
    return centre


def _sweeps(words: ArcWords, from_start: Floats, to_end: Floats) -> Floats:
    """Signed angle travelled, radians; a closed arc goes round once, P says how often."""
    back = -from_start
    cross = back[:, 0] * to_end[:, 1] - back[:, 1] * to_end[:, 0]
    dot = (back * to_end).sum(axis=1)
    turn = np.where(words.ccw, 1.0, -1.0)
    angle = turn * np.arctan2(cross, dot)
    angle = np.where((angle <= 0) | words.closed, angle + _TURN, angle)
    angle = np.where(words.closed, _TURN, angle)
    return turn * (angle + _TURN * (words.turns - 1))


def _faults(words: ArcWords, absolute: Bools, r_start: Floats, r_end: Floats) -> NDArray[np.uint8]:
    """The first reason that holds, of each arc."""
    r_form = words.has_radius
    half = np.hypot(words.step[:, 0], words.step[:, 1]) / 2
    unknown = ~words.step_known.all(axis=1) | (absolute & ~words.start_known.all(axis=1))
    fault = np.select(
        [
            ~r_form & ~words.has_centre,
            absolute & ~words.has_both,
            unknown,
            np.where(r_form, words.radius == 0, np.maximum(r_start, r_end) == 0),
            r_form & words.closed,
            r_form & (half - np.abs(words.radius) > words.slack),
            ~r_form & (np.minimum(r_start, r_end) <= 0),
            ~r_form & (np.abs(r_start - r_end) > words.slack),
        ],
        [
            ArcFault.NO_CENTRE,
            ArcFault.HALF_CENTRE,
            ArcFault.UNKNOWN,
            ArcFault.ZERO,
            ArcFault.SAME_POINT,
            ArcFault.SHORT_R,
            ArcFault.ZERO,
            ArcFault.RADII,
        ],
        ArcFault.NONE,
    )
    return fault.astype(np.uint8)

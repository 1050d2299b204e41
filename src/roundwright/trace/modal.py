"""Modal groups: sparse changes of state by line, looked up for any sorted lines; knows no positions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.distinct import distinct
from roundwright.read.program import NO_VALUE
from roundwright.trace.block import Blocks, Lines
from roundwright.trace.codes import DOUBTFUL, UNSAID, Act, CodeTable, Group, code_table
from roundwright.units import PER_UNIT

Number = TypeVar("Number", bound=np.generic)

#: plane by code: the normal axis.
_PLANES: Mapping[int, int] = {170: 2, 180: 1, 190: 0}
_SECONDARY_PLANES: Mapping[int, int] = {171: 1, 181: 1, 191: 1, 170: 0, 180: 0, 190: 0}
_UNITS: Mapping[int, int] = {200: 1, 210: 0, 700: 1, 710: 0, 7000: 1, 7100: 0}
_DISTANCE: Mapping[int, int] = {900: 0, 910: 1}
_ARC_DISTANCE: Mapping[int, int] = {901: 2, 911: 1}  # 0: no word says it
_COMPENSATION: Mapping[int, int] = {400: 40, 410: 41, 420: 42, 411: 41, 421: 42}
_DIAMETER: Mapping[int, int] = {70: 1, 80: 0}
#: what a track may hold, in as little room as it needs.
Values = NDArray[np.integer[Any]]


class Track(Struct, frozen=True, eq=False):
    """A value that changes at some lines (e,), in order; the last change on a line holds for that line.

    Every word on a block's own line applies to that block: planes, units, feed, distance mode are
    executed before the motion (NIST IR 6556, 3.8, table 8).
    """

    initial: int
    line: Lines
    value: Values

    def at(self, line: Lines) -> Values:
        """The values in force on sorted lines (n,), of the same kind as those of the track."""
        first = np.array([self.initial], self.value.dtype)
        return spread(line, self.line, np.concatenate((first, self.value)))

    def reset(self, bodies: Lines, value: int) -> Track:
        """The track with `value` set at the start of each subprogram body."""
        if not bodies.size:
            return self
        lines = np.concatenate((bodies, self.line))
        order = np.argsort(lines, kind="stable")
        values = np.concatenate((np.full(len(bodies), value, self.value.dtype), self.value))
        return Track(self.initial, lines[order], values[order])

    def thinned(self) -> Track:
        """The track without changes to what is in force already, but for the first one."""
        keep = np.flatnonzero(
            np.concatenate((self.value[:1] == self.value[:1], self.value[1:] != self.value[:-1]))
        )
        return Track(self.initial, self.line[keep], self.value[keep])


def spread(line: Lines, at: Lines, values: NDArray[Number]) -> NDArray[Number]:
    """For each sorted line (n,) the value of the last change at or before it; values[0] before all.

    Where it is the same for all it takes the room of one, and cannot be written to.
    """
    if not len(at):
        return np.broadcast_to(values[0], len(line))
    if len(at) > len(line):
        held = values.take(np.searchsorted(at, line, side="right"))
    else:
        spans = np.diff(np.searchsorted(line, at), prepend=0, append=len(line))
        held = values[spans > 0]
    if len(held) and (held == held[0]).all():
        return np.broadcast_to(held[0], len(line))
    return held if len(at) > len(line) else np.repeat(values, spans)


def track_of(pairs: Iterable[tuple[int, int]], initial: int) -> Track:
    """A track of few changes, given as (line, value) in order."""
    table = np.array(list(pairs), np.int32).reshape(-1, 2)
    return Track(initial, table[:, 0], table[:, 1])


class Modes(Struct, frozen=True, eq=False):
    """The modal state of a program as tracks; `odd` are lines with two words of one group that differ.

    Values: `motion` a `Motion`, UNSAID, CANCELLED or DOUBTFUL; `plane` the normal axis; `units` 1 inch;
    `distance` 1 incremental; `arc_distance` 0 unsaid, 1 incremental, 2 absolute; `special` a set of
    bits, see `SPECIAL`.
    """

    motion: Track
    plane: Track
    units: Track
    distance: Track
    arc_distance: Track
    feed_mode: Track
    compensation: Track
    spindle: Track
    special: tuple[tuple[str, Track], ...]
    odd: Lines


class GWords(Struct, frozen=True, eq=False):
    """The executed G words (g,): line, ten times the code, group, and `Act` bits; `table` knows them all."""

    line: Lines
    code: NDArray[np.int16]
    group: NDArray[np.uint8]
    act: NDArray[np.uint8]
    table: CodeTable


def g_words(blocks: Blocks, has_axis: NDArray[np.bool_]) -> GWords:
    """The G words, classified. `has_axis` (l,) tells the lines with an X, Y or Z word.

    A code whose number cannot be read is unknown. G5 and its kin are no motion without axis words, G8
    is no diameter mode with a P word (look-ahead), G70 and G71 are no units with words of a turning cycle.
    """
    line, code = blocks.codes("G")
    table = code_table(code)
    group = np.where(code < 0, np.uint8(Group.NONE), table.group[code])
    act = np.where(code < 0, np.uint8(Act.UNKNOWN), table.act[code])
    idle = ((act & Act.WORDED) != 0) & ~has_axis[line]
    group[idle & (group == Group.MOTION)] = Group.NONE
    act[idle] = Act.NONE
    if (group == Group.DIAMETER).any():
        group[(group == Group.DIAMETER) & _beside(blocks, line, "P")] = Group.NONE
    turning = (code == 700) | (code == 710)
    if turning.any():
        turning &= _beside(blocks, line, "PQU")
        group[turning], act[turning] = Group.NONE, Act.UNKNOWN
    return GWords(line, code, group, act, table)


def _beside(blocks: Blocks, line: Lines, letters: str) -> NDArray[np.bool_]:
    """Which of these lines have a word with one of these letters."""
    found = np.zeros(blocks.program.lines, np.bool_)
    for letter in letters:
        found[blocks.program.line[blocks.words(letter)]] = True
    return found[line]


def modes_of(blocks: Blocks, words: GWords, setting: Lines) -> Modes:
    """All modal tracks of a program; `setting` are the lines that may set a mode unread."""
    bodies = blocks.bodies
    motion, odd_motion = _motion_track(blocks, words)
    odd = [odd_motion, *(_doubled(words, g) for g in (Group.PLANE, Group.UNITS, Group.DISTANCE))]
    plane = _mapped(words, Group.PLANE, _PLANES, 2)
    units = _mapped(words, Group.UNITS, _UNITS, 0)
    feed = words.group == Group.FEED_MODE
    return Modes(
        motion=motion.reset(setting, DOUBTFUL).reset(bodies, UNSAID).thinned(),
        plane=plane.reset(bodies, _first(plane)).thinned(),
        units=units.reset(bodies, _first(units)).thinned(),
        distance=_mapped(words, Group.DISTANCE, _DISTANCE, 0).reset(bodies, 0).thinned(),
        arc_distance=_mapped(words, Group.ARC_DISTANCE, _ARC_DISTANCE, 0).thinned(),
        feed_mode=Track(94, words.line[feed], words.code[feed] // 10).reset(bodies, 94).thinned(),
        compensation=_mapped(words, Group.COMPENSATION, _COMPENSATION, 40).reset(bodies, 40).thinned(),
        spindle=_spindle_track(blocks).reset(bodies, 0).thinned(),
        special=_special_tracks(words, setting) + _mirror_tracks(blocks),
        odd=distinct(np.concatenate(odd)),
    )


def _first(track: Track) -> int:
    """The first value that the program sets, which a subprogram is taken to begin with."""
    return int(track.value[0]) if track.value.size else track.initial


def _mapped(words: GWords, group: Group, values: Mapping[int, int], initial: int) -> Track:
    """The track of a group; codes of it that `values` lacks change nothing here."""
    mine = words.group == group
    line, code = words.line[mine], words.code[mine]
    value = np.full(len(line), -1, np.int8)
    for number, meaning in values.items():
        value[code == number] = meaning
    return Track(initial, line[value >= 0], value[value >= 0])


def _motion_track(blocks: Blocks, words: GWords) -> tuple[Track, Lines]:
    """The motion in force, and the lines with two different motion codes.

    G80 beside another motion code is only the cancel. After two codes in one block, a code that is
    not known, or a code that a switch may turn off, the motion is DOUBTFUL until the next code.
    """
    mine = np.flatnonzero((words.group == Group.MOTION) & (words.code != 800))
    cancel = np.flatnonzero((words.group == Group.MOTION) & (words.code == 800))
    if len(cancel):
        cancel = cancel[~np.isin(words.line[cancel], words.line[mine])]
    strange = np.flatnonzero((words.act & Act.UNKNOWN) != 0)
    if len(strange):
        strange = strange[~np.isin(words.line[strange], words.line[mine])]
    at = np.sort(np.concatenate((mine, cancel, strange))) if len(cancel) + len(strange) else mine
    line, code = words.line[at], words.code[at]
    value = words.table.motion[np.maximum(code, 0)]
    value[(words.act[at] & Act.UNKNOWN) != 0] = DOUBTFUL
    again = (line[1:] == line[:-1]) & (code[1:] != code[:-1])
    odd = line[1:][again]
    if odd.size:
        both = np.zeros(blocks.program.lines, np.bool_)
        both[odd] = True
        value[both[line]] = DOUBTFUL
    deletable = np.flatnonzero(blocks.deletable(line))
    first = np.searchsorted(line, line[deletable])
    for word, start in zip(deletable.tolist(), first.tolist(), strict=True):
        before = value[start - 1] if start else UNSAID
        value[word] = before if value[word] == before else DOUBTFUL
    return Track(UNSAID, line, value), odd


def _doubled(words: GWords, group: Group) -> Lines:
    """Lines with two different codes of a group."""
    at = np.flatnonzero(words.group == group)
    line, code = words.line[at], words.code[at]
    twice: Lines = line[1:][(line[1:] == line[:-1]) & (code[1:] != code[:-1])]
    return twice


def _spindle_track(blocks: Blocks) -> Track:
    """M3, M4, M5; the last on a line holds."""
    line, code = blocks.codes("M")
    at = (code == 30) | (code == 40) | (code == 50)
    return Track(0, line[at], code[at] // 10)


def _special_tracks(words: GWords, setting: Lines) -> tuple[tuple[str, Track], ...]:
    """Modes that make a circle something else, each 1 while in force."""
    alien = words.line[((words.act & Act.UNKNOWN) != 0) & (words.code >= 0)]
    strange = np.sort(np.concatenate((words.line[words.code < 0], setting)))
    return (
        ("scaling", _mapped(words, Group.SCALING, {510: 1, 500: 0}, 0)),
        ("polar coordinates", _mapped(words, Group.POLAR, {160: 1, 150: 0}, 0)),
        ("diameter mode", _mapped(words, Group.DIAMETER, _DIAMETER, 0)),
        ("mirroring", _mapped(words, Group.MIRROR, {511: 1, 501: 0}, 0)),
        ("polar interpolation", _mapped(words, Group.POLAR_INTERPOLATION, {121: 1, 131: 0}, 0)),
        (
            "a plane of secondary axes",
            _mapped(words, Group.PLANE, {171: 1, 181: 1, 191: 1, **dict.fromkeys(_PLANES, 0)}, 0),
        ),
        ("a G code that is not known", Track(0, alien, np.ones(len(alien), np.int8))),
        ("a mode that cannot be read", Track(0, strange, np.ones(len(strange), np.int8))),
    )


def _mirror_tracks(blocks: Blocks) -> tuple[tuple[str, Track], ...]:
    """M21 and M22 mirror an axis on some controls until M23, and turn climb cuts into conventional ones.

    Common practice, no source; on other controls they switch an output.
    """
    line, code = blocks.codes("M")
    at = (code == 210) | (code == 220) | (code == 230)
    mirrored = (code[at] != 230).view(np.int8)
    return (("M21 or M22, which mirrors an axis on some controls,", Track(0, line[at], mirrored)),)


def filled(blocks: Blocks, letter: str, line: Lines) -> NDArray[np.floating[Any]]:
    """The value of the last F or S word at or before each sorted line (n,), as written; nan before."""
    word = blocks.words(letter)
    value = np.append(np.nan, blocks.program.value[word] / PER_UNIT)
    value[1:][blocks.program.decimals[word] == NO_VALUE] = np.nan
    return spread(line, blocks.program.line[word], _narrowed(value))


def _narrowed(value: NDArray[np.float64]) -> NDArray[np.floating[Any]]:
    """The values in as little room as holds all of them exactly: in two bytes whole numbers up to 2048."""
    kinds: tuple[type[np.floating[Any]], ...] = (np.float16, np.float32)
    for kind in kinds:
        with np.errstate(over="ignore"):
            narrow: NDArray[np.floating[Any]] = value.astype(kind)
        if np.array_equal(narrow, value, equal_nan=True):
            return narrow
    return value

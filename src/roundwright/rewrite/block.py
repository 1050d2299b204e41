"""Blocks along the displaced path: each gets the words that reach its end from where the path now is."""

from __future__ import annotations

from math import isfinite

import numpy as np

from roundwright.read.distinct import distinct
from roundwright.rewrite.circle import PlannedArc, WrittenArc
from roundwright.rewrite.edit import Edit
from roundwright.rewrite.feed import inherited_feed, moved_ratio
from roundwright.rewrite.number import Habit
from roundwright.rewrite.position import Place, Solution
from roundwright.rewrite.round import Fineness, native_of, scale
from roundwright.rewrite.word import BlockWords, Number
from roundwright.trace.moves import CENTRE_LETTERS, Motion, Moves, State, datum_set
from roundwright.units import GRAIN, GRAIN_DIGITS, PER_UNIT

_AXES = "XYZ"
_STILL: Place = (0, 0, 0)
_RAPID = int(Motion.RAPID)
CIRCULAR = (int(Motion.CW), int(Motion.CCW))
PLAIN = (*CIRCULAR, _RAPID, int(Motion.LINE))
#: counts that rounding between units may leave.
ROUNDING = 2
#: a move whose length differs by less, as a share, takes the same time.
_SAME_TIME = 2e-5
#: significant digits of a time word that is rescaled: within 5e-6 of its value.
_RATE_DIGITS = 6
#: codes that go to a place of the machine's own.
_HOME = frozenset(code * PER_UNIT for code in (28, 30, 53))


class Writer:
    """Writes rows in order and keeps where the control will really be.

    `displaced`: the path has not rejoined yet. `origin` is the planned row that last moved it.
    """

    def __init__(self, moves: Moves, solution: Solution, fineness: Fineness, habit: Habit) -> None:
        self.moves = moves
        self.solution = solution
        self.fineness = fineness
        self.habit = habit
        self._planned = distinct(np.concatenate((solution.places.row, solution.planned.row)))
        self.origin = 0
        self._offset = _STILL  # written place less the program's, counts of 1e-8 mm
        self._lost = 0  # bits of the axes whose place was lost while displaced

    @property
    def displaced(self) -> bool:
        """Whether the written place differs from the program's."""
        return self._offset != _STILL

    def stand(self, row: int, offset: Place) -> None:
        """Go on from a row whose block begins so far off the program's place, known in all axes."""
        self._offset, self._lost = offset, 0
        at = int(self._planned.searchsorted(row, side="right"))
        self.origin = int(self._planned[at - 1]) if at else 0

    def write(self, row: int) -> list[Edit]:
        """The edits of one row's block; the written place moves on to its end.

        Raises CannotWrite where a word would have to change that may not.
        """
        moves = self.moves
        if self._is_planned(row):
            self.origin = row
        words = BlockWords(moves.program, int(moves.line[row]), row, self.habit)
        self._lost |= self._joint(row, words)
        if int(moves.motion[row]) not in PLAIN:
            self._pass(row, words)
            return []
        self._move(row, words)
        return words.finished()

    def _is_planned(self, row: int) -> bool:
        return row in self.solution.planned or self.solution.places.get(row) is not None

    def _state(self, row: int) -> State:
        return self.moves.states[int(self.moves.state[row])]

    def _joint(self, row: int, words: BlockWords) -> int:
        """The bits of the axes whose place was lost between this row and the one before.

        Raises CannotWrite where a datum was set while the path was displaced.
        """
        moves = self.moves
        if not row or not self.displaced:
            return 0
        start, end = moves.start[row].tolist(), moves.end[row - 1].tolist()
        moved = start != end and any(o and a != b for o, a, b in zip(self._offset, start, end, strict=True))
        if moved or datum_set(moves.frames, self._state(row - 1).frame, self._state(row).frame):
            raise words.refuse("a datum is set before the path has left the circle")
        return int(moves.end_known[row - 1]) & ~int(moves.start_known[row])

    def _pass(self, row: int, words: BlockWords) -> None:
        """A block that may not be changed: its own absolute words or its going home end a displacement."""
        moves = self.moves
        if self._is_planned(row) and not self._carried(row):
            raise words.refuse("it would have to change, and is no plain move")
        if not self.displaced:
            return
        home, known = goes_home(words), int(moves.end_known[row])
        offset = list(self._offset)
        for axis, letter in enumerate(_AXES):
            if not offset[axis]:
                continue
            named, sure = words.value(letter) is not None, bool(known >> axis & 1)
            if home:
                leaves = not sure and (named or not any(words.value(other) is not None for other in _AXES))
                stuck = not leaves and bool(self._lost >> axis & 1)
            else:
                leaves = named and sure and not self._state(row).incremental
                stuck = not leaves
            if stuck:
                raise words.refuse("the displaced path meets a block that may not be changed")
            self._lost |= (not leaves and not sure) << axis  # who knows whether the displacement lasts
            offset[axis] = 0 if leaves else offset[axis]
        self._keep(offset)

    def _carried(self, row: int) -> bool:
        """Whether the plan wants no more than that the displacement lasts through this row."""
        place = self.solution.places.get(row)
        old = self.moves.end[row].tolist()
        return (
            place is not None
            and row not in self.solution.planned
            and all(new - was == offset for new, was, offset in zip(place, old, self._offset, strict=True))
        )

    def _move(self, row: int, words: BlockWords) -> None:
        """Write a plain move's end, centre or radius, and time."""
        moves, state = self.moves, self._state(row)
        old_start, old_end = moves.start[row].tolist(), moves.end[row].tolist()
        start = [place + offset for place, offset in zip(old_start, self._offset, strict=True)]
        place = self.solution.places.get(row)
        end = list(old_end if place is None else place)
        if state.unsupported and (start != old_start or end != old_end):
            raise words.refuse(f"a move in {state.unsupported} would have to change")
        for axis, letter in enumerate(_AXES):
            was, now = (old_start[axis], old_end[axis]), (start[axis], end[axis])
            if words.value(letter) is not None and not state.incremental:
                self._lost &= ~(1 << axis)  # the word says where it is
            if was == now:
                continue
            if self._lost >> axis & 1:
                if state.incremental or place is not None:
                    raise words.refuse("the place is lost before the path has left the circle")
                end[axis] = start[axis]  # stays displaced until a word says where it is
            elif state.incremental:
                self._say_step(words, letter, was, now, state.inch)
            else:
                self._say_place(row, words, letter, was, now)
        arc, written = self.solution.planned.get(row), self.solution.arcs.get(row)
        if arc is not None and written is not None:
            self._circle(row, words, arc, written, start)
        elif int(moves.motion[row]) in CIRCULAR and (start != old_start or end != old_end):
            raise words.refuse("an arc that is not planned would have to change")
        if state.feed_mode == 93 and int(moves.motion[row]) != _RAPID:
            self._time(row, words, start, end)
        self._keep([new - old for new, old in zip(end, old_end, strict=True)])

    def _keep(self, offset: list[int]) -> None:
        self._offset = (offset[0], offset[1], offset[2])
        for axis in range(3):
            if not offset[axis]:
                self._lost &= ~(1 << axis)

    def _number(self, native: int, inch: bool, *, exact: bool = False) -> Number:
        return Number(native, self.fineness.of(inch), self.fineness.exact if exact else self.fineness.most)

    def _say_place(
        self, row: int, words: BlockWords, letter: str, was: tuple[int, int], now: tuple[int, int]
    ) -> None:
        """An absolute word: replaced where its value changes, added where the path is elsewhere."""
        inch = self._state(row).inch
        value, native = words.value(letter), native_of(now[1], inch)
        if value is None and now[0] == now[1]:
            return
        known = int(self.moves.end_known[row]) >> _AXES.index(letter) & 1
        if not known or (value is not None and abs(value - native_of(was[1], inch)) > ROUNDING):
            raise words.refuse(f"its {letter} can't be told, so it can't be corrected")
        if value is None or now[1] != was[1]:
            words.say(letter, self._number(native, inch, exact=now[1] == was[1]))

    def _say_step(
        self, words: BlockWords, letter: str, was: tuple[int, int], now: tuple[int, int], inch: bool
    ) -> None:
        """An incremental word: the way from where the path really is, so that nothing adds up."""
        value = words.value(letter) or 0
        if abs(value - (native_of(was[1], inch) - native_of(was[0], inch))) > ROUNDING:
            raise words.refuse(f"its {letter} can't be told, so it can't be corrected")
        native = native_of(now[1], inch) - native_of(now[0], inch)
        if now[1] - now[0] != was[1] - was[0] and (native or words.value(letter) is not None):
            words.say(letter, self._number(native, inch, exact=True))

    def _circle(
        self, row: int, words: BlockWords, arc: PlannedArc, written: WrittenArc, start: list[int]
    ) -> None:
        """The words I J K, from the written start or absolute, or R."""
        if arc.r_form:
            sign = -1 if arc.major else 1
            words.say("R", self._number(sign * written.radius, arc.inch))
            return
        absolute = self._absolute_centre(row, words, arc)
        normal = 3 - sum(arc.axes)
        for axis, letter, centre in zip(arc.axes, CENTRE_LETTERS[normal], written.centre, strict=True):
            native = centre if absolute else centre - native_of(start[axis], arc.inch)
            if native or words.value(letter) is not None:
                words.say(letter, self._number(native, arc.inch, exact=True))

    def _absolute_centre(self, row: int, words: BlockWords, arc: PlannedArc) -> bool:
        """Whether the block's I J K are absolute: said by a word, else told by its own numbers.

        Raises CannotWrite where its numbers are neither reading of the centre that was traced.
        """
        said = self._state(row).arc_absolute
        letters = CENTRE_LETTERS[3 - sum(arc.axes)]
        off_absolute = off_step = 0.0
        for letter, start, centre in zip(letters, arc.old_start, arc.old_centre, strict=True):
            value = (words.value(letter) or 0) * scale(arc.inch)
            off_absolute = max(off_absolute, abs(value - centre))
            off_step = max(off_step, abs(value - (centre - start * GRAIN)))
        absolute = said if said is not None else off_absolute < off_step
        if (off_absolute if absolute else off_step) > ROUNDING * GRAIN + 1e-6:
            raise words.refuse("its I J K are not the centre that was read")
        return absolute

    def _time(self, row: int, words: BlockWords, start: list[int], end: list[int]) -> None:
        """In G93 the F word is a time: rescaled by the length, so that the feed along the path stays."""
        moves = self.moves
        if start == moves.start[row].tolist() and end == moves.end[row].tolist():
            return
        ratio = moved_ratio(moves, self.solution, row, start, end)
        if abs(ratio - 1) <= _SAME_TIME:
            return
        rate = float(moves.feed[row])
        if words.value("F") is None or not isfinite(rate) or rate <= 0 or inherited_feed(moves, row):
            raise words.refuse(
                "its length changes, but in G93 (inverse time) its F word does not stand for it alone",
                "Post the program with feed per minute (G94)",
            )
        rate *= ratio
        digits = max(0, min(_RATE_DIGITS - len(str(int(rate))), self.fineness.most))
        native = round(rate * 10**digits) * 10 ** (GRAIN_DIGITS - digits)
        words.say("F", Number(native, 0, self.fineness.most))


def goes_home(words: BlockWords) -> bool:
    """Whether the block goes to a place of the machine's own (G28, G30, G53), from wherever it starts."""
    return any(word.letter == ord("G") and word.value in _HOME for word in words.words)

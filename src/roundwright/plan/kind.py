"""What each move beside a ring is to those who let it follow; found out for many moves at once."""

from __future__ import annotations

from typing import Literal

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find.states import by_state
from roundwright.read import words_of
from roundwright.read.program import UNREAD
from roundwright.trace.moves import PLANE_AXES, ArcFault, Motion, Moves, datum_set
from roundwright.units import GRAIN, PER_UNIT

#: How a move can follow. upright, straight, arc and rapid can be edited; away goes to a place of its own
#: from wherever it starts (home, a drilled hole, another work offset), but its end cannot be edited;
#: blocked can neither; datum counts in a frame that was set from a position.
Kind = Literal["upright", "straight", "arc", "rapid", "away", "blocked", "datum"]
_KINDS: tuple[Kind, ...] = ("upright", "straight", "arc", "rapid", "away", "blocked", "datum")
_UPRIGHT, _STRAIGHT, _ARC, _RAPID, _AWAY, _BLOCKED, _DATUM = range(len(_KINDS))
_CURVED = (Motion.CW, Motion.CCW)
#: moves that are looked at together, and how many such blocks are kept: rings are asked about in order.
_BLOCK, _KEPT = 512, 8


class Step(Struct, frozen=True, gc=False):
    """A move as a ring's plane and frame see it: how far it goes in the plane (mm), and round (radians).

    A straight goes round by 0. `unread` tells that it is neither straight nor an arc, so that only the block
    itself says where it goes from anywhere.
    """

    kind: Kind
    length: float
    sweep: float
    unread: bool


class Steps:
    """The moves of a program as steps, by row, plane and frame."""

    def __init__(self, moves: Moves) -> None:
        self.moves = moves
        self._blocks: dict[tuple[int, int, int], tuple[list[Step], tuple[Kind, ...]]] = {}

    def __call__(self, row: int, normal: int, frame: int) -> Step:
        """One move, for a ring in the plane square to `normal` and in a frame."""
        block, at = divmod(row, _BLOCK)
        step = self._block(block, normal, frame)[0][at]
        if step.unread and not _goes_home(self.moves, row):
            return replace(step, kind="blocked")
        return step

    def kinds(self, rows: range, normal: int, frame: int) -> tuple[Kind, ...]:
        """What some moves in a row are, all unread ones `blocked`; nothing where they stand in two blocks."""
        block, first = divmod(rows.start, _BLOCK)
        if first + len(rows) > _BLOCK:
            return ()
        return self._block(block, normal, frame)[1][first : first + len(rows)]

    def _block(self, block: int, normal: int, frame: int) -> tuple[list[Step], tuple[Kind, ...]]:
        key = block, normal, frame
        found = self._blocks.get(key)
        if found is None:
            if len(self._blocks) >= _KEPT:
                self._blocks.clear()
            rows = np.arange(block * _BLOCK, min((block + 1) * _BLOCK, len(self.moves)))
            steps = _steps(self.moves, rows, normal, frame)
            kinds: tuple[Kind, ...] = tuple("blocked" if step.unread else step.kind for step in steps)
            found = self._blocks[key] = steps, kinds
        return found


def _steps(moves: Moves, rows: NDArray[np.intp], normal: int, frame: int) -> list[Step]:
    """Moves in a row as steps; those that are `unread` as if they went to one place from anywhere."""
    axes = list(PLANE_AXES[normal])
    mask = sum(1 << axis for axis in axes)
    start, end, motion = moves.start[rows][:, axes], moves.end[rows][:, axes], moves.motion[rows]
    was, becomes = moves.start_known[rows] & mask, moves.end_known[rows] & mask
    way, curved, other = end - start, np.isin(motion, _CURVED), motion == Motion.OTHER
    sweep, sound = _arcs(moves, rows, curved)
    kind = np.where(sound, _ARC, _BLOCKED)
    kind[motion == Motion.LINE] = _STRAIGHT
    kind[motion == Motion.RAPID] = _RAPID
    kind[other] = _BLOCKED
    kind[~(curved | ((becomes & ~was) != 0) | way.any(axis=1))] = _UPRIGHT
    kind[(becomes != mask) | (motion == Motion.CYCLE)] = _AWAY
    frames = by_state(moves, rows, lambda state: state.frame)
    elsewhere = frames != frame
    for place in set(frames[elsewhere].tolist()):
        kind[frames == place] = _DATUM if datum_set(moves.frames, frame, place) else _AWAY
    length = np.hypot(*(way * GRAIN).T)
    columns = (column.tolist() for column in (kind, length, sweep, other & ~elsewhere))
    return [Step(_KINDS[k], *rest) for k, *rest in zip(*columns, strict=True)]


def _arcs(
    moves: Moves, rows: NDArray[np.intp], curved: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """How far the arcs among some rows go round, 0 of other moves, and which are sound."""
    sweep, sound = np.zeros(len(rows)), np.zeros(len(rows), np.bool_)
    arc, _ = moves.arcs.at(rows[curved])
    sweep[curved], sound[curved] = np.abs(moves.arcs.sweep[arc]), moves.arcs.fault[arc] == ArcFault.NONE
    return sweep, sound


def _goes_home(moves: Moves, row: int) -> bool:
    """Whether the block goes home or to machine coordinates (G28, G30, G53): from anywhere to one place.

    Where it cannot be read as a whole it may go there in some axes only.
    """
    line = int(moves.line[row])
    if moves.program.flags[line] & UNREAD:
        return False
    words = words_of(moves.program, line)
    return any(word.letter == ord("G") and word.value // PER_UNIT in (28, 30, 53) for word in words)

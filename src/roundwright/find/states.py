"""What the modal states of moves say, as columns."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from roundwright.read.distinct import distinct
from roundwright.trace.moves import Moves, State

#: so few moves and states are looked up at once.
_MOVES, _STATES = 1 << 12, 1 << 5


def by_state(moves: Moves, row: NDArray[np.intp] | slice, pick: Callable[[State], float]) -> NDArray[Any]:
    """What the state of each row (k,) says; asked once for each state.

    Moves in one state stand in runs: where there are many those are looked up, not the moves.
    """
    state = moves.state[row]
    if len(state) <= _MOVES and len(moves.states) <= _STATES:
        return np.asarray(np.array([pick(one) for one in moves.states])[state])
    begins = np.flatnonzero(np.concatenate((np.ones(len(state[:1]), np.bool_), state[1:] != state[:-1])))
    runs = state[begins]
    used = distinct(runs)
    values = np.array([pick(moves.states[k]) for k in used.tolist()])
    return np.repeat(values[np.searchsorted(used, runs)], np.diff(np.append(begins, len(state))))

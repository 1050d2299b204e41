"""What the modal states of moves say, as columns."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from roundwright.read.distinct import distinct
from roundwright.trace.moves import Moves, State


def by_state(moves: Moves, row: NDArray[np.intp], pick: Callable[[State], float]) -> NDArray[Any]:
    """What the state of each row (k,) says; asked of the states that occur there, however many others are."""
    state = moves.state[row]
    used = distinct(state)
    return np.array([pick(moves.states[k]) for k in used.tolist()])[np.searchsorted(used, state)]

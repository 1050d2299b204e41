"""What the modal states of moves say, as whole numbers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from roundwright.find.states import by_state
from roundwright.trace.moves import Moves, State


def of_states(moves: Moves, row: NDArray[np.int64], says: Callable[[State], int]) -> NDArray[np.int64]:
    """What the state of each of these moves (s,) says."""
    return np.asarray(by_state(moves, row, says).astype(np.int64))

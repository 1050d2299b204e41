"""The trace room."""

from roundwright.trace.moves import (
    CENTRE_LETTERS,
    PLANE_AXES,
    PLANE_NAMES,
    ArcFault,
    Arcs,
    Motion,
    Moves,
    Section,
    State,
)
from roundwright.trace.trace import trace_moves

__all__ = [
    "CENTRE_LETTERS",
    "PLANE_AXES",
    "PLANE_NAMES",
    "ArcFault",
    "Arcs",
    "Motion",
    "Moves",
    "Section",
    "State",
    "trace_moves",
]

"""The find room's product: circular features, with what is known of their side and why."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from msgspec import Struct

from roundwright.settings import Cut, Cutter, Side

Turn = Literal["cw", "ccw", "both"]
Form = Literal["arc", "helix", "chords"]
Fault = Literal[
    "",
    "side-unknown",
    "tool-unknown",
    "tool-shape",
    "tool-doubtful",
    "taper",
    "thread",
    "cut-away",
    "not-clean",
    "unsupported-mode",
    "position-unknown",
]


class Ring(Struct, frozen=True, gc=False, array_like=True):
    """All cutting on one circle by one tool in one frame. Lengths in mm.

    `rows` are its moves (indices into `Moves`) in program order, arcs only; `radius` is the circle that
    the tool centre runs.
    """

    rows: tuple[int, ...]
    centre: tuple[float, float]
    radius: float
    turn: Turn
    z: tuple[float, float]  # highest and lowest
    normal: int
    frame: int
    section: int
    passes: int  # whole turns
    forms: tuple[Form, ...]
    flat: bool  # the deepest turn is flat
    known: bool  # the position is known
    tolerance: float = 1e-3  # mm: how far the written numbers leave its points open
    over_flats: float | None = None  # radius at the middle of the longest chord, None where there is none
    aside: float = 0.0  # mm: how much wider the tool's centre runs, beside a compensated contour

    @property
    def path(self) -> float:
        """Radius of the circle that the tool's centre runs, mm."""
        return self.radius + self.aside


class Feature(Struct, frozen=True, gc=False, array_like=True):
    """A hole, boss or groove, or a circle that is none of them for certain. Lengths in mm.

    `fault` is empty where nothing found so far speaks against correcting it; else `why` says in a
    sentence what is wrong and what would settle it. `notes` are facts for the listing.
    """

    id: str
    side: Side
    evidence: str
    wall: Ring
    clearing: tuple[Ring, ...]
    frame: str
    cutter: Cutter | None
    diameter: float | None
    cut: Cut
    lines: tuple[int, int]  # first and last line, from 0
    fault: Fault = ""
    why: str = ""
    notes: tuple[str, ...] = ()
    survives: float = 1.0  # share of the wall's circumference that no other cut removes
    crossed: tuple[int, ...] = ()  # rows of the other moves that cut across the wall, in order
    as_said: bool = False  # the path tells no side, it is what the caller says


def free_of_doubt(features: Iterable[Feature]) -> bytes:
    """Of each, 1 where its path tells its side: its leads stay free of doubt whatever a correction does."""
    return bytes(f.side != "unknown" and not f.as_said for f in features)

"""What a run is asked to do, as frozen values: nothing here reads a file or knows a room."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct, field

Side = Literal["hole", "boss", "groove", "unknown"]
Cut = Literal["climb", "conventional", "both", "unknown"]
ArcCentres = Literal["auto", "incremental", "absolute"]
Spread = Literal["rings", "wall"]


class Cutter(Struct, frozen=True):
    """A tool as the finder must know it. `diameter` in mm is what the program was made for."""

    name: str
    diameter: float
    number: int | None = None
    cylindrical: bool = True


class Machine(Struct, frozen=True):
    """What finding circles must know of the machine; the defaults hold where no table speaks."""

    spindle_axis: Literal["X", "Y", "Z"] = "Z"
    clockwise: bool = True  # spindle direction where the program has no M3 or M4
    contour: bool = True  # a G41/G42 path is the contour itself, not a wear offset
    chord_sagitta: float = 0.1  # mm
    decimals: int | None = None  # the most decimals that the control reads


class Settings(Struct, frozen=True):
    """One run of `correct`, lengths in mm.

    `tools` names the table's tool by program tool number, by section ("@2") or, with key None, for the
    whole program; `diameters` are programmed diameters by the same kind of tool key (number or name).
    `sides` are overrides by feature id. `only`, `skip` and `targets` are keyed by id or diameter text.
    """

    material: str | None = None
    measured: tuple[tuple[float, float], ...] = ()  # as typed, in the unit of `measured_inch`
    measured_inch: bool | None = None  # None: the program's units
    tools: Mapping[int | str | None, str] = field(default_factory=dict)
    diameters: Mapping[str, float] = field(default_factory=dict)
    sides: Mapping[str, Side] = field(default_factory=dict)
    side: Side | None = None
    cut: Literal["climb", "conventional"] | None = None
    only: tuple[str, ...] = ()
    skip: tuple[str, ...] = ()
    arc_centres: ArcCentres = "auto"
    limit: float | None = None
    spread: Spread = "rings"
    stamp: bool = True
    again: bool = False
    strict: bool = False
    targets: Mapping[str, str] = field(default_factory=dict)

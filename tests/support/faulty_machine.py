"""Readings of circles as a machine with known faults would give them, for tests of the diagnosis."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import sqrt

import numpy as np

from roundwright.calibration import Condition, Defaults, Instrument, Limits, Reading, Table, Tool
from roundwright.settings import Machine

TOOL = Tool(1, "6 mm upcut", 6.0)
CALIPER = Instrument("caliper", 0.03)


@dataclass(frozen=True)
class Faults:
    """Scale as a fraction, squareness in rad, the rest in mm; `grain` is what X gains and Y loses."""

    scale_x: float = 0.0
    scale_y: float = 0.0
    squareness: float = 0.0
    lost_x: float = 0.0
    lost_y: float = 0.0
    constant: float = 0.0
    grain: float = 0.0


@dataclass
class Shop:
    """A machine with its noise: of a whole cut, of each figure, and one bias of the caliper."""

    faults: Faults
    cut_noise: float = 0.0
    figure_noise: float = 0.0
    bias: float = 0.0
    seed: int = 1
    tool: Tool = TOOL
    chance: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        self.chance = np.random.default_rng(self.seed)

    def reading(
        self, size: float, side: str, cut: str, figures: str = "x y d45 d135", *, turned: bool = False
    ) -> Reading:
        """One circle, cut and measured. Written out here, not taken from the product."""
        f = self.faults
        path = size + {"hole": -1, "boss": 1, "groove": 0}[side] * self.tool.diameter
        way = (1 if cut == "climb" else -1) * (1 if side == "hole" else -1)
        common = size + f.constant + self.bias + self.chance.normal(0.0, self.cut_noise)
        both, apart = (f.scale_x + f.scale_y) * path / 2, way * (f.lost_x - f.lost_y) / sqrt(2)
        grain = -f.grain if turned else f.grain
        true = {
            "x": f.scale_x * path - f.lost_x + grain,
            "y": f.scale_y * path - f.lost_y - grain,
            "d45": both + f.squareness * path / 2 + apart,
            "d135": both - f.squareness * path / 2 - apart,
        }
        true["diameter"] = (true["x"] + true["y"]) / 2
        shown = {
            key: common + true[key] + self.chance.normal(0.0, self.figure_noise) for key in figures.split()
        }
        return Reading(size, **shown, instrument="caliper", note="turned" if turned else "")

    def condition(
        self,
        side: str = "hole",
        cut: str = "climb",
        sizes: Iterable[float] = (12.0, 20.0, 35.0, 60.0),
        figures: str = "x y d45 d135",
        material: str = "acetal",
        repeat: int = 1,
    ) -> Condition:
        """A ladder of sizes."""
        readings = tuple(self.reading(size, side, cut, figures) for size in sizes for _ in range(repeat))
        return Condition(self.tool.key, material, side, cut, readings=readings)  # type: ignore[arg-type]

    def table(self, *conditions: Condition, inch: bool = False) -> Table:
        """The table of this machine."""
        rest = Machine(), Defaults(), Limits(), (self.tool,), (CALIPER,), conditions
        return Table("shop-router", "t.toml", inch, *rest)


WAYS = ("climb", "conventional")

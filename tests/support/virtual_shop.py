"""A simulated machine shop: its hidden faults, what it cuts from a program, what its caliper then shows.

The diameters that a cut comes out with are those of a circular test (geometry of the design notes, written
out here and not taken from the product), the path and its turn are read from the program's own moves by the
tests' plain interpreter.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import cos, hypot, pi, radians, sin, sqrt
from pathlib import Path

import numpy as np

from plain_interpreter import Plain
from roundwright.read import read_program

FIGURES = ("x", "y", "d45", "d135")
SIGN = {"hole": 1.0, "boss": -1.0}


@dataclass(frozen=True)
class Circle:
    """A wall as it was run: sizes in mm, `turn` is 1 counter-clockwise, −1 clockwise."""

    id: str
    side: str
    path: float
    turn: int

    def programmed(self, cutter: float) -> float:
        return self.path + SIGN[self.side] * cutter


@dataclass(frozen=True)
class Hidden:
    """What nobody in the shop knows. Scales as fractions, squareness in rad, lengths in mm.

    `cutter` is how much the cutter is larger than programs assume. `give` is how far it stands off a
    straight wall (radially, by cut), `springs` how much more so on a side. `scatter` is that from cut to
    cut, `figure` that of one figure of one cut.
    """

    scale_x: float
    scale_y: float
    squareness: float
    lost_x: float
    lost_y: float
    cutter: float
    give: Mapping[str, float]
    springs: Mapping[str, float]
    scatter: float
    figure: float
    made_for: float = 6.0
    bends: float = 1.0  # the cutter gives by its engagement to this power; 0: alike on every circle

    def stands_off(self, side: str, cut: str, diameter: float) -> float:
        """What the cutter's bending adds to a diameter, mm: holes get smaller, bosses larger.

        A cutter bends with the width that it is engaged for: inside a circle D/(D − d) times that at a
        straight wall, outside D/(D + d) times (cosine law of radial engagement, for a thin last cut).
        """
        engaged = diameter / (diameter - SIGN[side] * self.made_for)
        return -SIGN[side] * 2.0 * self.give[cut] * self.springs[side] * engaged**self.bends


def hidden(chance: np.random.Generator, **known: float) -> Hidden:
    """A machine drawn by chance, with whatever is to be known of it."""
    drawn = {
        "scale_x": chance.normal(0.0, 1.5e-3),
        "scale_y": chance.normal(0.0, 1.5e-3),
        "squareness": chance.normal(0.0, 1e-3),
        "lost_x": abs(chance.normal(0.0, 0.03)),
        "lost_y": abs(chance.normal(0.0, 0.03)),
        "cutter": chance.normal(-0.03, 0.02),
        "give": {"climb": chance.uniform(0.01, 0.03), "conventional": chance.uniform(-0.01, 0.01)},
        "springs": {"hole": 1.0, "boss": chance.uniform(0.7, 1.3)},
        "scatter": chance.uniform(0.004, 0.012),
        "figure": chance.uniform(0.002, 0.005),
        "bends": chance.uniform(0.7, 1.0),  # force grows a little slower than the width (common practice)
    }
    return Hidden(**{**drawn, **known})  # type: ignore[arg-type]


@dataclass
class Shop:
    """A machine and its caliper. The caliper's bias is drawn anew each session, never within one."""

    machine: Hidden
    chance: np.random.Generator
    limit: float = 0.02
    jaws: float = 0.3
    step: float = 0.001  # the caliper's last digit
    bias: float = field(init=False, default=0.0)

    def new_session(self) -> None:
        """Another day: the caliper is wiped, set to zero, held otherwise."""
        self.bias = float(self.chance.uniform(-self.limit, self.limit))

    def cut(self, circle: Circle) -> dict[str, float]:
        """The diameters in four directions that a circle really gets, mm."""
        m, path, size = self.machine, circle.path, circle.programmed(self.machine.made_for)
        climbs = circle.turn * SIGN[circle.side] > 0
        common = size + SIGN[circle.side] * m.cutter
        common += m.stands_off(circle.side, "climb" if climbs else "conventional", size)
        common += self.chance.normal(0.0, m.scatter)
        both, apart = (m.scale_x + m.scale_y) * path / 2, circle.turn * (m.lost_x - m.lost_y) / sqrt(2)
        true = {
            "x": m.scale_x * path - m.lost_x,
            "y": m.scale_y * path - m.lost_y,
            "d45": both + m.squareness * path / 2 + apart,
            "d135": both - m.squareness * path / 2 - apart,
        }
        cut = {key: common + true[key] + self.chance.normal(0.0, m.figure) for key in FIGURES}
        return cut | {"diameter": (cut["x"] + cut["y"]) / 2}

    def shows(self, circle: Circle, diameter: float) -> float:
        """What the caliper shows of a diameter: flat inside jaws touch on a chord."""
        chord = sqrt(diameter**2 - self.jaws**2) if circle.side == "hole" else diameter
        return round((chord + self.bias) / self.step) * self.step

    def readings(self, cuts: Iterable[tuple[Circle, Mapping[str, float]]], figures: Iterable[str]) -> str:
        """Readings of cut circles as the CSV that `measure` takes."""
        figures = tuple(figures)
        rows = [",".join(("id", *figures, "instrument"))]
        for circle, true in cuts:
            shown = (f"{self.shows(circle, true[key]):.3f}" for key in figures)
            rows.append(",".join((circle.id, *shown, "caliper")))
        return "\n".join(rows) + "\n"


def circles(program: Path, record: Path) -> tuple[Circle, ...]:
    """The walls of a program as its moves run them, by the ids and centres of its record."""
    rows = [row for row in Plain().run(read_program(program.read_bytes(), program.name)) if row.centre]
    found = []
    for feature in json.loads(record.read_text())["features"]:
        x, y = feature["centre"]
        here = [row for row in rows if hypot(row.centre[0] - x, row.centre[1] - y) < 0.05]
        wall = max(here, key=lambda row: SIGN[feature["side"]] * row.radius)
        found.append(Circle(feature["id"], feature["side"], 2 * wall.radius, 1 if wall.motion == 3 else -1))
    return tuple(found)


def table_text(shop: Shop) -> str:
    """The table of a shop that has measured nothing yet, with a remark that must stay."""
    return (
        '# The back room.\nschema = "roundwright.table/1"\n\n[machine]\nname = "back room"\nunits = "mm"\n\n'
        f'[defaults]\nmaterial = "acetal"\n\n[[tool]]\nnumber = 1\ndiameter = {shop.machine.made_for}\n\n'
        f'[[instrument]]\nname = "caliper"\nlimit = {shop.limit:.4f}\njaw_width = {shop.jaws}\n'
    )


def swept_width(circle: Circle, machine: Hidden, angle: float, steps: int = 7200) -> float:
    """The widest chord along `angle` (degrees) of what an errant path leaves, mm; for the shop's own test.

    Each axis has its scale and follows with play: it stands still where it turns back until its lost motion
    is taken up. Y leans, and the cutter is round. Independent of the formulas in `Shop.cut`.
    """
    radius = circle.path / 2
    unit = cos(radians(angle)), sin(radians(angle))
    x = y = 0.0
    extent = []
    for k in range(2 * steps):  # the first turn takes the play up
        at = circle.turn * 2 * pi * k / steps
        x = _follow(x, radius * cos(at) * (1 + machine.scale_x), machine.lost_x)
        y = _follow(y, radius * sin(at) * (1 + machine.scale_y), machine.lost_y)
        if k >= steps:
            extent.append((x + machine.squareness * y) * unit[0] + y * unit[1])
    return max(extent) - min(extent) + SIGN[circle.side] * machine.made_for


def _follow(place: float, wanted: float, play: float) -> float:
    """Where an axis is that was at `place` and is pushed towards `wanted` through its play."""
    return min(max(place, wanted - play / 2), wanted + play / 2)

"""What a coupon is asked to be, where its circles go on the stock, and what does not fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from msgspec import Struct

from roundwright.calibration import Tool
from roundwright.calibration.text import length_text
from roundwright.coupon.rings import boss_outline
from roundwright.errors import SettingsError
from roundwright.units import INCH, MICROMETRE

CouponSide = Literal["hole", "boss"]
CouponCut = Literal["climb", "conventional"]

#: what stays between a circle and the stock's edge, beside one cutter diameter. mm
EDGE = 5.0
#: how far above the stock rapids end, and the least safe height. mm
CLEAR = 1.0
#: what a boss stands on at least. mm
FLOOR = 1.0
#: a hole this little larger than the cutter leaves no room for a helix.
_ROOM = 1.1
#: a boss is at least this thick for its height, or it may break off. Common practice, no source.
_SLENDER = 0.5
#: step-over as a share of the cutter's diameter: more leaves ridges, less takes all day.
_STEPOVER = (0.02, 0.9)
_GRID_MM, _GRID_INCH = 0.5, 0.02 * INCH  # centres are round numbers
_MOST = 1000


class Recipe(Struct, frozen=True):
    """What a coupon is asked to be. Lengths in mm, feeds in mm/min, speed in 1/min.

    `inch` is the unit that the program is written in, `decimals` how finely; `clockwise` is the spindle.
    """

    tool: Tool
    material: str
    diameters: tuple[float, ...]
    sides: tuple[CouponSide, ...]
    cuts: tuple[CouponCut, ...]
    repeat: int
    depth: float
    stepdown: float
    stepover: float
    feed: float
    plunge: float
    speed: float
    stock: tuple[float, float, float]
    safe_z: float
    inch: bool = False
    clockwise: bool = True
    decimals: int = 4

    def length(self, millimetres: float) -> str:
        """A length for people, in the coupon's unit."""
        return f"{self.bare(millimetres)} {'in' if self.inch else 'mm'}"

    def bare(self, millimetres: float) -> str:
        """The same without its unit."""
        return length_text(millimetres, inch=self.inch)


class Spot(Struct, frozen=True):
    """One circle of a coupon: its id, in the order of cutting, and where it is. mm."""

    id: str
    side: CouponSide
    cut: CouponCut
    diameter: float
    centre: tuple[float, float]


class Layout(Struct, frozen=True):
    """A coupon whose every circle has its place."""

    recipe: Recipe
    spots: tuple[Spot, ...]


def lay_out(recipe: Recipe) -> Layout:
    """Give every circle its place on the stock, at least a cutter diameter from every other.

    Repeats lie apart from each other where the stock is large enough. Raises SettingsError, in plain words,
    for what does not fit the tool or the stock.
    """
    _check_ladder(recipe)
    _check_tool(recipe)
    _check_cut(recipe)
    for diameter in recipe.diameters:
        for side in recipe.sides:
            _check_circle(recipe, side, diameter)
    wanted = [
        (side, cut, diameter)
        for _ in range(recipe.repeat)
        for side in recipe.sides
        for cut in recipe.cuts
        for diameter in sorted(recipe.diameters, reverse=True)
    ]
    if len(wanted) > _MOST:
        raise SettingsError(f"{len(wanted)} circles are too many for one coupon", cure="Take fewer repeats")
    tight = sorted(wanted, key=lambda w: -_reach(recipe, w[0], w[2]))
    needed = 0.0
    for order in (wanted, tight):
        centres, needed = _shelves([_reach(recipe, side, diameter) for side, _, diameter in order], recipe)
        if needed <= recipe.stock[1]:
            spots = (
                Spot(f"C{k + 1}", *circle, centre)
                for k, (circle, centre) in enumerate(zip(order, centres, strict=True))
            )
            return Layout(recipe, tuple(spots))
    raise _too_small(recipe, len(wanted), needed)


def reach_of(recipe: Recipe, spot: Spot) -> float:
    """How far from its centre a circle's cutting goes, mm."""
    return _reach(recipe, spot.side, spot.diameter)


def _reach(recipe: Recipe, side: CouponSide, diameter: float) -> float:
    if side == "hole":
        return diameter / 2
    corner = boss_outline(diameter, recipe.tool.diameter, recipe.stepover)
    return (corner or math.inf) + recipe.tool.diameter / 2


def _shelves(reaches: Sequence[float], recipe: Recipe) -> tuple[list[tuple[float, float]], float]:
    """Centres row by row from the lower left corner, and the Y they need; infinite where X is too small."""
    gap, edge = recipe.tool.diameter, recipe.tool.diameter + EDGE
    rows: list[list[float]] = []
    x, end = edge, recipe.stock[0] - edge
    centres_x: list[float] = []
    for reach in reaches:
        if not rows or _up(x + reach, recipe) + reach > end:
            rows.append([])
            x = edge
        rows[-1].append(reach)
        centres_x.append(_up(x + reach, recipe))
        x = centres_x[-1] + reach + gap
        if centres_x[-1] + reach > end:
            return [], math.inf
    centres_y: list[float] = []
    y = edge
    for row in rows:
        middle = _up(y + max(row), recipe)
        centres_y += [middle] * len(row)
        y = middle + max(row) + gap
    return list(zip(centres_x, centres_y, strict=True)), y - gap + edge


def _up(value: float, recipe: Recipe) -> float:
    """The next round number."""
    grid = _GRID_INCH if recipe.inch else _GRID_MM
    return math.ceil(value / grid - 1e-9) * grid


def _too_small(recipe: Recipe, circles: int, needed: float) -> SettingsError:
    x, y, _ = recipe.stock
    room = (
        f"{recipe.length(recipe.tool.diameter)} between them and "
        f"{recipe.length(recipe.tool.diameter + EDGE)} at the edges"
    )
    if math.isinf(needed):
        what = f"the largest circle does not fit across a stock {recipe.length(x)} long in X"
    else:
        what = (
            f"{circles} circles need {recipe.length(needed)} of stock in Y, this one has {recipe.length(y)}"
        )
    return SettingsError(f"{what}, with {room}", cure="Take a larger piece, or fewer circles")


def _check_cut(recipe: Recipe) -> None:
    """How the coupon is cut makes sense in itself and for the tool."""
    cutter = recipe.tool.diameter
    least, most = (share * cutter for share in _STEPOVER)
    lengths = (recipe.depth, recipe.stepdown, recipe.stepover, recipe.safe_z, *recipe.stock)
    if min(*lengths, recipe.feed, recipe.plunge, recipe.speed) <= 0 or recipe.repeat < 1:
        raise SettingsError("lengths, feeds, speed and repeats of a coupon are more than nothing")
    if recipe.safe_z < CLEAR:
        raise SettingsError(
            f"a safe height of {recipe.length(recipe.safe_z)} is none",
            cure=f"Let rapids clear the stock by {recipe.length(CLEAR)} at least",
        )
    if not least <= recipe.stepover <= most:
        raise SettingsError(
            f"a step-over of {recipe.length(recipe.stepover)} does not suit "
            f"a cutter of {recipe.length(cutter)}",
            cure=f"Take one between {recipe.length(least)} and {recipe.length(most)}",
        )
    if recipe.depth > recipe.stock[2]:
        raise SettingsError(
            f"a depth of {recipe.length(recipe.depth)} goes through a stock of "
            f"{recipe.length(recipe.stock[2])} into what is below it",
            cure="Cut less deep: a blind hole measures as well",
        )
    if "boss" in recipe.sides and recipe.depth > recipe.stock[2] - FLOOR:
        raise SettingsError(
            f"bosses {recipe.length(recipe.depth)} high would come loose from a stock of "
            f"{recipe.length(recipe.stock[2])}",
            cure=f"Leave at least {recipe.length(FLOOR)} under them",
        )


def _check_tool(recipe: Recipe) -> None:
    if recipe.tool.form != "cylindrical":
        raise SettingsError(
            f"{recipe.tool.name} is {recipe.tool.form}: its circles have no one diameter",
            cure="Take a cylindrical cutter",
        )


def _check_circle(recipe: Recipe, side: CouponSide, diameter: float) -> None:
    cutter = recipe.tool.diameter
    if side == "hole" and diameter <= cutter:
        raise SettingsError(
            f"a hole of {recipe.length(diameter)} cannot be cut with a tool of {recipe.length(cutter)}",
            cure="Take larger holes or a smaller tool",
        )
    if side == "hole" and diameter < _ROOM * cutter:
        raise SettingsError(
            f"a hole of {recipe.length(diameter)} leaves a tool of {recipe.length(cutter)} "
            "no room to wind in",
            cure=f"Take holes of at least {recipe.length(_ROOM * cutter)}",
        )
    if side == "boss" and diameter < max(_SLENDER * recipe.depth, _SLENDER * cutter):
        raise SettingsError(
            f"a boss of {recipe.length(diameter)} may break off at a height of {recipe.length(recipe.depth)}",
            cure=f"Take bosses of at least {recipe.length(_SLENDER * max(recipe.depth, cutter))}",
        )
    if side == "boss" and boss_outline(diameter, cutter, recipe.stepover) is None:
        raise SettingsError(
            f"a boss of {recipe.length(diameter)} is too large "
            f"to be cleared by a tool of {recipe.length(cutter)}",
            cure="Take smaller bosses or a larger tool",
        )


def _check_ladder(recipe: Recipe) -> None:
    """The diameters are there, and apart."""
    if not recipe.diameters or min(recipe.diameters) <= 0:
        raise SettingsError("a coupon needs diameters", cure="Say --diameters 8,12,20,35")
    for one, other in pairwise(sorted(recipe.diameters)):
        if other - one <= 2 * MICROMETRE:
            raise SettingsError(
                f"the diameter {recipe.length(one)} is given twice", cure="Say --repeat 2 for two of each"
            )

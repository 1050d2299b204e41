"""Writes a coupon as a program: every hole and boss cut to depth as it would be in production."""

from __future__ import annotations

import math

from pygcode.gcodes import (
    GCodeAbsoluteDistanceMode,
    GCodeCutterRadiusCompOff,
    GCodeEndProgramPalletShuttle,
    GCodeIncrementalArcDistanceMode,
    GCodeSelectTool,
    GCodeSelectXYPlane,
    GCodeSpindleSpeed,
    GCodeStartSpindleCCW,
    GCodeStartSpindleCW,
    GCodeStopSpindle,
    GCodeToolChange,
    GCodeUnitsPerMinuteMode,
    GCodeUseInches,
    GCodeUseMillimeters,
)

from roundwright.coupon.blocks import Blocks, Point
from roundwright.coupon.layout import CLEAR, Layout, Recipe, Spot
from roundwright.coupon.rings import CONTACT, boss_outline, boss_radii, hole_radii, outline_corners
from roundwright.units import millimetres

#: helices and ramps go down at most this much per length of path. Common practice, no source.
SLOPE = 0.1

_CAUTIONS = (
    "Caution: read this program, then run it in the air, clear of clamps and vice, a hand on the stop. "
    "Clamp outside the circles and below the safe height.",
    "Eye and ear protection, a mask where there is dust, nothing loose near the spindle. "
    "The machine's manual, local rules and trained people come first.",
)


def coupon_program(layout: Layout, machine: str) -> bytes:
    """The program of a coupon for the machine of that name: ASCII, lines ended by a line feed."""
    recipe = layout.recipe
    blocks = Blocks(inch=recipe.inch, decimals=recipe.decimals)
    _head(blocks, layout, machine)
    for spot in layout.spots:
        blocks.gap()
        blocks.remark(f"{spot.id} {spot.side} {recipe.bare(spot.diameter)} {spot.cut}")
        (_hole if spot.side == "hole" else _boss)(blocks, spot, recipe)
        blocks.rapid(z=recipe.safe_z)
    blocks.gap()
    blocks.codes(GCodeStopSpindle())
    blocks.codes(GCodeEndProgramPalletShuttle())
    return blocks.text()


def _head(blocks: Blocks, layout: Layout, machine: str) -> None:
    recipe = layout.recipe
    tool = recipe.tool
    x, y, z = (recipe.bare(length) for length in recipe.stock)
    number = "" if tool.number is None else f"T{tool.number} "
    blocks.remark(
        f"Coupon of {len(layout.spots)} circles for {machine}: {number}{tool.name}, {recipe.material}"
    )
    blocks.remark(f"Tool diameter {recipe.length(tool.diameter)}. Lengths in {_unit(recipe)}.")
    blocks.remark(
        f"Stock {x} by {y} by {z}, cut {recipe.bare(recipe.depth)} deep. X0 Y0 is its lower left corner, "
        f"Z0 its top, {recipe.bare(recipe.safe_z)} the safe height."
    )
    for caution in _CAUTIONS:
        blocks.remark(caution)
    blocks.codes(GCodeUseInches() if recipe.inch else GCodeUseMillimeters())
    blocks.codes(GCodeSelectXYPlane(), GCodeAbsoluteDistanceMode(), GCodeUnitsPerMinuteMode())
    blocks.codes(GCodeCutterRadiusCompOff())
    blocks.codes(GCodeIncrementalArcDistanceMode())
    if tool.number is not None:
        blocks.codes(GCodeSelectTool(tool.number), GCodeToolChange())
    spindle = GCodeStartSpindleCW() if recipe.clockwise else GCodeStartSpindleCCW()
    blocks.codes(GCodeSpindleSpeed(blocks.rate("S", recipe.speed)), spindle)
    blocks.rapid(z=recipe.safe_z)


def _unit(recipe: Recipe) -> str:
    return "inches" if recipe.inch else "mm"


def counter_clockwise(spot: Spot, recipe: Recipe) -> bool:
    """Which way the tool goes.

    A clockwise spindle climbs counter-clockwise in a hole, clockwise round a boss.
    Source: DEVELOPERS.md, The mathematics.
    """
    return ((spot.side == "hole") == (spot.cut == "climb")) == recipe.clockwise


def written_diameter(recipe: Recipe, spot: Spot) -> float:
    """The diameter in mm that the program says: the wall's, as coarse as its last decimal makes it."""
    cutter = recipe.tool.diameter
    radius = (spot.diameter - cutter if spot.side == "hole" else spot.diameter + cutter) / 2
    unit = millimetres(10.0**-recipe.decimals, inch=recipe.inch)
    x, y = (round(radius * along / unit) * unit for along in (math.cos(CONTACT), math.sin(CONTACT)))
    return 2 * math.hypot(x, y) + (cutter if spot.side == "hole" else -cutter)


def _depths(recipe: Recipe) -> list[float]:
    """The depth of each pass, mm below the top, all passes alike."""
    passes = math.ceil(recipe.depth / recipe.stepdown - 1e-9)
    return [recipe.depth * k / passes for k in range(1, passes + 1)]


def _down(blocks: Blocks, start: Point, recipe: Recipe) -> None:
    """Over the start and down to the top of the stock."""
    blocks.rapid(start)
    blocks.rapid(z=CLEAR)
    blocks.feed(None, 0.0, recipe.plunge)


def _contact(spot: Spot, radius: float) -> Point:
    x, y = spot.centre
    return x + radius * math.cos(CONTACT), y + radius * math.sin(CONTACT)


def _hole(blocks: Blocks, spot: Spot, recipe: Recipe) -> None:
    """Per depth: down in a helix, a flat turn, ring by ring outward, the wall last, back to the helix."""
    radii = hole_radii(spot.diameter, recipe.tool.diameter, recipe.stepover)
    ccw = counter_clockwise(spot, recipe)
    entry = _contact(spot, radii[0])
    _down(blocks, entry, recipe)
    above = 0.0
    for depth in _depths(recipe):
        turns = _laps(depth - above, math.tau * radii[0])
        for turn in range(1, turns + 1):
            z = -(above + (depth - above) * turn / turns)
            blocks.circle(spot.centre, entry, ccw=ccw, z=z, speed=recipe.plunge)
        for radius in radii:
            start = _contact(spot, radius)
            if radius != radii[0]:
                blocks.feed(start, None, recipe.feed)
            blocks.circle(spot.centre, start, ccw=ccw, z=None, speed=recipe.feed)
        blocks.feed(entry, None, recipe.feed)
        above = depth


def _boss(blocks: Blocks, spot: Spot, recipe: Recipe) -> None:
    """Per depth: down along the outline outside, a flat lap, in to the ring, to the wall, out again."""
    cutter = recipe.tool.diameter
    corner = boss_outline(spot.diameter, cutter, recipe.stepover)
    assert corner is not None, "the layout has seen to it"
    x, y = spot.centre
    ccw = counter_clockwise(spot, recipe)
    corners = [(x + dx, y + dy) for dx, dy in outline_corners(corner)]
    lap = [*(corners[1:] if ccw else reversed(corners[1:])), corners[0]]
    _down(blocks, corners[0], recipe)
    above = 0.0
    for depth in _depths(recipe):
        ramp = lap * _laps(depth - above, len(lap) * math.dist(*corners[:2]))
        for k, point in enumerate(ramp, start=1):
            blocks.feed(point, -(above + (depth - above) * k / len(ramp)), recipe.plunge)
        for point in lap:
            blocks.feed(point, None, recipe.feed)
        for radius in boss_radii(spot.diameter, cutter, recipe.stepover):
            start = _contact(spot, radius)
            blocks.feed(start, None, recipe.feed)
            blocks.circle(spot.centre, start, ccw=ccw, z=None, speed=recipe.feed)
        blocks.feed(corners[0], None, recipe.feed)
        above = depth


def _laps(down: float, length: float) -> int:
    """How many laps of that length it takes to go down no steeper than the slope."""
    return max(1, math.ceil(down / (SLOPE * length) - 1e-9))

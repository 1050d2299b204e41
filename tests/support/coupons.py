"""Coupons for tests: a recipe with whatever is to be different, a table that serves it, what is found."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from roundwright import pipeline
from roundwright.calibration import Table, Tool, open_table
from roundwright.coupon import Layout, Recipe, coupon_program, lay_out
from roundwright.pipeline import Outcome
from roundwright.settings import Settings
from roundwright.units import millimetres, native

BIRCH = "birch ply"
SIX = Recipe(
    tool=Tool(1, "6 mm two-flute upcut", 6.0),
    material=BIRCH,
    diameters=(10.0, 20.0, 35.0),
    sides=("hole",),
    cuts=("climb",),
    repeat=1,
    depth=6.0,
    stepdown=3.0,
    stepover=2.4,
    feed=1800.0,
    plunge=600.0,
    speed=16000.0,
    stock=(600.0, 500.0, 18.0),
    safe_z=5.0,
)


def inches(length: float) -> float:
    return millimetres(length, inch=True)


QUARTER = replace(
    SIX,
    tool=Tool(1, "quarter inch", inches(0.25)),
    diameters=(inches(0.375), inches(0.75), inches(1.5)),
    depth=inches(0.25),
    stepdown=inches(0.125),
    stepover=inches(0.1),
    feed=inches(70),
    plunge=inches(24),
    stock=(inches(24), inches(20), inches(0.75)),
    safe_z=inches(0.2),
    inch=True,
    decimals=5,
)


def both(recipe: Recipe, **changes: Any) -> Recipe:
    """Holes and bosses, cut both ways."""
    return replace(recipe, **{"sides": ("hole", "boss"), "cuts": ("climb", "conventional"), **changes})


def table_for(recipe: Recipe) -> Table:
    """A table that has a correction for every circle of the coupon."""
    unit = "in" if recipe.inch else "mm"
    cutter, small, large = (native(x, inch=recipe.inch) for x in (recipe.tool.diameter, 1.0, 400.0))
    off = native(0.12, inch=recipe.inch)
    spindle = "clockwise" if recipe.clockwise else "counter-clockwise"
    conditions = "".join(
        f'[[condition]]\ntool = 1\nmaterial = "{BIRCH}"\nside = "{side}"\ncut = "{cut}"\nreadings = [\n'
        f"  {{ programmed = {small}, diameter = {small + sign * off} }},\n"
        f"  {{ programmed = {large}, diameter = {large + 2 * sign * off} }},\n]\n"
        for side, sign in (("hole", -1), ("boss", 1))
        for cut in ("climb", "conventional")
    )
    return open_table(
        'schema = "roundwright.table/1"\n[machine]\nname = "trial"\n'
        f'units = "{unit}"\nspindle = "{spindle}"\n'
        f'[defaults]\nmaterial = "{BIRCH}"\n[[tool]]\nnumber = 1\ndiameter = {cutter!r}\n{conditions}',
        "trial.toml",
    )


def written(recipe: Recipe) -> tuple[Layout, bytes]:
    layout = lay_out(recipe)
    return layout, coupon_program(layout, "shop-router")


def corrected(recipe: Recipe) -> tuple[Layout, Outcome]:
    """The layout, and the run of `correct` on its program, which has proven its output."""
    layout, program = written(recipe)
    settings = Settings(material=BIRCH)
    return layout, pipeline.correct(program, "coupon.nc", table_for(recipe), settings)


def cut_options(depth: str, stepdown: str, stepover: str, feed: str, plunge: str) -> tuple[str, ...]:
    """How a coupon is cut, as options of the command."""
    lengths = {"depth": depth, "stepdown": stepdown, "stepover": stepover, "feed": feed, "plunge": plunge}
    return (*(word for name, text in lengths.items() for word in (f"--{name}", text)), "--speed", "16000")


#: for a 6 mm cutter.
CUT_MM = cut_options("6", "3", "2.4", "1800", "600")
#: for a quarter inch cutter.
CUT_INCH = cut_options("0.25", "1/8in", "2.5mm", "70", "24")

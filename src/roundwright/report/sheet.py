"""The sheet to print for a coupon: its plan, and a box for each diameter to be measured; one HTML file."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from roundwright.coupon.layout import Layout, Spot, reach_of
from roundwright.coupon.rings import boss_outline, outline_corners

#: letters as a share of the stock's larger side, and their width as a share of their height.
_LETTERS = 0.022
_WIDTH = 0.62
_DIGITS = 3


def sheet_html(layout: Layout, *, machine: str, program: str, record: str, table: str) -> str:
    """The sheet of a coupon; the names of the machine and of the files are for people."""
    templates = _templates()
    plan = Markup(templates.get_template("plan.svg").render(plan=_plan(layout)))
    recipe = layout.recipe
    tool = recipe.tool
    sheet = {
        "program": program,
        "machine": machine,
        "record": record,
        "table": table,
        "tool": tool.name if tool.number is None else f"T{tool.number} {tool.name}",
        "material": recipe.material,
        "stock": " × ".join(recipe.bare(length) for length in recipe.stock),
        "depth": recipe.bare(recipe.depth),
        "unit": "inches" if recipe.inch else "mm",
        "rows": [
            {"id": s.id, "side": s.side, "cut": s.cut, "diameter": recipe.bare(s.diameter)}
            for s in layout.spots
        ],
    }
    return templates.get_template("sheet.html").render(sheet=sheet, plan=plan)


@cache
def _templates() -> Environment:
    loader = PackageLoader("roundwright.report")
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, keep_trailing_newline=True)


def _plan(layout: Layout) -> dict[str, Any]:
    """The numbers of the picture, mm; Y of the stock points up, Y of the picture down."""
    width, height, _ = layout.recipe.stock
    size = _LETTERS * max(width, height)
    edge = size / 2
    box = (-edge, -edge, width + 2 * edge, height + 2 * edge + 2 * size)
    return {
        "box": " ".join(str(_short(value)) for value in box),
        "width": _short(width),
        "height": _short(height),
        "line": _short(size / 12),
        "arm": _short(3 * size),
        "size": _short(size),
        "foot": _short(height + 1.6 * size),
        "spots": [_spot(layout, spot, size) for spot in layout.spots],
    }


def _spot(layout: Layout, spot: Spot, size: float) -> dict[str, Any]:
    recipe = layout.recipe
    x, y = spot.centre[0], recipe.stock[1] - spot.centre[1]
    room = 2 * reach_of(recipe, spot) + recipe.tool.diameter  # up to the neighbours
    outline = ""
    if spot.side == "boss":
        corner = boss_outline(spot.diameter, recipe.tool.diameter, recipe.stepover) or 0.0
        corner += recipe.tool.diameter / 2
        outline = " ".join(f"{_short(x + dx)},{_short(y - dy)}" for dx, dy in outline_corners(corner))
    return {
        "id": spot.id,
        "x": _short(x),
        "y": _short(y),
        "r": _short(spot.diameter / 2),
        "size": _short(min(size, room / (_WIDTH * len(spot.id)))),
        "outline": outline,
    }


def _short(value: float) -> float:
    return round(value, _DIGITS) + 0.0

"""The sheet to print for a coupon or a record: a plan, and a box for each diameter; one HTML file."""

from __future__ import annotations

from functools import cache
from pathlib import PurePath
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from roundwright.calibration.table import Table
from roundwright.calibration.text import length_text
from roundwright.coupon.layout import Layout, Spot, reach_of
from roundwright.coupon.record import Record, Recorded
from roundwright.coupon.rings import boss_outline, outline_corners

#: letters as a share of the stock's larger side, and their width as a share of their height.
_LETTERS = 0.022
_WIDTH = 0.62
_DIGITS = 3


def sheet_html(layout: Layout, *, machine: str, program: str, record: str, table: str) -> str:
    """The sheet of a coupon; the names of the machine and of the files are for people."""
    recipe = layout.recipe
    tool = recipe.tool
    named = tool.name if tool.number is None else f"T{tool.number} {tool.name}"
    stock = " × ".join(recipe.bare(length) for length in recipe.stock)
    sheet = {
        "program": program,
        "record": record,
        "table": table,
        "facts": [
            f"Machine {machine}, tool {named}, {recipe.material}",
            f"Stock {stock}, {len(layout.spots)} circles cut {recipe.bare(recipe.depth)} deep",
            f"All lengths in {'inches' if recipe.inch else 'mm'}",
        ],
        "avoid": "Near 22.5° the cutter met the wall: don't measure there.",
        "tools": False,
        "rows": [
            {"id": s.id, "side": s.side, "cut": s.cut, "diameter": recipe.bare(s.diameter)}
            for s in layout.spots
        ],
    }
    return _page(sheet, _plan(layout))


def record_sheet_html(record: Record, table: Table, *, file: str) -> str:
    """The sheet of a record in the file `file`; lengths in the table's units."""
    materials = sorted({circle.material for circle in record.features if circle.material})
    machine = [] if record.table is None else [f"Machine {record.table}"]
    sheet = {
        "program": record.program,
        "record": file,
        "table": PurePath(table.file).name,
        "facts": [
            ", ".join([*machine, *materials, f"{len(record.features)} circles"]),
            f"All lengths in {'inches' if table.inch else 'mm'}",
        ],
        "avoid": "Where a mark shows that the cutter met the wall, don't measure.",
        "tools": True,
        "rows": [
            {
                "id": circle.id,
                "side": circle.side,
                "tool": f"T{circle.tool}" if isinstance(circle.tool, int) else circle.tool,
                "cut": circle.cut,
                "diameter": length_text(circle.programmed, inch=table.inch),
            }
            for circle in record.features
        ],
    }
    return _page(sheet, _record_plan(record))


def _page(sheet: dict[str, Any], plan: dict[str, Any] | None) -> str:
    templates = _templates()
    drawn = "" if plan is None else Markup(templates.get_template("plan.svg").render(plan=plan))
    return templates.get_template("sheet.html").render(sheet=sheet, plan=drawn)


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
        "what": "The stock",
        "stock": True,
        "zero": (0, _short(height)),
        "foot_text": "X0 Y0, X to the right, Y up, Z0 on top",
        **_measures(width, height, size),
        "spots": [_spot(layout, spot, size) for spot in layout.spots],
    }


def _measures(width: float, height: float, size: float) -> dict[str, Any]:
    """What every such picture measures, mm: its field, and lines and letters by their `size`."""
    return {
        "width": _short(width),
        "height": _short(height),
        "line": _short(size / 12),
        "arm": _short(3 * size),
        "size": _short(size),
        "foot": _short(height + 1.6 * size),
    }


def _record_plan(record: Record) -> dict[str, Any] | None:
    """The numbers of the picture, mm: the circles alone, for a record knows no stock; large ones first."""
    placed = [(c, c.centre[0], c.centre[1]) for c in record.features if c.centre is not None]
    if not placed:
        return None
    placed.sort(key=lambda one: -one[0].programmed)
    left, right = (f(x + s * c.programmed / 2 for c, x, _ in placed) for f, s in ((min, -1), (max, 1)))
    low, high = (f(y + s * c.programmed / 2 for c, _, y in placed) for f, s in ((min, -1), (max, 1)))
    width, height = right - left, high - low
    size = _LETTERS * max(width, height)
    box = (-size, -size, width + 2 * size, height + 3.5 * size)
    inside = left <= 0.0 <= right and low <= 0.0 <= high
    return {
        "box": " ".join(str(_short(value)) for value in box),
        "what": "The circles",
        "stock": False,
        "zero": (_short(-left), _short(high)) if inside else None,
        "foot_text": "X to the right, Y up",
        **_measures(width, height, size),
        "spots": _record_spots(placed, (left, high), size),
    }


def _record_spots(
    placed: list[tuple[Recorded, float, float]], corner: tuple[float, float], size: float
) -> list[dict[str, Any]]:
    """Of circles on one centre the ids stand below one another."""
    lines: dict[tuple[float, float], int] = {}
    spots = []
    for circle, x, y in placed:
        line = lines[x, y] = lines.get((x, y), -1) + 1
        spots.append(
            {
                "id": circle.id,
                "x": _short(x - corner[0]),
                "y": _short(corner[1] - y),
                "r": _short(circle.programmed / 2),
                "down": _short(1.15 * size * line),
                "size": _short(size),
                "outline": "",
            }
        )
    return spots


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
        "down": 0,
        "size": _short(min(size, room / (_WIDTH * len(spot.id)))),
        "outline": outline,
    }


def _short(value: float) -> float:
    return round(value, _DIGITS) + 0.0

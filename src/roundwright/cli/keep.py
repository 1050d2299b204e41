"""What to type so that the readings of `--measured` are there the next time too."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from roundwright.cli.params import Pair, unit_of
from roundwright.report.listing import program_inch
from roundwright.units import native, parse_length

if TYPE_CHECKING:
    from roundwright.pipeline import Outcome


def how_to_keep(outcome: Outcome, readings: tuple[Pair, ...]) -> str:
    """The advice, with the lines of a table for each tool, side and cut that the readings served."""
    served = dict.fromkeys(
        (_tool(c.feature.cutter.number, c.feature.cutter.name), c.feature.side, c.feature.cut)
        for c in outcome.plan.corrections
        if c.feature.cutter is not None and c.change is not None
    )
    if not served:
        return "roundwright: note: the readings of --measured served no feature."
    inch = program_inch(outcome.moves)
    table_inch = (unit_of(readings[0][0]) or ("in" if inch else "mm")) == "in"
    rows = [f"  {{ programmed = {p}, diameter = {m} }}," for p, m in _numbers(readings, inch, table_inch)]
    material = outcome.material or "the material's name"
    head = (
        "roundwright: note: one reading has no uncertainty; measure repeated cuts of a size to get one.\n"
        "To keep these readings, make a table with 'roundwright table new' and add to it\n"
        f'(with units = "{"in" if table_inch else "mm"}"):'
    )
    return "\n".join([head, *(_condition(*key, material, rows) for key in served)])


def _tool(number: int | None, name: str) -> str:
    return _quoted(name) if number is None else str(number)


def _condition(tool: str, side: str, cut: str, material: str, rows: list[str]) -> str:
    way = cut if cut in ("climb", "conventional") else "any"
    lines = [
        "[[condition]]",
        f"tool = {tool}",
        f"material = {_quoted(material)}",
        f"side = {_quoted(side)}",
        f"cut = {_quoted(way)}",
        "readings = [",
        *rows,
        "]",
    ]
    return "\n".join(lines)


def _numbers(readings: tuple[Pair, ...], inch: bool, table_inch: bool) -> Iterator[Pair]:
    """The readings as a table in inches, or mm, has them; `inch` says what a bare number is in."""

    def number(length: str) -> str:
        value = native(parse_length(length, inch=inch), inch=table_inch)
        whole, point, rest = f"{value:.9f}".rstrip("0").partition(".")
        return f"{whole}{point}{rest or '0'}"

    for programmed, measured in readings:
        yield number(programmed), number(measured)


def _quoted(text: str) -> str:
    """A basic string as TOML writes it."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'

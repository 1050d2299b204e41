"""Calibration tables as text, for tests: a small wood shop's router, with the readings that a test wants."""

from __future__ import annotations

from collections.abc import Iterable

HEAD = 'schema = "roundwright.table/1"\n'
MACHINE = '[machine]\nname = "shop-router"\nunits = "mm"\n'
TOOL = '[[tool]]\nnumber = 1\nname = "6 mm upcut"\ndiameter = 6.0\n'
CALIPER = '[[instrument]]\nname = "caliper"\nlimit = 0.03\n'
CONDITION = '[[condition]]\ntool = 1\nmaterial = "birch ply"\nside = "hole"\ncut = "climb"\n'
READINGS = "readings = [\n  { programmed = 10.0, x = 9.91, y = 9.93 },\n]\n"
GOOD = HEAD + MACHINE + TOOL + CALIPER + CONDITION + READINGS


def table_of(
    pairs: Iterable[tuple[float, float]],
    *,
    inch: bool = False,
    side: str = "hole",
    method: str = "interpolate",
    limit: float | None = None,
    jaws: float = 0.0,
    tool: float = 1.0,
) -> str:
    """A table with one condition, its readings the pairs (programmed, measured) in the table's unit."""
    rows = "".join(f"  {{ programmed = {p!r}, diameter = {m!r} }},\n" for p, m in pairs)
    caliper = (
        ""
        if limit is None
        else f'[[instrument]]\nname = "caliper"\nlimit = {limit!r}\njaw_width = {jaws!r}\n'
    )
    return (
        HEAD
        + MACHINE.replace('"mm"', '"in"' if inch else '"mm"')
        + TOOL.replace("6.0", repr(tool))
        + caliper
        + CONDITION.replace('"hole"', f'"{side}"')
        + f'method = "{method}"\n'
        + ("" if limit is None else 'instrument = "caliper"\n')
        + f"readings = [\n{rows}]\n"
    )

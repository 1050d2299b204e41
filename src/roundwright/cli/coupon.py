"""The command `coupon`: a test-cut program for one tool and material, its record, and a sheet to fill in."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from roundwright.cli import streams
from roundwright.cli.params import parsed, size
from roundwright.errors import Place, ProofError, RoundwrightError, SettingsError
from roundwright.units import MICROMETRE, parse_length

if TYPE_CHECKING:
    from roundwright.calibration import Table, Tool
    from roundwright.coupon import Layout, Recipe

_HELP = """Write a test-cut program for one tool and material.

Circles of a ladder of diameters, laid out on the stock, cut as in
production; with the record that 'roundwright measure' reads, and a sheet to
print and fill in. X0 Y0 is the stock's lower left corner, Z0 its top.
Lengths are in the table's units, or end in mm or in. What does not fit the
stock or the tool is refused.

\b
Example:
  roundwright coupon -t router.toml --tool 1 -m "birch ply" \\
    --diameters 10,20,35 --depth 6 --stepdown 3 --stepover 2.4 \\
    --feed 1800 --plunge 600 --speed 16000 --stock 300,200,18 \\
    -o coupon.nc --record coupon.json --sheet coupon.html
"""

Option = Any


def _sizes(text: str) -> tuple[str, ...]:
    """Lengths with commas between them, as typed. Raises as `size`."""
    return tuple(size(part) for part in text.split(","))


def _stock(text: str) -> tuple[str, ...]:
    lengths = _sizes(text)
    if len(lengths) != 3:
        raise ValueError(f"{text!r} is not X,Y,Z: three lengths, as in 300,200,18")
    return lengths


def _length(name: str, what: str, default: str | None = None) -> Option:
    return click.option(
        name,
        help=what,
        metavar="LENGTH",
        callback=parsed(size),
        required=default is None,
        default=default,
        show_default=default is not None,
    )


_WHAT = (
    click.option(
        "-t", "--table", metavar="FILE", required=True, envvar="ROUNDWRIGHT_TABLE", show_envvar=True,
        help="The machine's calibration table.",
    ),
    click.option("--tool", metavar="TOOL", required=True, help="The table's tool, by number or name."),
    click.option("-m", "--material", metavar="NAME", help="What will be cut; else the table's default."),
    click.option(
        "--diameters", metavar="D,D,...", required=True, callback=parsed(_sizes),
        help="The ladder: programmed diameters, with commas between them.",
    ),
    click.option(
        "--side", type=click.Choice(["hole", "boss", "both"]), default="hole", show_default=True,
        help="Holes, bosses, or both of each diameter.",
    ),
    click.option(
        "--cut", type=click.Choice(["climb", "conventional", "both"]), default="climb", show_default=True,
        help="How the walls are cut.",
    ),
    click.option(
        "--repeat", type=click.IntRange(1, 100), default=2, show_default=True,
        help="How many of each: only repeats tell how sure the next cut is.",
    ),
)  # fmt: skip

_HOW = (
    _length("--depth", "How deep to cut, a positive length."),
    _length("--stepdown", "Depth of one pass at most."),
    _length("--stepover", "Width of one ring, and what the wall pass takes."),
    _length("--feed", "Feed per minute of rings and walls."),
    _length("--plunge", "Feed per minute on the way down."),
    click.option(
        "--speed", type=click.FloatRange(0, 1e6, min_open=True), required=True, metavar="S",
        help="Spindle speed per minute.",
    ),
    click.option(
        "--stock", metavar="X,Y,Z", required=True, callback=parsed(_stock), help="Size of the stock."
    ),
    _length("--safe-z", "Height of rapids over the stock's top.", "5mm"),
)  # fmt: skip

_OUT = (
    click.option("-o", "--output", metavar="FILE", required=True, help="Write the program there."),
    click.option("--record", metavar="FILE", required=True, help="Write the record (JSON) there."),
    click.option("--sheet", metavar="FILE", help="Write a sheet to print and fill in (HTML) there."),
)


def _options(function: Any) -> Any:
    for option in reversed((*_WHAT, *_HOW, *_OUT)):
        function = option(function)
    return function


@click.command(help=_HELP)
@_options
def coupon(**options: Any) -> None:
    """Write program, record and sheet; nothing where one of them cannot be."""
    from roundwright.calibration import open_table
    from roundwright.coupon import coupon_program, coupon_record, lay_out, record_json

    paths = [path for path in (options["output"], options["record"], options["sheet"]) if path is not None]
    _check_paths(paths)
    table = open_table(streams.read_text(options["table"]), options["table"])
    layout = lay_out(_recipe(options, table))
    program = coupon_program(layout, table.name)
    _check_found(program, layout, table, options["output"])
    record = coupon_record(layout, program, options["output"], table)
    texts = [program, record_json(record).encode()]
    if options["sheet"] is not None:
        texts.append(_sheet(layout, table, options).encode())
    for path, text in zip(paths, texts, strict=True):
        streams.write_atomic(path, text)
    streams.say(
        f"Wrote {', '.join(paths)}: {len(layout.spots)} circles. Read the program, and run it in the air "
        f"first, clear of clamps.\nWhen it is cut and measured: roundwright measure {options['record']} "
        f"-t {options['table']}"
    )


def _check_paths(paths: list[str]) -> None:
    """A coupon never replaces a file: an earlier coupon may be waiting for its readings."""
    if len({os.path.realpath(path) for path in paths}) < len(paths):
        raise click.UsageError("Program, record and sheet are files of their own: name each differently.")
    for path in paths:
        if os.path.lexists(path):
            raise RoundwrightError(
                "there is such a file already",
                place=Place(path),
                cure="Nothing was written. Give another name, or move that file away first.",
            )


def _recipe(options: dict[str, Any], table: Table) -> Recipe:
    """What is asked for, in mm. Raises SettingsError."""
    from roundwright.coupon import Recipe

    def length(name: str) -> float:
        return parse_length(options[name], inch=table.inch)

    tool, material = _condition(options, table)
    if table.machine.spindle_axis != "Z":
        raise SettingsError(
            f"the table's spindle axis is {table.machine.spindle_axis}, and a coupon is cut from above",
            cure="Cut circles of known size with a program of your own and add them to the table",
        )
    x, y, z = (parse_length(text, inch=table.inch) for text in options["stock"])
    usual = 5 if table.inch else 4
    decimals = table.machine.decimals
    return Recipe(
        tool=tool,
        material=material,
        diameters=tuple(parse_length(text, inch=table.inch) for text in options["diameters"]),
        sides=("hole", "boss") if options["side"] == "both" else (options["side"],),
        cuts=("climb", "conventional") if options["cut"] == "both" else (options["cut"],),
        repeat=options["repeat"],
        depth=length("depth"),
        stepdown=length("stepdown"),
        stepover=length("stepover"),
        feed=length("feed"),
        plunge=length("plunge"),
        speed=options["speed"],
        stock=(x, y, z),
        safe_z=length("safe_z"),
        inch=table.inch,
        clockwise=table.machine.clockwise,
        decimals=usual if decimals is None else min(usual, decimals),
    )


def _condition(options: dict[str, Any], table: Table) -> tuple[Tool, str]:
    """The table's tool, and the material on one line. Raises SettingsError."""
    tool = table.tool(options["tool"])
    if tool is None:
        raise SettingsError(
            f"the table {table.name} has no tool {options['tool']}", cure="Add it as a [[tool]] first"
        )
    material = " ".join((options["material"] or table.defaults.material or "").split())
    if not material or not material.isprintable():
        raise SettingsError("no material is named", cure="Say --material NAME")
    return tool, material


def _check_found(program: bytes, layout: Layout, table: Table, name: str) -> None:
    """`correct` finds exactly these circles in the program. Raises ProofError, as a coupon never should."""
    from roundwright import pipeline
    from roundwright.coupon.program import written_diameter
    from roundwright.settings import Settings

    settings = Settings(material=layout.recipe.material, tools={None: str(layout.recipe.tool.key)})
    found = [c.feature for c in pipeline.list_features(program, name, table, settings).plan.corrections]
    same = len(found) == len(layout.spots) and all(
        (f.id, f.side, f.cut, f.fault) == (spot.id, spot.side, spot.cut, "")
        and f.diameter is not None
        and abs(f.diameter - written_diameter(layout.recipe, spot)) <= MICROMETRE
        for f, spot in zip(found, layout.spots, strict=True)
    )
    if not same:
        raise ProofError(
            "the circles of this coupon cannot all be found again in its program",
            cure="Nothing was written. Try other diameters or another step-over, and please report this",
        )


def _sheet(layout: Layout, table: Table, options: dict[str, Any]) -> str:
    from roundwright.report.sheet import sheet_html

    names = {key: Path(options[option]).name for key, option in _NAMES}
    return sheet_html(layout, machine=table.name, **names)


_NAMES = (("program", "output"), ("record", "record"), ("table", "table"))

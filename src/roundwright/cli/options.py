"""The options of `correct`, and the settings that they add up to."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

import click

from roundwright.cli.params import (
    Pair,
    feature_key,
    parsed,
    reading,
    side,
    size,
    target,
    tool,
    tool_diameter,
    unit_of,
)
from roundwright.settings import Settings
from roundwright.units import native, parse_length

F = TypeVar("F", bound=Callable[..., Any])

_FILE = click.Path(allow_dash=True)

_DATA = (
    click.argument("program", type=_FILE, required=False),
    click.option(
        "-t", "--table", envvar="ROUNDWRIGHT_TABLE", show_envvar=True, metavar="FILE", type=click.Path(),
        help="The machine's calibration table. A dry run works without one.",
    ),
    click.option("-m", "--material", metavar="NAME", help="What is being cut; else the table's default."),
    click.option(
        "--measured", multiple=True, metavar="P=M", callback=parsed(reading),
        help="No table yet: a circle programmed P came out M, same side as cut. Repeatable.",
    ),
    click.option(
        "--tool", "tools", multiple=True, metavar="[T=|@S=]TOOL", callback=parsed(tool),
        help="The table's tool, by number or name, that cuts the whole program, its tool T, or its "
        "section S. Repeatable.",
    ),
    click.option(
        "--diameter", "diameters", multiple=True, metavar="TOOL=D", callback=parsed(tool_diameter),
        help="Diameter of a tool that the program was made for; wins over the table. Repeatable.",
    ),
)  # fmt: skip

_FINDING = (
    click.option(
        "--side", "sides", multiple=True, metavar="[KEY=]SIDE", callback=parsed(side),
        help="KEY=hole, boss or groove overrides what was found for one feature; a bare side holds only "
        "where the path says nothing.",
    ),
    click.option(
        "--cut", type=click.Choice(["climb", "conventional"]),
        help="How the walls are cut, where the path says nothing.",
    ),
    click.option(
        "--only", multiple=True, metavar="KEY", callback=parsed(feature_key),
        help="Correct this feature only: its id, or a programmed diameter for all of that size. Repeatable.",
    ),
    click.option(
        "--skip", multiple=True, metavar="KEY", callback=parsed(feature_key),
        help="Leave this feature alone; as --only.",
    ),
    click.option(
        "--arc-centres", type=click.Choice(["auto", "incremental", "absolute"]), default="auto",
        show_default=True, help="How I J K are meant where the program doesn't say.",
    ),
)  # fmt: skip

_CORRECTING = (
    click.option("--strict", is_flag=True, help="Refuse the program if data lack for any circle (status 3)."),
    click.option(
        "--limit", metavar="LENGTH", callback=parsed(size),
        help="Largest diameter correction allowed; wins over the table's.",
    ),
    click.option(
        "--target", "targets", multiple=True, metavar="KEY=VALUE", callback=parsed(target),
        help="Aim a feature, by id or programmed diameter, at another diameter, or at the middle of a "
        "tolerance of its programmed diameter: C3=22.05, C3=H8, 20.0=H9. Repeatable.",
    ),
    click.option(
        "--spread", type=click.Choice(["rings", "wall"]), default="rings", show_default=True,
        help="Ease the clearing rings along with the wall, or move the wall pass alone.",
    ),
    click.option(
        "--stamp/--no-stamp", default=True, show_default=True,
        help="Put a comment into the program that says it is corrected.",
    ),
    click.option("--again", is_flag=True, help="Take a program that is corrected already."),
)  # fmt: skip

_OUTPUT = (
    click.option("-n", "--dry-run", is_flag=True, help="List the features, write no program."),
    click.option(
        "--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", show_default=True,
        help="Of the listing: on standard output in a dry run, else on standard error.",
    ),
    click.option(
        "-o", "--output", metavar="FILE", type=_FILE,
        help="Write the corrected program there, whole or not at all; else to standard output.",
    ),
    click.option("--in-place", is_flag=True, help="Rewrite PROGRAM itself; a backup is kept beside it."),
    click.option(
        "--record", metavar="FILE",
        help="Keep the job's record (JSON) there: 'roundwright measure' reads it when the job is cut.",
    ),
    click.option(
        "--report", metavar="FILE",
        help="Write a report to look at there: plan, corrections, what was left alone; one HTML file.",
    ),
    click.option(
        "--units", type=click.Choice(["mm", "in"]),
        help="Of the text listing and the report; else the program's own.",
    ),
    click.option("-q", "--quiet", is_flag=True, help="Say nothing but warnings and errors."),
    click.option("-v", "--verbose", is_flag=True, help="Say how much there was to do, and how long it took."),
)  # fmt: skip


def correct_options(function: F) -> F:
    """Give a command all options of `correct`, in the order of its help."""
    for option in reversed((*_DATA, *_FINDING, *_CORRECTING, *_OUTPUT)):
        function = option(function)
    return function


def needs_unit(options: Mapping[str, Any]) -> bool:
    """Whether a length was given without a unit, so that the program's must be known."""
    lengths = [length for _, length in options["diameters"]]
    lengths += [length for reading in options["measured"] for length in reading]
    lengths += [] if options["limit"] is None else [options["limit"]]
    lengths += [text for pair in options["targets"] for text in pair if not text[0].isalpha()]
    return not all(unit_of(length) for length in lengths)


def settings_from(options: Mapping[str, Any], *, inch: bool) -> Settings:
    """The settings of a run; `inch` says what lengths without a unit mean. Raises click.UsageError."""
    limit = options["limit"]
    measured, measured_inch = _measured(options["measured"], inch)
    diameters = _once("--diameter", options["diameters"])
    return Settings(
        material=options["material"],
        measured=measured,
        measured_inch=measured_inch,
        tools=_once("--tool", options["tools"]),
        diameters={tool: parse_length(length, inch=inch) for tool, length in diameters.items()},
        sides=_once("--side", [(key, side) for key, side in options["sides"] if key is not None]),
        side=_once("--side", [(key, side) for key, side in options["sides"] if key is None]).get(None),
        cut=options["cut"],
        only=options["only"],
        skip=options["skip"],
        arc_centres=options["arc_centres"],
        limit=None if limit is None else parse_length(limit, inch=inch),
        spread=options["spread"],
        stamp=options["stamp"],
        again=options["again"],
        strict=options["strict"],
        targets=_once("--target", options["targets"]),
    )


def _once(option: str, pairs: Any) -> dict[Any, Any]:
    """A mapping from pairs; one key with two meanings is wrong usage."""
    mapping: dict[Any, Any] = {}
    for key, value in pairs:
        if mapping.setdefault(key, value) != value:
            what = "" if key is None else f" for {key}"
            raise click.UsageError(f"{option} is given twice{what}, with different values.")
    return mapping


def _measured(readings: tuple[Pair, ...], inch: bool) -> tuple[tuple[tuple[float, float], ...], bool | None]:
    """The readings of --measured and whether they are in inches: as typed, or in mm where they mix."""
    if not readings:
        return (), None
    units = {unit_of(length) or ("in" if inch else "mm") for reading in readings for length in reading}
    inches = units == {"in"}

    def number(length: str) -> float:
        return round(native(parse_length(length, inch=inch), inch=inches), 9)

    return tuple((number(programmed), number(measured)) for programmed, measured in readings), inches

"""`roundwright table add`, `import` and `export`: readings into the table's text and out of it."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Sequence
from typing import Any, cast

import click

from roundwright.calibration import Addition, Reading, Table, open_table, with_readings
from roundwright.calibration.addition import FIGURES
from roundwright.calibration.question import question
from roundwright.calibration.sheet import not_there_yet, readings_of_sheet, sheet_of
from roundwright.calibration.text import length_text
from roundwright.cli import streams
from roundwright.cli.params import parsed, size, table_option
from roundwright.errors import SettingsError
from roundwright.units import parse_length

_ADD_HELP = """Add one reading to a table.

Lengths are in the table's units, or end in mm or in: 9.91mm, 3/8in. All else
in the table's file stays as it is. A condition that is missing is begun. A
reading that is further off than its condition lets expect is questioned.

\b
Examples:
  roundwright table add -t shop-router.toml --tool 1 --material mdf \\
    --side hole --cut climb --programmed 20 --x 19.87 --y 19.89
  roundwright table add -t shop-router.toml --tool 1 --side boss \\
    --cut climb --programmed 3/4in --diameter 0.754in --note "new sheet"
"""
_IMPORT_HELP = """Add the readings of a CSV file that the table has not got yet.

The first row names the columns: tool, material, side, cut, programmed, x, y,
d45, d135, diameter, instrument, date, note. Lengths are in the table's units,
or end in mm or in. All readings are added, or none.

\b
Example:
  roundwright table import -t shop-router.toml readings.csv
"""
_EXPORT_HELP = """Write all readings of a table as CSV, for a spreadsheet.

\b
Example:
  roundwright table export -t shop-router.toml -o readings.csv
"""


def _day(text: str) -> datetime.date:
    """A date. Raises ValueError."""
    try:
        return datetime.date.fromisoformat(text.strip())
    except ValueError as error:
        raise ValueError(f"{text!r} is no date: write it as in 2026-10-03") from error


def _length(name: str, what: str, *, required: bool = False) -> Any:
    return click.option(name, metavar="LENGTH", callback=parsed(size), required=required, help=what)


_ADD_OPTIONS = (
    table_option,
    click.option("--tool", metavar="TOOL", help="The table's tool, by number or name; else its default."),
    click.option("-m", "--material", metavar="NAME", help="What was cut; else the table's default."),
    click.option("--side", type=click.Choice(["hole", "boss", "groove"]), required=True, help="What it is."),
    click.option(
        "--cut", type=click.Choice(["climb", "conventional", "any"]), help="How it was cut; a groove is any."
    ),
    _length("--programmed", "Diameter that was programmed.", required=True),
    _length("--x", "What it measures along X."),
    _length("--y", "What it measures along Y."),
    _length("--d45", "What it measures from lower left to upper right."),
    _length("--d135", "What it measures from upper left to lower right."),
    _length("--diameter", "What it measures, in place of --x and --y."),
    click.option("--instrument", metavar="NAME", help="What it was measured with; else the condition's."),
    click.option("--date", "day", metavar="DATE", callback=parsed(_day), help="When.  [default: today]"),
    click.option("--note", metavar="TEXT", default="", help="Anything to remember."),
)  # fmt: skip


def add_options(command: Any) -> Any:
    """The options of `table add`, in the order of its help."""
    for option in reversed(_ADD_OPTIONS):
        command = option(command)
    return command


@click.command(help=_ADD_HELP)
@add_options
def add(path: str, **options: Any) -> int:
    """Put one reading into the table's text."""
    if options["cut"] is None and options["side"] != "groove":
        raise click.UsageError("Say --cut climb, conventional or any.")
    if not any(options[key] for key in ("x", "y", "diameter")):
        raise click.UsageError("Give --x and --y, or --diameter.")
    if options["diameter"] and (options["x"] or options["y"]):
        raise click.UsageError("Give --x and --y, or --diameter, not both.")
    table = open_table(streams.read_text(path), path)
    addition = _addition(table, options)
    doubt = question(addition, table)
    if doubt and at_terminal():
        if not click.confirm(f"A doubtful reading: {doubt}.\nAdd it all the same?", err=True):
            streams.say(f"{path}: nothing was added.")
            return 1
    elif doubt:
        streams.say(f"roundwright: warning: added all the same, but measure again: {doubt}.")
    text = streams.update_text(path, lambda text: with_readings(text, [addition]))
    for line in _told(table, open_table(text, path), [addition]):
        streams.say(f"{path}: {line}")
    return 0


@click.command(name="import", help=_IMPORT_HELP)
@table_option
@click.argument("sheet", metavar="CSV")
def import_(path: str, sheet: str) -> None:
    """Put the readings of a sheet that are new into the table's text."""
    rows = streams.read_text(sheet)
    before: list[Table] = []
    added: list[tuple[int, Addition]] = []
    count = 0

    def change(text: str) -> str:
        nonlocal count
        table = open_table(text, path)
        found = readings_of_sheet(rows, sheet, table)
        count = len(found)
        added[:] = not_there_yet(table, found)
        before[:] = [table]
        return with_readings(text, [addition for _, addition in added]) if added else text

    text = streams.update_text(path, change)
    for line, addition in added:
        doubt = question(addition, before[0], [other for _, other in added if other is not addition])
        if doubt:
            streams.say(f"roundwright: warning: {sheet}:{line}: added, but measure again: {doubt}.")
    for told in _told(before[0], open_table(text, path), [addition for _, addition in added]):
        streams.say(f"{path}: {told}")
    there = count - len(added)
    streams.say(f"{path}: {len(added)} added, {there} {'was' if there == 1 else 'were'} there already")


@click.command(help=_EXPORT_HELP)
@table_option
@click.option("-o", "--output", metavar="FILE", help="Write there instead of standard output.")
def export(path: str, output: str | None) -> None:
    """Write the readings as CSV."""
    if output is not None and output != streams.STANDARD and streams.same_file(output, path):
        raise click.UsageError("-o names the calibration table.")
    data = sheet_of(open_table(streams.read_text(path), path)).encode()
    if output is None or output == streams.STANDARD:
        streams.write_standard_output(data)
    else:
        streams.write_atomic(output, data)


def at_terminal() -> bool:
    """Whether someone can be asked."""
    return sys.stdin is not None and sys.stdin.isatty()


def _addition(table: Table, options: dict[str, Any]) -> Addition:
    """The reading that the options describe, in mm. Raises SettingsError."""
    tool = options["tool"] or table.defaults.tool
    material = options["material"] or table.defaults.material
    if tool is None or material is None:
        what = "tool" if tool is None else "material"
        raise SettingsError(f"no {what} is named, and the table has no default", cure=f"Say --{what}.")
    figures = {
        key: parse_length(options[key], inch=table.inch) for key in FIGURES if options[key] is not None
    }
    reading = Reading(
        parse_length(options["programmed"], inch=table.inch),
        **cast(dict[str, Any], figures),
        instrument=options["instrument"],
        date=options["day"] or datetime.date.today(),
        note=options["note"],
    )
    cut: Any = "any" if options["side"] == "groove" else options["cut"]
    return Addition(tool, material, options["side"], cut, reading)


def _told(before: Table, after: Table, additions: Sequence[Addition]) -> list[str]:
    """What was added to which condition, a line for each."""
    counts: dict[str, int] = {}
    for addition in additions:
        where = (addition.tool, addition.material, addition.side, addition.cut)
        own = after.own_condition(*where)
        if own is None:
            continue
        label = own.label
        if before.own_condition(*where) is None and label not in counts:
            served = before.condition(*where)
            label += ", begun new"
            if served is not None:
                label += f"; {served.label} served it until now, and no longer does"
        counts[label] = counts.get(label, 0) + 1
    one = additions[0].reading if len(additions) == 1 else None
    if one is not None:
        shown = length_text(one.programmed, inch=after.inch), length_text(one.measured, inch=after.inch)
        return [f"added {shown[0]}, measured {shown[1]}, to {label}" for label in counts]
    return [f"added {n} reading{'' if n == 1 else 's'} to {label}" for label, n in counts.items()]

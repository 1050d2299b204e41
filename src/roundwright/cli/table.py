"""`roundwright table`: begin, check and show the calibration table of a machine; its other commands."""

from __future__ import annotations

import datetime
import os
import sys
from pathlib import Path

import click

from roundwright.calibration import Table, new_table_text, open_table, problems
from roundwright.calibration.advice import doubts, residual_notes
from roundwright.cli import streams, terminal
from roundwright.cli.params import table_option
from roundwright.cli.plot import plot
from roundwright.cli.readings import add, export, import_
from roundwright.errors import Place, RoundwrightError

_HELP = """Keep the calibration table of a machine.

\b
Examples:
  roundwright table new -o shop-router.toml
  roundwright table check -t shop-router.toml
  roundwright table show -t shop-router.toml
  roundwright table add -t shop-router.toml --tool 1 --material mdf \\
    --side hole --cut climb --programmed 20 --x 19.87 --y 19.89
"""
_NEW_HELP = """Begin a table: every key explained, nothing in it yet.

\b
Example:
  roundwright table new -o shop-router.toml --units in
"""
_CHECK_HELP = """Name what is wrong or doubtful in a table, with the line.

Ends with status 1 where something is wrong; what is only doubtful is
used all the same.

\b
Example:
  roundwright table check -t shop-router.toml
"""
_SHOW_HELP = """Show a table's readings, errors and corrections.

\b
Examples:
  roundwright table show -t shop-router.toml
  roundwright table show -t shop-router.toml --format csv
"""


@click.group(help=_HELP)
def table() -> None:
    """Hold the table's commands together; does nothing itself."""


@table.command(help=_NEW_HELP)
@click.option("-o", "--output", metavar="FILE", help="Write there instead of standard output.")
@click.option(
    "--units", type=click.Choice(["mm", "in"]), default="mm", show_default=True, help="Unit of all lengths."
)
@click.option("--name", metavar="NAME", help="The machine's name.  [default: the file's]")
def new(output: str | None, units: str, name: str | None) -> None:
    """Write the text of a new table; never over a file."""
    if name is not None and not (name.strip() and name.isprintable()):
        raise click.BadParameter("a name is one line of plain text", param_hint="'--name'")
    to_file = output is not None and output != streams.STANDARD
    stem = Path(output).stem if output is not None and to_file else "my-machine"
    data = new_table_text(name or stem, units == "in").encode()
    if output is None or not to_file:
        streams.write_standard_output(data)
        return
    if os.path.lexists(output):
        raise RoundwrightError(
            "there is such a file already",
            place=Place(output),
            cure="Nothing was changed. Give another name, or move that file away first.",
        )
    streams.write_atomic(output, data)
    streams.say(f"{output}: a new table, lengths in {units}. Open it in a text editor and fill it in.")


@table.command(help=_CHECK_HELP)
@table_option
def check(path: str) -> int:
    """Print what is wrong or doubtful; 1 where something is wrong."""
    text = streams.read_text(path)
    found = problems(text, path)
    if not any(problem.level == "wrong" for problem in found):
        table = open_table(text, path)
        found += doubts(table, datetime.date.today()) + residual_notes(table)
    wrong, doubtful = (sum(p.level == level for p in found) for level in ("wrong", "doubtful"))
    lines = [
        f"{Place(path, problem.line)}: {problem.level}: {problem}"
        for problem in sorted(found, key=lambda problem: problem.line)
    ]
    lines.append(f"{path}: {wrong} wrong, {doubtful} doubtful")
    streams.write_standard_output(streams.text_for_output("\n".join(lines) + "\n"))
    return 1 if wrong else 0


@table.command(help=_SHOW_HELP)
@table_option
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "csv"]),
    default="text",
    show_default=True,
    help="Text and CSV in the table's units, JSON in mm.",
)
def show(path: str, form: str) -> None:
    """Print the table in the form asked for."""
    from roundwright.report import table as report  # here, so that `new` and `check` don't pay for it

    opened = open_table(streams.read_text(path), path)
    if form == "text":
        streams.write_standard_output(streams.text_for_output(_as_text(opened)))
    else:
        written = report.table_as_json(opened) if form == "json" else report.table_as_csv(opened)
        streams.write_standard_output(written.encode())


def _as_text(opened: Table) -> str:
    """The table as plain text, or drawn where a terminal shows it."""
    screen = terminal.screen_of(sys.stdout)
    if screen is not None:
        from roundwright.report.screen import table_on_screen

        return table_on_screen(opened, screen)
    from roundwright.report.table import table_as_text

    return table_as_text(opened)


for command in (add, import_, export, plot):
    table.add_command(command)

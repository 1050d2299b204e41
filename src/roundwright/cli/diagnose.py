"""The command `diagnose`: what the readings show of the machine, before anyone corrects it away."""

from __future__ import annotations

import click

from roundwright.calibration import open_table
from roundwright.cli import streams
from roundwright.cli.params import table_option

_HELP = """Say what the readings show of the machine.

Scale of the axes, squareness, lost motion, and what doesn't grow with the
size (the cutter's diameter, its bending), each with its uncertainty. What the
readings cannot tell is named, with the cut that would tell it. Set the machine
right first; correct circles after that.

\b
Examples:
  roundwright diagnose -t shop-router.toml
  roundwright diagnose -t shop-router.toml --format json
"""


@click.command(help=_HELP)
@table_option
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="Text in the table's units, JSON in mm, ppm and mrad.",
)
def diagnose(path: str, form: str) -> None:
    """Print the diagnosis in the form asked for."""
    from roundwright.report import diagnosis as report  # here, so that help comes without numpy

    table = open_table(streams.read_text(path), path)
    if form == "text":
        streams.write_standard_output(streams.text_for_output(report.diagnosis_as_text(table)))
    else:
        streams.write_standard_output(report.diagnosis_as_json(table).encode())

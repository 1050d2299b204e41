"""`roundwright table plot`: each condition's readings, curve and uncertainty as a picture."""

from __future__ import annotations

from pathlib import Path

import click

from roundwright.calibration import open_table
from roundwright.cli import streams
from roundwright.cli.params import table_option

_HELP = """Draw each condition's readings, curve and uncertainty band.

Needs the library matplotlib: pip install "roundwright[plot]"

\b
Example:
  roundwright table plot -t shop-router.toml -o shop-router.svg
"""


@click.command(help=_HELP)
@table_option
@click.option("-o", "--output", metavar="FILE", required=True, help="Picture to write: .svg or .png.")
def plot(path: str, output: str) -> None:
    """Write the picture."""
    form = Path(output).suffix.casefold().removeprefix(".")
    if form not in ("svg", "png"):
        raise click.BadParameter("the picture's name ends in .svg or .png", param_hint="'-o'")
    from roundwright.report.picture import picture_of  # here, so that nothing else pays for it

    table = open_table(streams.read_text(path), path)
    streams.write_atomic(output, picture_of(table, form))
    streams.say(f"Wrote {output}.")

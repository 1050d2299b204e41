"""The command `measure`: takes the measured diameters of a cut job or coupon into the machine's table."""

from __future__ import annotations

import datetime
import os
from collections import Counter
from hashlib import sha256
from pathlib import PurePath
from typing import TYPE_CHECKING

import click
from msgspec.structs import replace

from roundwright.calibration import Addition, Condition, Table, open_table, with_readings
from roundwright.calibration.question import cut_otherwise, past_limit, unexpected
from roundwright.cli import streams
from roundwright.coupon.measuring import Taken, addition_of
from roundwright.errors import Place, ProgramError, RoundwrightError, SettingsError

if TYPE_CHECKING:
    from roundwright.coupon import Record, Recorded

_HELP = """Take measured diameters into the table.

RECORD is what 'roundwright coupon' or 'roundwright correct --record' wrote.
Asks for each circle's diameters, in the table's units or with a unit: 9.91mm,
0.375in, 3/8in. Enter leaves out, u takes the last answer back. Or takes them
from a CSV file. Readings go to the diameters that were programmed. A reading
that is far from what the others let expect is questioned.

\b
Examples:
  roundwright measure coupon.json -t router.toml
  roundwright measure panel.json -t router.toml --cut-file panel-c.nc
  roundwright measure coupon.json -t router.toml --csv readings.csv
  roundwright measure panel.json -t router.toml --sheet panel.html
"""


@click.command(help=_HELP)
@click.argument("record")
@click.option(
    "-t",
    "--table",
    metavar="FILE",
    required=True,
    envvar="ROUNDWRIGHT_TABLE",
    show_envvar=True,
    help="The machine's calibration table; the readings are written into it.",
)
@click.option(
    "--csv",
    metavar="FILE",
    help="Take the readings from there: id,x,y,d45,d135,diameter,instrument,date,note.",
)
@click.option(
    "--cut-file",
    metavar="FILE",
    help="The program that was cut: shows whether it was the corrected or the original one.",
)
@click.option("--keep-doubtful", is_flag=True, help="Take doubtful readings of a CSV without asking.")
@click.option("--sheet", metavar="FILE", help="Only write a sheet to print and fill in (HTML) there.")
def measure(
    record: str, table: str, csv: str | None, cut_file: str | None, keep_doubtful: bool, sheet: str | None
) -> None:
    """Ask or read, question what is doubtful, and write all readings at once."""
    from roundwright.coupon import read_record

    if sheet is not None and (csv is not None or cut_file is not None or keep_doubtful):
        raise click.UsageError("--sheet takes no readings: leave --csv, --cut-file and --keep-doubtful out.")
    job = read_record(streams.read_text(record), record)
    opened = open_table(streams.read_text(table), table)
    if sheet is not None:
        _write_sheet(job, opened, record, sheet)
        return
    if job.table is not None and job.table != opened.name:
        streams.say(f"roundwright: warning: the record is of the machine {job.table}, this is {opened.name}")
    corrected = _was_corrected(job, cut_file)
    if csv is not None:
        additions = _from_csv(csv, job, opened, corrected, keep_doubtful)
    else:
        additions = _from_questions(job, opened, corrected, table)
    if not additions:
        streams.say("No readings, so nothing was changed.")
        return
    for different in dict.fromkeys(cut_otherwise(addition, opened) for addition in additions):
        if different:
            streams.say(f"roundwright: warning: {different}")
    streams.update_text(table, lambda text: with_readings(text, additions))
    streams.say(_summary(additions, opened, table))


def _write_sheet(job: Record, table: Table, record: str, path: str) -> None:
    """The sheet of the record; never over a file."""
    from roundwright.report.sheet import record_sheet_html

    if os.path.lexists(path):
        cure = "Nothing was changed. Give another name, or move that file away first"
        raise RoundwrightError("there is such a file already", place=Place(path), cure=cure)
    page = record_sheet_html(job, table, file=PurePath(record).name)
    streams.write_atomic(path, page.encode())
    streams.say(f"Wrote {path}. Print it, and write the figures in.")


def _was_corrected(job: Record, cut_file: str | None) -> bool:
    """Whether the corrected program was cut, shown by the file or asked for. Raises ProgramError."""
    if cut_file is not None:
        cut = sha256(streams.read_bytes(cut_file)).hexdigest()
        if cut == job.corrected:
            return True
        if cut == job.original:
            return False
        raise ProgramError(
            f"this is neither the program {job.program} of the record nor its corrected one",
            place=Place(cut_file),
            cure="Nothing was changed. Name the program that was cut, or take the record that belongs to it",
        )
    if job.corrected in (None, job.original):
        return False
    choice = click.Choice(["corrected", "original"])
    answer = click.prompt(f"Which {job.program} was cut", type=choice, err=True)
    return bool(answer == "corrected")


def _from_csv(path: str, job: Record, table: Table, corrected: bool, keep: bool) -> list[Addition]:
    """The readings of a spreadsheet. Raises RoundwrightError where one is doubtful and not meant."""
    from roundwright.cli.questions import keeps
    from roundwright.coupon.measuring import readings_of_csv

    found = readings_of_csv(streams.read_text(path), job, table, path, datetime.date.today())
    asked = {taken.circle.id for taken in found}
    found += [taken for taken in _filled(job) if taken.circle.id not in asked]
    additions = [addition_of(taken, table, corrected=corrected) for taken in found]
    for taken, addition in zip(found, additions, strict=True):
        others = [other for other in additions if other is not addition]
        for doubt in _doubts(taken, addition, others, table):
            where = Place(path) if taken.place is None else taken.place
            said = f"{where}: {taken.circle.id}: {doubt}"
            if keep:
                streams.say(f"roundwright: warning: {said}")
            elif not keeps(said):
                raise RoundwrightError(
                    f"the reading of {taken.circle.id} is not meant",
                    place=where,
                    cure="Nothing was changed. Mend the row or take it out, then do this again",
                )
    return additions


def _doubts(taken: Taken, addition: Addition, others: list[Addition], table: Table) -> list[str]:
    programmed = addition.reading.programmed
    found = [(f"{key}: ", past_limit(figure, programmed, table)) for key, figure in taken.figures.items()]
    found.append(("", unexpected(addition, table, others)))
    return [name + doubt for name, doubt in found if doubt]


def _filled(job: Record) -> list[Taken]:
    """The circles whose figures stand in the record itself, mm."""
    from roundwright.coupon.record import FIGURES

    figures = [{k: f for k in FIGURES if (f := getattr(c, k)) is not None} for c in job.features]
    today = datetime.date.today()
    return [Taken(c, f, date=today) for c, f in zip(job.features, figures, strict=True) if f]


def _from_questions(job: Record, table: Table, corrected: bool, path: str) -> list[Addition]:
    """Ask for every circle that the record has no figures of, and whether to write it all."""
    from roundwright.cli.questions import Questions

    filled = _filled(job)
    known = {taken.circle.id for taken in filled}
    circles = [c for c in _takeable(job, table, corrected) if c.id not in known]
    unit = "inches" if table.inch else "mm"
    streams.say(
        f"{job.program}: {len(circles)} circles, diameters in {unit}. Enter leaves out, u takes back, "
        "Ctrl-C ends without a change."
    )
    answer = Questions(circles, table, path, corrected, datetime.date.today(), len(filled)).ask()
    if answer is None:
        return []
    instrument, day, taken = answer
    taken += [replace(one, instrument=instrument, date=day) for one in filled]
    return [addition_of(one, table, corrected=corrected) for one in taken]


def _takeable(job: Record, table: Table, corrected: bool) -> list[Recorded]:
    """The circles whose condition is known; the others are named before anything is typed.

    Raises SettingsError where there is none.
    """
    circles, refused = [], []
    for circle in job.features:
        try:
            addition_of(Taken(circle, {"diameter": circle.original}), table, corrected=corrected)
        except SettingsError as error:
            refused.append(error)
        else:
            circles.append(circle)
    if refused and not circles:
        raise refused[0]
    for why in refused:
        streams.say(f"roundwright: warning: {why}. It is left out")
    if not circles:
        raise SettingsError(f"the record of {job.program} has no circle that can be measured")
    return circles


def _summary(additions: list[Addition], before: Table, path: str) -> str:
    """What went where, and what to do next."""
    counts = Counter((a.tool, a.material, a.side, a.cut) for a in additions)
    lines = []
    for (tool, material, side, cut), count in counts.items():
        condition = before.condition(tool, material, side, cut)
        label = condition.label if condition else Condition(tool, material, side, cut).label
        lines.append(f"  {label}: {count}{'' if condition else ', a new condition'}")
    head = f"{path}: {len(additions)} {'reading' if len(additions) == 1 else 'readings'} added"
    return "\n".join([head, *lines, f"Look at them with: roundwright table check -t {path}"])

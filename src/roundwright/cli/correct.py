"""The command `correct`: from a finished program to the corrected one, or to the listing of its features."""

from __future__ import annotations

import sys
import time
from typing import IO, TYPE_CHECKING, Any

import click

from roundwright.cli import streams, terminal
from roundwright.cli.options import correct_options, needs_unit, settings_from
from roundwright.errors import Place, ProgramError, RoundwrightError, SettingsError

if TYPE_CHECKING:
    from roundwright.calibration import Table
    from roundwright.pipeline import Outcome
    from roundwright.settings import Settings
    from roundwright.trace import Moves

LEFT_ALONE = 3
#: reasons that want of data has, not the circle: with --strict they refuse the whole program.
STRICT_REASONS = (
    "no-table",
    "no-calibration",
    "out-of-range",
    "side-unknown",
    "tool-unknown",
    "tool-doubtful",
    "position-unknown",
)

_HELP = """Correct a finished program's holes and bosses, or list them.

Reads PROGRAM, or standard input, and writes the corrected program to -o, or
to standard output; the listing of its circular features goes to standard
error. Features in doubt are left as they are, and the listing says why.
Lengths are in the program's units, or end in mm or in: 9.91mm, 3/8in.

\b
Examples:
  roundwright correct -t router.toml --dry-run panel.nc
  roundwright correct -t router.toml -o panel-c.nc panel.nc
  roundwright correct -t router.toml -m mdf --tool 2 --in-place panel.nc
  roundwright correct --measured 20=19.91 --diameter 1=6 -o out.nc panel.nc
"""


@click.command(help=_HELP)
@correct_options
def correct(**options: Any) -> int:
    """Run once; the exit status."""
    _check_usage(options)
    name = options["program"] if _is_file(options["program"]) else "standard input"
    data = _program(options["program"], name)
    table = _table(options["table"])
    with terminal.working(f"working on {name}", quiet=options["quiet"]):
        began = time.monotonic()
        outcome, settings = _outcome(data, name, table, options)
    if options["verbose"]:
        _say_how_much(outcome, time.monotonic() - began)
    _check_keys(outcome, options)
    status = _strict_status(outcome) if options["strict"] else 0
    alone = options["form"] == "json" and not options["dry_run"]  # standard error is the JSON's
    if not alone:
        for warning in outcome.warnings:
            streams.say(f"roundwright: warning: {warning}")
        if options["measured"]:
            from roundwright.cli.keep import how_to_keep

            streams.say(how_to_keep(outcome, settings))
    if options["dry_run"]:
        _write_report(outcome, options)
        text = _listing(outcome, options, sys.stdout)
        plain = options["form"] == "text"
        streams.write_standard_output(streams.text_for_output(text) if plain else text.encode())
        return status
    if not options["quiet"]:
        text = _listing(outcome, options, sys.stderr)
        streams.say(text.replace("\r\n", "\n").rstrip("\n"))
    if status == 0:
        wrote = _hand_out(outcome, options)
        if wrote and not alone and not options["quiet"]:
            streams.say(f"{wrote} Run it in the air first, clear of clamps.")
    return status


def _say_how_much(outcome: Outcome, seconds: float) -> None:
    moves = outcome.moves
    changed = len({*outcome.plan.ends, *outcome.plan.arcs})
    corrected = sum(c.status == "corrected" for c in outcome.plan.corrections)
    streams.say(
        f"roundwright: {outcome.program.lines} lines, {len(moves)} moves, {changed} of them changed for "
        f"{corrected} circles; read, corrected and proven in {seconds:.1f} s."
    )


def _is_file(path: str | None) -> bool:
    return path is not None and path != streams.STANDARD


def _check_usage(options: dict[str, Any]) -> None:
    """What cannot be meant is refused before anything is read. Raises click.UsageError."""
    program, output, table = options["program"], options["output"], options["table"]
    if options["dry_run"] and (output is not None or options["in_place"]):
        raise click.UsageError("--dry-run writes no program: leave -o and --in-place out.")
    if options["quiet"] and options["verbose"]:
        raise click.UsageError("Give --quiet or --verbose, not both.")
    if options["in_place"] and output is not None:
        raise click.UsageError("Give -o or --in-place, not both.")
    if options["in_place"] and not _is_file(program):
        raise click.UsageError("--in-place needs the PROGRAM's file.")
    if options["measured"] and table is not None:
        raise click.UsageError("--measured stands in for a table: leave --table (ROUNDWRIGHT_TABLE) out.")
    if table is None and not options["measured"] and not options["dry_run"]:
        raise click.UsageError(
            "No calibration table: name it with --table, make one with 'roundwright table new', "
            "give readings with --measured, or look with --dry-run."
        )
    if _is_file(output):
        if _is_file(program) and streams.same_file(output, program):
            raise click.UsageError("-o names the program itself: use --in-place, which keeps a backup.")
        if table is not None and streams.same_file(output, table):
            raise click.UsageError("-o names the calibration table.")
    if options["record"] is not None:
        _check_record(options)
    if options["report"] is not None:
        _check_own_file("report", options)


def _check_record(options: dict[str, Any]) -> None:
    """A record is a file of its own, and of a program that is written. Raises click.UsageError."""
    if options["dry_run"]:
        raise click.UsageError("--dry-run writes no program to keep a record of: leave --record out.")
    _check_own_file("record", options)


def _check_own_file(option: str, options: dict[str, Any]) -> None:
    """What a run writes beside the program has a name of its own. Raises click.UsageError."""
    if options[option] == streams.STANDARD:
        raise click.UsageError(f"--{option} needs the name of a file.")
    for key in {"program", "output", "table", "record", "report"} - {option}:
        if _is_file(options[key]) and streams.same_file(options[option], options[key]):
            raise click.UsageError(f"--{option} names a file of this run: give it a name of its own.")


def _program(path: str | None, name: str) -> bytes:
    if not _is_file(path) and sys.stdin is not None and sys.stdin.isatty():
        streams.say("roundwright: reading the program from the keyboard; Ctrl-C ends.")
    data = streams.read_program_bytes(path)
    if not data:
        raise ProgramError(
            "the program is empty",
            place=Place(name),
            cure="A shell that sends output to the file it reads empties it first: use --in-place",
        )
    return data


def _table(path: str | None) -> Table | None:
    if path is None:
        return None
    from roundwright.calibration import open_table

    return open_table(streams.read_text(path), path)


def _outcome(
    data: bytes, name: str, table: Table | None, options: dict[str, Any]
) -> tuple[Outcome, Settings]:
    """What the run found and wrote, and its settings, whose bare lengths are in the program's unit."""
    from roundwright import pipeline

    settings, dry = settings_from(options, inch=False), options["dry_run"]  # wrong usage comes first
    traced = pipeline.read_and_trace(data, name, table, settings.arc_centres, twice=dry or settings.again)
    if needs_unit(options) and _inch_of(traced.moves, name):
        settings = settings_from(options, inch=True)
    return pipeline.run(traced, table, settings, dry=dry), settings


def _inch_of(moves: Moves, name: str) -> bool:
    """The unit that a bare length of an option is in. Raises ProgramError where the program has two."""
    units = {moves.states[k].inch for k in set(moves.state.tolist())}
    if len(units) > 1:
        raise ProgramError(
            "this program uses inches and millimetres",
            place=Place(name),
            cure="Give the lengths on the command line a unit: 6mm, 0.25in",
        )
    return units.pop() if units else False


def _check_keys(outcome: Outcome, options: dict[str, Any]) -> None:
    """A key without a feature is most likely mistyped: another one would be cut. Raises SettingsError."""
    ids = {c.feature.id for c in outcome.plan.corrections}
    keys = [*options["only"], *options["skip"], *(key for key, _ in options["sides"] if key is not None)]
    for key in keys:
        if key[0].isalpha() and key not in ids:
            raise SettingsError(f"the program has no feature {key}", cure="Look at the ids with --dry-run")


def _strict_status(outcome: Outcome) -> int:
    """3 where a circle is left alone for want of data, which is said; else 0."""
    left = [c for c in outcome.plan.corrections if c.reason in STRICT_REASONS]
    if not left:
        return 0
    names = ", ".join(f"{c.feature.id} ({c.reason})" for c in left)
    streams.say(
        f"roundwright: {outcome.program.name}: --strict refuses the program, data lack for {names}. "
        "Give what the listing asks for, or leave them out with --skip."
    )
    return LEFT_ALONE


def _listing(outcome: Outcome, options: dict[str, Any], stream: IO[str] | None) -> str:
    """The listing in the form asked for, to be written to a stream."""
    screen = terminal.screen_of(stream) if options["form"] == "text" else None
    if screen is not None:
        from roundwright.report.screen import listing_on_screen

        return listing_on_screen(outcome, options["units"], screen)
    if options["form"] == "text":
        from roundwright.report.text import listing_text

        return listing_text(outcome, options["units"])
    from roundwright.report.listing import listing_csv, listing_json

    return listing_json(outcome) if options["form"] == "json" else listing_csv(outcome)


def _hand_out(outcome: Outcome, options: dict[str, Any]) -> str:
    """Write the proven program where it is wanted, the last act of a run; what to say of it."""
    if outcome.output is None:
        raise RoundwrightError("nothing may be written", cure="The listing says why")
    if options["record"] is not None:
        from roundwright.coupon.record import job_record, record_json

        streams.write_atomic(options["record"], record_json(job_record(outcome)).encode())
    _write_report(outcome, options)
    target = options["program"] if options["in_place"] else options["output"]
    if not _is_file(target):
        streams.write_standard_output(outcome.output)
        return ""
    if options["in_place"]:
        kept = streams.rewrite_in_place(target, outcome.output)
        return f"Wrote {target}; the program as it was is in {kept}."
    streams.write_atomic(target, outcome.output)
    return f"Wrote {target}."


def _write_report(outcome: Outcome, options: dict[str, Any]) -> None:
    """The report where one is wanted; the table's fingerprint is that of its file."""
    if options["report"] is None:
        return
    from hashlib import sha256

    from roundwright.report.html import Files, report_html

    output = options["program"] if options["in_place"] else options["output"]
    table = options["table"]
    files = Files(
        output=output if _is_file(output) else None,
        table_sha256=None if table is None else sha256(streams.read_bytes(table)).hexdigest(),
    )
    streams.write_atomic(options["report"], report_html(outcome, files, options["units"]).encode())

"""Reads a table's text into frozen values, strictly, and collects all that is wrong or doubtful in it."""

from __future__ import annotations

from roundwright.calibration.conditions import conditions_of
from roundwright.calibration.document import Document, read_document
from roundwright.calibration.entry import Entry, Notes, Problem
from roundwright.calibration.sections import defaults_of, instruments_of, limits_of, machine_of, tools_of
from roundwright.calibration.table import Table
from roundwright.errors import Place, TableError

SCHEMA = "roundwright.table/1"


def open_table(text: str, name: str = "table") -> Table:
    """The calibration table of a TOML text; `name` is the file's, for messages.

    Raises TableError with file, line and key of the first thing that is wrong, and how many more are.
    """
    table, found = examine(text, name)
    wrong = [problem for problem in found if problem.level == "wrong"]
    if not wrong:
        return table
    first = wrong[0]
    others = len(wrong) - 1
    more = f"{others} more wrong in this table: `roundwright table check` names all." if others else ""
    raise TableError(
        f"{first.key}: {first.what}" if first.key else first.what,
        place=Place(name, first.line),
        cure=" ".join(part for part in (first.cure, more) if part),
    )


def problems(text: str, name: str = "table") -> tuple[Problem, ...]:
    """All that is wrong or doubtful in the text of a table, in the order of its lines; empty: all well."""
    try:
        return examine(text, name)[1]
    except TableError as error:
        line = error.place.line if error.place is not None else None
        return (Problem(line or 1, "", "wrong", error.what, error.cure),)


def examine(text: str, name: str) -> tuple[Table, tuple[Problem, ...]]:
    """The table and its problems; where one is "wrong" the table holds stand-ins and is of no use.

    Raises TableError where the text is no TOML.
    """
    document = read_document(text, name)
    notes = Notes(document)
    table = _table(document, notes, name)
    return table, tuple(sorted(notes.problems, key=lambda p: (p.line, p.level != "wrong")))


def _table(document: Document, notes: Notes, name: str) -> Table:
    top = Entry(document.values, (), notes)
    _schema(top)
    limits_entry = top.entry("limits")
    if not top.has("machine"):
        top.wrong("machine", "is missing", 'Add [machine] with its name and units = "mm" or "in".')
        machine_name, machine = machine_of(
            Entry({"name": "?", "units": "mm"}, ("machine",), notes), limits_entry
        )
        top.take("machine")
    else:
        machine_name, machine = machine_of(top.entry("machine"), limits_entry)
    limits = limits_of(limits_entry)
    tools = tools_of(top.entries("tool"))
    instruments = instruments_of(top.entries("instrument"))
    defaults = defaults_of(top.entry("defaults"), tools)
    conditions = conditions_of(top.entries("condition"), tools, instruments)
    top.close()
    return Table(machine_name, name, notes.inch, machine, defaults, limits, tools, instruments, conditions)


def _schema(top: Entry) -> None:
    schema = top.take("schema", need=f'Begin the file with schema = "{SCHEMA}".')
    if schema is not None and schema != SCHEMA:
        cure = f'This version reads "{SCHEMA}"; take a newer roundwright for a newer table.'
        top.wrong("schema", "this is no table that can be read here", cure)

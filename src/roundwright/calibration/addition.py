"""New readings for a table: written into its text, so that every other byte stays as it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from roundwright.calibration.check import open_table
from roundwright.calibration.document import read_document
from roundwright.calibration.insertion import Row, with_condition, with_rows
from roundwright.calibration.reading import Reading
from roundwright.calibration.table import Condition, CutSide, CutWay, Table, ToolKey, folded
from roundwright.calibration.text import quoted, written
from roundwright.errors import SettingsError, TableError

_BOM = "\ufeff"
FIGURES = ("x", "y", "d45", "d135", "diameter")
_ROUNDED = 1e-5  # mm; how far what is read again may be off


class Addition(Struct, frozen=True):
    """A reading (mm) and the condition that it belongs to.

    `tool` is a number or a name of the table. `cut` is the condition's own: a reading for "climb" never
    goes into a condition of "any" (`Table.condition` says which one serves a cut). `feed` (mm/min) and
    `speed` (1/min) of the wall pass are written into a condition that is begun for it, where they are known.
    """

    tool: ToolKey
    material: str
    side: CutSide
    cut: CutWay
    reading: Reading
    feed: float | None = None
    speed: float | None = None


def with_readings(text: str, additions: Iterable[Addition]) -> str:
    """The text of a table with more readings; a condition that is missing is begun behind all others.

    Lengths are written in the table's unit, rows spaced and indented as the row before. Nothing else
    changes: the old text is the new one without the inserted pieces, byte order mark and line ends too.
    The result has been opened again, and holds the old readings and the new ones. Raises SettingsError
    where a reading names what the table does not have or makes no sense, TableError where `text` is no
    table.
    """
    mark = _BOM if text.startswith(_BOM) else ""
    new = text.removeprefix(_BOM)
    before = open_table(new)
    groups = _by_condition(before, additions)
    for group in groups:
        new = _with_group(new, group)
    _check(before, new, groups)
    return mark + new


def _place(table: Table, addition: Addition) -> int | None:
    """The position of the condition that the reading belongs to; None where there is none yet."""
    own = table.own_condition(addition.tool, addition.material, addition.side, addition.cut)
    return None if own is None else table.conditions.index(own)


def _by_condition(table: Table, additions: Iterable[Addition]) -> list[list[Addition]]:
    groups: dict[object, list[Addition]] = {}
    for addition in additions:
        addition = _sound(table, addition)
        mark = (addition.tool, folded(addition.material), addition.side, addition.cut)
        groups.setdefault(mark, []).append(addition)
    return list(groups.values())


def _sound(table: Table, addition: Addition) -> Addition:
    """The addition with the table's own names. Raises SettingsError where the table has no such thing."""
    tool = table.tool(addition.tool)
    if tool is None:
        raise SettingsError(
            f"the table has no tool {addition.tool}", cure="Add it as a [[tool]] with its diameter first."
        )
    if not addition.material.strip() or not addition.material.isprintable():
        raise SettingsError("the material has no name", cure="Name what was cut, on one line.")
    if addition.side == "groove" and addition.cut != "any":
        addition = replace(addition, cut="any")
    name = addition.reading.instrument
    instrument = None if name is None else table.instrument(name)
    if name is not None and instrument is None:
        raise SettingsError(
            f"the table has no instrument {name}", cure="Add it as an [[instrument]] with its limit first."
        )
    reading = replace(addition.reading, instrument=instrument.name if instrument else None)
    return replace(addition, tool=tool.key, material=" ".join(addition.material.split()), reading=reading)


def _with_group(text: str, group: Sequence[Addition]) -> str:
    """The text with the readings of one condition."""
    table, document = open_table(text), read_document(text, "table")
    first = group[0]
    place = _place(table, first)
    if place is not None:
        usual = table.conditions[place].instrument
        rows = [_row(addition.reading, usual, table.inch) for addition in group]
        return with_rows(text, document, place, rows)
    names = {addition.reading.instrument for addition in group}
    usual = names.pop() if len(names) == 1 else None
    keys = {
        "tool": str(first.tool) if isinstance(first.tool, int) else quoted(first.tool),
        "material": quoted(first.material),
        "side": quoted(first.side),
        "cut": quoted(first.cut),
    }
    keys |= _rates(group, table.inch)
    if usual is not None:
        keys["instrument"] = quoted(usual)
    rows = [_row(addition.reading, usual, table.inch) for addition in group]
    return with_condition(text, document, keys, rows)


def _rates(group: Sequence[Addition], inch: bool) -> Row:
    """Feed and speed of a condition, each where all its readings were cut at the same."""
    feeds = {None if a.feed is None else written(a.feed, inch=inch) for a in group}
    speeds = {None if a.speed is None else written(a.speed, inch=False) for a in group}
    found = {"feed": feeds.pop() if len(feeds) == 1 else None}
    found["speed"] = speeds.pop() if len(speeds) == 1 else None
    return {key: value.removesuffix(".0") for key, value in found.items() if value is not None}


def _row(reading: Reading, usual: str | None, inch: bool) -> Row:
    """A reading's keys; the instrument only where it is not the condition's usual one."""
    row = {"programmed": written(reading.programmed, inch=inch)}
    for key in FIGURES:
        figure: float | None = getattr(reading, key)
        if figure is not None:
            row[key] = written(figure, inch=inch)
    if reading.instrument is not None and folded(reading.instrument) != folded(usual or ""):
        row["instrument"] = quoted(reading.instrument)
    if reading.date is not None:
        row["date"] = reading.date.isoformat()
    if reading.note.strip():
        row["note"] = quoted(reading.note)
    return row


def _check(before: Table, text: str, groups: Sequence[Sequence[Addition]]) -> None:
    """Open the new text and find the old readings and the new ones in it. Raises SettingsError."""
    try:
        after = open_table(text)
    except TableError as error:
        raise SettingsError(
            f"this cannot go into the table: {error.what}", cure=f"{error.cure} Nothing was changed.".strip()
        ) from error
    wanted = {place: list(condition.readings) for place, condition in enumerate(before.conditions)}
    for group in groups:
        place = _place(after, group[0])
        if place is None:
            raise TableError("the new condition cannot be found again", cure="Nothing was changed.")
        wanted.setdefault(place, []).extend(addition.reading for addition in group)
    found = {place: list(condition.readings) for place, condition in enumerate(after.conditions)}
    heads = [_head(condition) for condition in after.conditions[: len(before.conditions)]]
    same = (
        heads == [_head(condition) for condition in before.conditions]
        and wanted.keys() == found.keys()
        and all(len(wanted[place]) == len(found[place]) for place in wanted)
        and all(_alike(a, b) for place in wanted for a, b in zip(wanted[place], found[place], strict=True))
    )
    if not same:
        raise TableError(
            "the readings cannot be added to a table written like this",
            cure="Nothing was changed. Add them in a text editor.",
        )


def _head(condition: Condition) -> Condition:
    return replace(condition, readings=(), line=0)


def _alike(wanted: Reading, found: Reading) -> bool:
    """Whether what was read again is what was to be written; the table may fill in its usual instrument."""
    if wanted.instrument not in (None, found.instrument):
        return False
    if (wanted.date, quoted(wanted.note)) != (found.date, quoted(found.note)):
        return False
    for key in ("programmed", *FIGURES):
        one, other = getattr(wanted, key), getattr(found, key)
        if (one is None) != (other is None) or (one is not None and abs(one - other) > _ROUNDED):
            return False
    return True

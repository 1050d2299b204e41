"""Kills commands that take readings into a table, and says whether one was lost or came in by halves."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

from command import start
from killed_writer import killed
from roundwright.calibration import open_table
from roundwright.errors import TableError
from table_texts import GOOD

TABLE = "router.toml"
Readings = list[tuple[float, float | None]]
#: an older reading, so that the table is long in the writing.
_OLD = "  { programmed = 50.0, x = 49.91, y = 49.93 },\n"


@dataclass(frozen=True)
class Ends:
    """What became of the commands that were killed."""

    killed: int = 0
    ended: int = 0  # of them, after they had come to their end
    new: int = 0  # the table held their readings
    broken: tuple[str, ...] = ()  # readings lost, half a table, or more than was measured


def prepare(folder: Path, rows: int) -> None:
    """A table with so many readings, a record, and its figures."""
    text = GOOD.replace("readings = [\n", "readings = [\n" + _OLD * rows)
    (folder / TABLE).write_text(text, encoding="utf-8")
    made = start("coupon", "-t", TABLE, *_COUPON, cwd=folder)
    said = made.communicate(timeout=60)[1]
    assert made.returncode == 0, said.decode()


_COUPON = (
    *("--tool", "1", "-m", "birch ply", "--diameters", "10,20", "--cut", "climb", "--side", "hole"),
    *("--repeat", "1", "--depth", "6", "--stepdown", "3", "--stepover", "2", "--feed", "1200"),
    *("--plunge", "400", "--speed", "16000", "--stock", "120,80,18"),
    *("-o", "coupon.nc", "--record", "coupon.json"),
)


def sizes(folder: Path) -> Readings:
    """Programmed and measured diameter of every reading, sorted. Raises TableError for a broken table."""
    table = open_table((folder / TABLE).read_text(encoding="utf-8"), TABLE)
    readings = [reading for condition in table.conditions for reading in condition.readings]
    return sorted(((round(r.programmed, 3), r.diameter) for r in readings), key=repr)


def run_and_kill(folder: Path, count: int, whole: float, chance: Random) -> Ends:
    """Kill `table add` and `measure` in turn, so many in all, at moments of chance."""
    ends = Ends()
    record = json.loads((folder / "coupon.json").read_text())["features"]
    for k in range(count):
        short = round(0.05 + k / 10_000, 4)  # tells this run's readings from all others
        command, new = _add(short) if k % 2 else _measure(folder, record, short)
        before = sizes(folder)
        writing = k % 4 != 0
        delay = chance.uniform(0.0, whole * (0.6 if writing else 1.5))
        yes = b"y\n" * 4  # to whether figures that look doubtful beside so many are kept
        left = killed(folder, folder / TABLE, command, delay, writing=writing, answers=yes)
        ends = _judged(ends, folder, before, sorted([*before, *new], key=repr), ended=left.ended)
        for name in left.others:
            (folder / name).unlink(missing_ok=True)
    return ends


def _judged(ends: Ends, folder: Path, before: Readings, after: Readings, *, ended: bool) -> Ends:
    try:
        found = sizes(folder)
        wrong = found not in (before, after) or (ended and found != after)
        why = f"{len(before)} readings became {len(found)}" if wrong else ""
    except TableError as error:
        found, why = [], f"half a table: {error}"
    broken = (*ends.broken, why) if why else ends.broken
    return Ends(ends.killed + 1, ends.ended + ended, ends.new + (found == after), broken)


def _add(short: float) -> tuple[tuple[str, ...], Readings]:
    size = round(10 - short, 4)
    how = ("--tool", "1", "-m", "birch ply", "--side", "hole", "--cut", "climb")
    return ("table", "add", "-t", TABLE, *how, "--programmed", "10", "--diameter", repr(size)), [(10.0, size)]


def _measure(folder: Path, record: list[dict[str, Any]], short: float) -> tuple[tuple[str, ...], Readings]:
    new = [(round(one["programmed"], 3), round(one["programmed"] - short, 4)) for one in record]
    rows = "".join(f"{one['id']},{size!r}\n" for one, (_, size) in zip(record, new, strict=True))
    (folder / "figures.csv").write_text("id,diameter\n" + rows, encoding="utf-8")
    return ("measure", "coupon.json", "-t", TABLE, "--csv", "figures.csv"), list(new)

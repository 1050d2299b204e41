"""One TOML table of the file being read: each key taken once, and everything wrong with it noted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date as Day
from datetime import datetime
from typing import Any, Literal

from msgspec import Struct, field

from roundwright.calibration.document import Document, Path
from roundwright.calibration.text import likely
from roundwright.units import millimetres

Level = Literal["wrong", "doubtful", "note"]
_READINGS = "Write readings = [{ programmed = 20.0, x = 19.91, y = 19.93 }], one pair of braces for each."
_PLACEHOLDER = "Give one, or take the key out."


class Problem(Struct, frozen=True):
    """What is wrong, doubtful or worth a note in a table: the line (from 1), the key, what, what to do."""

    line: int
    key: str
    level: Level
    what: str
    cure: str = ""

    def __str__(self) -> str:
        head = f"{self.key}: {self.what}" if self.key else self.what
        return f"{head}. {self.cure}" if self.cure else head


class Notes(Struct):
    """The text that is examined, the unit of its lengths, and the problems found so far."""

    document: Document
    inch: bool = False
    problems: list[Problem] = field(default_factory=list)

    def add(self, path: Path, level: Level, what: str, cure: str = "") -> None:
        """Note a problem of the key or item at `path`."""
        self.problems.append(Problem(self.document.line(path), key_text(path), level, what, cure))


class Entry:
    """One table of the file. Getters give None where the key is absent or wrong, and note what is wrong."""

    def __init__(self, values: Any, path: Path, notes: Notes) -> None:
        self.path = path
        self.notes = notes
        self.known: list[str] = []
        self.values: dict[str, Any] = values if isinstance(values, dict) else {}
        if not isinstance(values, dict):
            self.wrong("", f"{shown(values)} stands where a table with keys is wanted", _as_table(path))

    @property
    def line(self) -> int:
        """Where the table begins."""
        return self.notes.document.line(self.path)

    def wrong(self, key: str, what: str, cure: str = "") -> None:
        """Note that a key, or with "" the table itself, is wrong."""
        self.notes.add((*self.path, key) if key else self.path, "wrong", what, cure)

    def doubt(self, key: str, what: str, cure: str = "") -> None:
        """Note that a key, or with "" the table itself, is doubtful."""
        self.notes.add((*self.path, key) if key else self.path, "doubtful", what, cure)

    def has(self, key: str) -> bool:
        """Whether the key stands in the table, right or wrong."""
        return key in self.values

    def take(self, key: str, need: str = "") -> Any:
        """The raw value. `need` says what to give where a key that must be there is not."""
        self.known.append(key)
        if need and key not in self.values:
            self.missing(key, need)
        return self.values.get(key)

    def missing(self, key: str, need: str) -> None:
        """Note that a key is missing, and which one may be meant for it."""
        meant = likely(key, [other.casefold() for other in self.values])
        stray = next((other for other in self.values if other.casefold() in meant), None)
        cure = need if stray is None else f'Is "{stray}" meant for it? Then write {key}.'
        self.wrong(key, "is missing", cure)

    def number(
        self,
        key: str,
        *,
        above: float = -math.inf,
        least: float = -math.inf,
        most: float = math.inf,
        need: str = "",
    ) -> float | None:
        """A finite number in a range."""
        value = self.take(key, need)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            cure = (
                "Write the figure alone, without quotes or unit." if isinstance(value, str) else _PLACEHOLDER
            )
            self.wrong(key, f"{shown(value)} is no number", cure)
            return None
        if not math.isfinite(value) or abs(value) > 1e9:
            self.wrong(key, f"{shown(value)} is no usable number", _PLACEHOLDER)
        elif value <= above:
            self.wrong(key, f"{shown(value)} must be more than {above:g}", _PLACEHOLDER)
        elif value < least:
            self.wrong(key, f"{shown(value)} must be at least {least:g}", _PLACEHOLDER)
        elif value > most:
            self.wrong(key, f"{shown(value)} must be at most {most:g}", _PLACEHOLDER)
        else:
            return float(value)
        return None

    def length(
        self, key: str, *, above: float = 0.0, least: float = -math.inf, need: str = ""
    ) -> float | None:
        """A length of the file in mm, by default more than 0."""
        value = self.number(key, above=above, least=least, need=need)
        return None if value is None else millimetres(value, inch=self.notes.inch)

    def whole(self, key: str, *, least: int, most: int) -> int | None:
        """A whole number in a range."""
        value = self.number(key, least=least, most=most)
        if value is not None and value != int(value):
            self.wrong(key, f"{shown(value)} is no whole number", "Write it without a fraction.")
            return None
        return None if value is None else int(value)

    def text(self, key: str, need: str = "") -> str | None:
        """A line of plain text that is not empty."""
        value = self.take(key, need)
        if value is None:
            return None
        if not isinstance(value, str):
            self.wrong(key, f"{shown(value)} is no text", f'Write it in quotes: {key} = "{shown(value)}".')
        elif not value.strip():
            self.wrong(key, "is empty", _PLACEHOLDER)
        elif not value.isprintable():
            self.wrong(key, "holds a line end or a control character", "Write it as one line of plain text.")
        else:
            return value.strip()
        return None

    def choice(self, key: str, options: Sequence[str], need: str = "") -> str | None:
        """One of a few words."""
        value = self.take(key, need)
        if value is None or (isinstance(value, str) and value in options):
            return value
        meant = likely(str(value).casefold(), [o.casefold() for o in options])
        hint = next((f'Did you mean "{o}"? ' for o in options if o.casefold() in meant), "")
        self.wrong(key, f"{shown(value)} is not known here", f"{hint}It can be {listed(options)}.")
        return None

    def day(self, key: str) -> Day | None:
        """A date, without a time."""
        value = self.take(key)
        if value is None or (isinstance(value, Day) and not isinstance(value, datetime)):
            return value
        self.wrong(key, f"{shown(value)} is no date", f"Write it without quotes: {key} = 2026-10-03.")
        return None

    def entries(self, key: str) -> list[Entry]:
        """The tables of an array."""
        value = self.take(key)
        if value is None:
            return []
        if not isinstance(value, list):
            cure = f"Write [[{key}]] with two brackets on each side."
            cure = _READINGS if key == "readings" else cure
            self.wrong(key, f"{shown(value)} stands where a list of tables is wanted", cure)
            return []
        return [Entry(item, (*self.path, key, n), self.notes) for n, item in enumerate(value)]

    def entry(self, key: str) -> Entry:
        """The table of that name, empty where there is none."""
        value = self.take(key)
        return Entry({} if value is None else value, (*self.path, key), self.notes)

    def close(self) -> None:
        """Note every key that nothing asked for."""
        for key in self.values:
            if key in self.known:
                continue
            meant = likely(key.casefold(), self.known)
            cure = f'Did you mean "{meant[0]}"?' if meant else f"Known here: {', '.join(self.known)}."
            self.wrong(key, "this key is not known here", cure)


def _as_table(path: Path) -> str:
    """How the table at a path is written."""
    if "readings" in path:
        return _READINGS
    return f"Write [{path[-1]}] on a line of its own, with one bracket on each side, and its keys below."


def key_text(path: Path) -> str:
    """A path as people name it, items counted from 1: "condition 1, readings 3, x"."""
    text = ""
    for position, part in enumerate(path):
        if isinstance(part, int):
            text += f" {part + 1}"
        elif position:
            text += (", " if isinstance(path[position - 1], int) else ".") + part
        else:
            text = part
    return text


def shown(value: Any) -> str:
    """A value as it looks in the file, cut short."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) > 10**20:
        return "a number of over 20 digits"
    text = f'"{value}"' if isinstance(value, str) else f"{value}"
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 40 else text[:36] + '…"'


def listed(options: Sequence[str]) -> str:
    """Words in a row: "hole", "boss" or "groove"."""
    quoted = [f'"{option}"' for option in options]
    return " or ".join([", ".join(quoted[:-1]), quoted[-1]]) if len(quoted) > 1 else quoted[0]

"""The table's TOML text: its values as plain Python, and where in the text each key and item stands."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from roundwright.errors import Place, TableError

#: keys and, for items of arrays, positions from 0: ("condition", 0, "readings", 2, "x").
Path = tuple[str | int, ...]

_BARE = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-")
_BLANK = " \t"
_VOID = " \t\r\n"


class Document(Struct, frozen=True):
    """A TOML text read: `values` as plain dicts and lists, `lines` by path, from 1.

    `spans` are the first and past the last character of each value that is written out, counted in the text
    without a byte order mark. What headers make (a [table], a [[list]]) has none.
    """

    values: dict[str, Any]
    lines: Mapping[Path, int]
    spans: Mapping[Path, tuple[int, int]]

    def line(self, path: Path) -> int:
        """The line of this key or item, else of what encloses it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)


_MEND = "Mend that line; often a quote, a comma or a bracket is missing on it or just above."
#: what TOML readers say, in part; the same for people; what to do.
_SAID = (
    ("Control characters", "a text has no end", "Put the closing quote on that line."),
    ("Invalid number", "a number with something else in it", "Write the figure alone, without unit: 6.0."),
    ("Invalid date", "there is no such date", "Write year, month and day: 2026-10-03."),
    ("already exists", "a key stands twice in one table", "Take one of the two away."),
    ("character: ','", "a comma out of place", "Write decimals with a point: 6.0. Else see the line above."),
    ("\\x00", "the file ends too early", "A line is key = value; a list or a text must be closed."),
    ("\\n", "the line ends too early", _MEND),
    ("Empty key", "a key or a closing brace is missing", _MEND),
)


def read_document(text: str, name: str) -> Document:
    """Read TOML. Raises TableError with the line where the text is no TOML."""
    text = text.removeprefix("\ufeff")
    try:
        values = _values(text)
        walk = _Lines(text)
        return Document(values, walk.read(), walk.spans)
    except Exception as error:  # tomlkit raises more than its own family on hostile text
        what, cure = _plainly(str(error).split(" at line ")[0] or type(error).__name__)
        place = Place(name, _line_of(error, text))
        raise TableError(f"this is no valid TOML: {what}", place=place, cure=cure) from error


def _plainly(said: str) -> tuple[str, str]:
    """What a reader of TOML says, in words for people, and what to do."""
    for part, what, cure in _SAID:
        if part in said:
            return what, cure
    return said.rstrip("."), _MEND


def _values(text: str) -> dict[str, Any]:
    """The values of a TOML text. Where the quick reader fails tomlkit, ten times as slow, says why."""
    import tomllib  # here, so that only commands with a table pay for them

    try:
        return tomllib.loads(text)
    except Exception:
        import tomlkit

        return tomlkit.parse(text).unwrap()


def _line_of(error: Exception, text: str) -> int | None:
    """The line of a parse error; where tomlkit does not know it, another reader is asked."""
    line = getattr(error, "line", None)
    if isinstance(line, int) and line > 0:
        return min(line, text.count("\n") + 1)  # tomlkit counts one more at a bare carriage return
    import tomllib

    try:
        tomllib.loads(text)
    except Exception as other:
        found = re.search(r"at line (\d+)", str(other))
        return int(found[1]) if found else None
    return None


class _Lines:
    """Walks a text that is known to be valid TOML, and notes where keys and items stand."""

    def __init__(self, text: str) -> None:
        self.text = text + "\n"
        self.at = 0
        self.counted = 0
        self.line_here = 1
        self.lines: dict[Path, int] = {(): 1}
        self.spans: dict[Path, tuple[int, int]] = {}
        self.heads: dict[Path, int] = {}  # arrays of tables: the position of their last item

    def read(self) -> dict[Path, int]:
        """All paths with their lines."""
        base: Path = ()
        while self._skip(_VOID):
            if self.text[self.at] == "[":
                base = self._header()
            else:
                self._pair(base)
        return self.lines

    def _note(self, path: Path) -> None:
        self.line_here += self.text.count("\n", self.counted, self.at)
        self.counted = self.at
        self.lines.setdefault(path, self.line_here)

    def _skip(self, blanks: str) -> bool:
        """Pass blanks and comments; whether any text is left."""
        while self.at < len(self.text):
            if self.text[self.at] == "#":
                self.at = self.text.index("\n", self.at)
            elif self.text[self.at] not in blanks:
                return True
            else:
                self.at += 1
        return False

    def _header(self) -> Path:
        brackets = 2 if self.text.startswith("[[", self.at) else 1
        start = self.at
        self.at += brackets
        keys = self._keys()
        end = self.at
        base: Path = ()
        for position, key in enumerate(keys):
            base += (key,)
            if brackets == 2 and position == len(keys) - 1:
                self.heads[base] = self.heads.get(base, -1) + 1
            if base in self.heads:
                self.at = start
                self._note(base)
                base += (self.heads[base],)
            self.at = start
            self._note(base)
        self.at = end + brackets
        return base

    def _keys(self) -> list[str]:
        """A dotted key, up to and past the blanks behind it."""
        keys: list[str] = []
        while True:
            self._skip(_BLANK)
            keys.append(self._key())
            self._skip(_BLANK)
            if self.text[self.at] != ".":
                return keys
            self.at += 1

    def _key(self) -> str:
        start = self.at
        if self.text[start] in "\"'":
            self._string()
            return _unquoted(self.text[start : self.at])
        while self.text[self.at] in _BARE:
            self.at += 1
        return self.text[start : self.at]

    def _pair(self, base: Path) -> None:
        start = self.at
        keys = self._keys()
        end = self.at
        self.at = start
        for key in keys:
            base += (key,)
            self._note(base)
        self.at = end + 1  # past the equals sign
        self._skip(_BLANK)
        self._value(base)

    def _value(self, path: Path) -> None:
        start = self.at
        self._past_value(path)
        self.spans[path] = start, start + len(self.text[start : self.at].rstrip())

    def _past_value(self, path: Path) -> None:
        first = self.text[self.at]
        if first in "\"'":
            self._string()
        elif first in "[{":
            self._inside(path, closing="]" if first == "[" else "}")
        else:
            while self.text[self.at] not in ",]}#\n":
                self.at += 1

    def _inside(self, path: Path, closing: str) -> None:
        """The items of an array, or the pairs of an inline table."""
        self.at += 1
        position = 0
        while self._skip(_VOID + ",") and self.text[self.at] != closing:
            if closing == "]":
                self._note((*path, position))
                self._value((*path, position))
                position += 1
            else:
                self._pair(path)
        self.at += 1

    def _string(self) -> None:
        quote = self.text[self.at]
        close = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        self.at += len(close)
        while not self.text.startswith(close, self.at):
            self.at += 2 if quote == '"' and self.text[self.at] == "\\" else 1
        self.at += len(close)
        while len(close) == 3 and self.text[self.at] == quote:  # quotes that belong to the text
            self.at += 1


def _unquoted(key: str) -> str:
    if key.startswith("'") or "\\" not in key:
        return key[1:-1]
    import tomlkit

    return next(iter(tomlkit.parse(f"{key} = 0").unwrap()))

"""Where in a table's text new rows go, and how they look: every other character stays as it is."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from msgspec import Struct

from roundwright.calibration.document import Document, Path

#: keys with values as TOML writes them, in the order of writing.
Row = Mapping[str, str]

#: blanks, line ends and comments, as they stand between the items of an array.
_BETWEEN = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_REST_OF_LINE = re.compile(r"[ \t]*(?:#[^\r\n]*)?(?=\r?\n|\Z)")


class _Style(Struct, frozen=True):
    """How an inline table is spaced: behind its brace, around the equals sign, behind a comma."""

    brace: str = " "
    equals: str = " = "
    comma: str = ", "

    def row(self, row: Row) -> str:
        pairs = self.comma.join(f"{key}{self.equals}{value}" for key, value in row.items())
        return "{" + self.brace + pairs + self.brace + "}"


def with_rows(text: str, document: Document, condition: int, rows: Sequence[Row]) -> str:
    """The text (without byte order mark) with more readings in the condition of that position."""
    path: Path = ("condition", condition, "readings")
    if path in document.spans:
        return _into_array(text, document, path, rows)
    if any(other[: len(path)] == path for other in document.lines):
        return _as_sections(text, document, path, rows)
    if path[:2] in document.spans:  # the condition is an inline table itself
        inside = ", ".join(_Style().row(row) for row in rows)
        return _put(text, _last_end(document, path[:2], inside=True), f", readings = [{inside}]")
    end = _line_end(text, _last_end(document, path[:2]))
    eol, indent = _eol(text), _indent(text, _last_end(document, path[:2]))
    return _put(text, end, eol + indent + f"{eol}{indent}".join(_readings_lines(rows)))


def with_condition(text: str, document: Document, keys: Row, rows: Sequence[Row]) -> str:
    """The text (without byte order mark) with one condition more, behind all that stands in it."""
    if ("condition",) in document.spans:
        inside = ", ".join(_Style().row(row) for row in rows)
        return _into_array(text, document, ("condition",), [{**keys, "readings": f"[{inside}]"}])
    eol = _eol(text)
    lines = ["[[condition]]", *(f"{key} = {value}" for key, value in keys.items()), *_readings_lines(rows)]
    gap = "" if not text or text.endswith("\n") else eol
    if text.strip() and not re.search(r"\n[ \t]*\r?\n\Z", text):
        gap += eol
    return text + gap + eol.join(lines) + eol


def _readings_lines(rows: Sequence[Row]) -> list[str]:
    return ["readings = [", *(f"  {_Style().row(row)}," for row in rows), "]"]


def _into_array(text: str, document: Document, path: Path, rows: Sequence[Row]) -> str:
    """Behind the last item of an array, in its style: on lines of their own, or on its line."""
    count = sum(len(other) == len(path) + 1 and other[:-1] == path for other in document.spans)
    if not count:
        return _into_empty(text, document.spans[path], rows)
    start, end = document.spans[(*path, count - 1)]
    style = _style_of(text[start:end])
    between = _BETWEEN.match(text, end)
    behind = between.end() if between else end
    comma = text[behind] == ","
    own_line = not text[text.rfind("\n", 0, start) + 1 : start].strip(" \t")
    eol, indent = _eol(text), _indent(text, start)
    written = [style.row(row) for row in rows]
    at = behind + 1 if comma else end
    rest = _REST_OF_LINE.match(text, at)
    if not own_line or (rest is None and not comma):  # the bracket closes on this line
        glue = f",{eol}{indent}" if own_line else style.comma
        joined = glue.join(written)
        return _put(text, at, glue[1:] + joined + "," if comma else glue + joined)
    if rest is None:
        return _put(text, at, "".join(f"{eol}{indent}{row}," for row in written))
    block = f",{eol}{indent}".join(written) + ("," if comma else "")
    text = _put(text, rest.end(), eol + indent + block)
    return text if comma else _put(text, end, ",")


def _into_empty(text: str, span: tuple[int, int], rows: Sequence[Row]) -> str:
    eol, indent = _eol(text), _indent(text, span[0])
    lines = "".join(f"{eol}{indent}  {_Style().row(row)}," for row in rows)
    rest = _REST_OF_LINE.match(text, span[0] + 1)
    if rest is not None:
        return _put(text, rest.end(), lines)
    return _put(text, span[1] - 1, lines + eol + indent)


def _as_sections(text: str, document: Document, path: Path, rows: Sequence[Row]) -> str:
    """Readings that are written as [[condition.readings]] sections go on so."""
    last = max(other[3] for other in document.lines if other[:3] == path and len(other) > 3)
    at = _last_end(document, (*path, last))
    eol, indent = _eol(text), _indent(text, at)
    blank = eol if text[: text.rfind("[[", 0, at)].rstrip(" \t").endswith(("\n\n", "\n\r\n")) else ""
    sections = (
        eol.join(["[[condition.readings]]", *(f"{key} = {value}" for key, value in row.items())])
        for row in rows
    )
    added = "".join(blank + eol + section for section in sections)
    return _put(text, _line_end(text, at), added.replace("\n", f"\n{indent}") if indent else added)


def _style_of(item: str) -> _Style:
    """The spacing of an inline table; the usual one where it is empty or runs over lines."""
    match = re.match(r"\{([ \t]*)[\w\"'.-]+([ \t]*=[ \t]*)", item)
    if match is None or "\n" in item:
        return _Style()
    tight = re.search(r"[\d\"],(?=[a-z])", item) is not None
    return _Style(match[1], match[2], "," if tight else ", ")


def _last_end(document: Document, path: Path, *, inside: bool = False) -> int:
    """Past the last value that stands under a path; with `inside` the path's own span does not count."""
    return max(
        end
        for other, (_, end) in document.spans.items()
        if other[: len(path)] == path and not (inside and other == path)
    )


def _line_end(text: str, at: int) -> int:
    """The end of the line, before its line end."""
    end = text.find("\n", at)
    return len(text) if end < 0 else end - (text[end - 1] == "\r")


def _indent(text: str, at: int) -> str:
    """The blanks that the line of a place begins with."""
    start = text.rfind("\n", 0, at) + 1
    line = text[start:at]
    return line[: len(line) - len(line.lstrip(" \t"))]


def _eol(text: str) -> str:
    """The line end that the text uses."""
    return "\r\n" if "\r\n" in text else "\n"


def _put(text: str, at: int, more: str) -> str:
    return text[:at] + more + text[at:]

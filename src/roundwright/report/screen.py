"""What a terminal shows in place of plain text: the same facts, with their rows in tables and in colour.

The library rich is imported here alone; nothing that goes into a pipe or a file comes this way.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

from msgspec import Struct
from rich.box import SIMPLE_HEAD
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.segment import Segment
from rich.table import Table as Grid
from rich.text import Text

from roundwright.calibration.table import Table
from roundwright.report.table import table_parts
from roundwright.report.text import RIGHT, ListingParts, Units, listing_parts, listing_text

if TYPE_CHECKING:
    from roundwright.pipeline import Outcome

#: sign and look of a status; the colours are the terminal's own.
_LOOKS = {
    "corrected": ("\u25cf", "bright_blue"),
    "on size": ("\u25a1", ""),
    "left alone": ("\u25b2", "bold yellow"),
}
#: a feature's row of the plain text, and the status that it ends with.
_ROW = re.compile(r"^C\d+ .*?(corrected|left alone|on size)$", re.MULTILINE)
_WIDEST = 100  # of text: longer lines are hard to read


class Screen(Struct, frozen=True):
    """A terminal: its width in letters, and whether it may have colour."""

    width: int
    colour: bool


def listing_on_screen(outcome: Outcome, units: Units | None, screen: Screen) -> str:
    """The listing of a run; on a screen too narrow for its table the plain text, its statuses in colour."""
    parts = listing_parts(outcome, units)
    grid = _features(parts)
    if not parts.rows or not _fits(grid, screen):
        return _drawn([_tinted(listing_text(outcome, units))], screen)
    notes = [
        line
        for row, texts in zip(parts.rows, parts.below, strict=True)
        for line in _notes(row[0], texts, screen)
    ]
    return _drawn([_lines(parts.title), grid, _lines(notes), _lines(parts.rest)], screen)


def _notes(name: str, texts: list[str], screen: Screen) -> list[str]:
    """What is to be said of a feature, under its id."""
    width, hang = min(screen.width, _WIDEST), " " * (len(name) + 2)
    return [
        line
        for text in texts
        for line in wrap(
            text, width, initial_indent=f"{name}  ", subsequent_indent=hang, break_on_hyphens=False
        )
    ]


def table_on_screen(table: Table, screen: Screen) -> str:
    """A calibration table's tools, instruments and conditions."""
    drawn: list[RenderableType] = []
    for part in table_parts(table):
        if isinstance(part, str):
            drawn.append(Text(part, style="bold" if part and not part.startswith(" ") else ""))
            continue
        grid = _grid(part.head, set(part.head))
        for row in part.rows:
            grid.add_row(*(Text(cell) for cell in row))
        drawn.append(Padding(grid, (0, 0, 0, 2)))
    return _drawn(drawn, screen)


def _features(parts: ListingParts) -> Grid:
    grid = _grid(parts.head, RIGHT)
    for row in parts.rows:
        sign, look = _LOOKS[row[-1]]
        grid.add_row(*(Text(cell) for cell in row[:-1]), Text(f"{sign} {row[-1]}", style=look))
    return grid


def _grid(head: Sequence[str], right: set[str]) -> Grid:
    grid = Grid(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    for name in head:
        grid.add_column(name, justify="right" if name in right else "left", no_wrap=True)
    return grid


def _tinted(text: str) -> Text:
    shown = Text(text.rstrip("\n"))
    for row in _ROW.finditer(shown.plain):
        shown.stylize(_LOOKS[row[1]][1], *row.span(1))
    return shown


def _lines(lines: Iterable[str]) -> Text:
    return Text("\n".join(lines))


def _fits(grid: Grid, screen: Screen) -> bool:
    """Whether no cell would be cut off."""
    console = Console(file=io.StringIO(), width=10 * screen.width + 1000)
    return console.measure(grid).maximum <= screen.width


def _drawn(parts: Iterable[RenderableType], screen: Screen) -> str:
    """The parts below one another; text is not wrapped, for it comes in lines, and no line ends in blanks."""
    console = Console(file=io.StringIO(), width=screen.width, color_system="standard", _environ={})
    lines: list[str] = []
    for part in parts:
        if isinstance(part, Text):
            drawn = list(Segment.split_lines(part.render(console)))
        else:
            drawn = console.render_lines(part, pad=False)
        lines += [_written(line, screen) for line in drawn]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)) + "\n"


def _written(line: list[Segment], screen: Screen) -> str:
    """A line as the terminal takes it."""
    text = ""
    for part in reversed(line):
        bare = part.text if text else part.text.rstrip()
        text = (part.style.render(bare) if bare and part.style and screen.colour else bare) + text
    return text

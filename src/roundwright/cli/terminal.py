"""What only a terminal gets: tables and colour, and word of long work. Pipes and files get plain text."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time
from collections.abc import Iterator
from typing import IO, TYPE_CHECKING

from roundwright.cli import streams

if TYPE_CHECKING:
    from roundwright.report.screen import Screen

#: seconds before word is given of work, and between two words.
PATIENCE = 1.0
_WIDTH = 80  # of a terminal that does not tell


def screen_of(stream: IO[str] | None) -> Screen | None:
    """The terminal that a stream is; None where only plain text will do: a pipe, a file, TERM=dumb.

    `NO_COLOR` (no-color.org) takes the colour, not the table.
    """
    if stream is None or not is_terminal(stream) or os.environ.get("TERM") == "dumb":
        return None
    if not (getattr(stream, "encoding", None) or "utf-8").lower().startswith("utf"):
        return None
    from roundwright.report.screen import Screen  # here, so that pipes don't pay for it

    return Screen(_width(stream), colour=not os.environ.get("NO_COLOR"))


def _width(stream: IO[str]) -> int:
    with contextlib.suppress(OSError, ValueError):
        return os.get_terminal_size(stream.fileno()).columns or _WIDTH
    return _WIDTH


def is_terminal(stream: IO[str] | None) -> bool:
    """Whether a person looks at it."""
    with contextlib.suppress(ValueError):  # it is closed
        return stream is not None and stream.isatty()
    return False


@contextlib.contextmanager
def working(what: str, *, quiet: bool) -> Iterator[None]:
    """Give word on standard error, if that is a terminal, while work takes longer than a second."""
    if quiet or not is_terminal(sys.stderr):
        yield
        return
    over, began = threading.Event(), time.monotonic()
    said = threading.Thread(target=_say_on, args=(what, over, began), daemon=True)
    said.start()
    try:
        yield
    finally:
        over.set()
        said.join()


def _say_on(what: str, over: threading.Event, began: float) -> None:
    """Rewrite one line every second until the work is over, then take it away."""
    width = 0
    while not over.wait(PATIENCE):
        line = f"roundwright: {what}, {time.monotonic() - began:.0f} s"
        width = max(width, len(line))
        streams.rewrite_line(line.ljust(width))
    if width:
        streams.rewrite_line(" " * width)
        streams.rewrite_line("")

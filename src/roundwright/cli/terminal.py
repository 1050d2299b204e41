"""What only a terminal gets: colour, and word of work that takes a while. Pipes and files get plain text."""

from __future__ import annotations

import contextlib
import os
import re
import sys
import threading
import time
from collections.abc import Iterator
from typing import IO, Any

import click

from roundwright.cli import streams

#: seconds before word is given of work, and between two words.
PATIENCE = 1.0
#: a feature's row of the text listing, and the status that it ends with.
_ROW = re.compile(r"^(C\d+ .*?)(corrected|left alone|on size)$", re.MULTILINE)
_LOOKS: dict[str, dict[str, Any]] = {
    "corrected": {"fg": "bright_blue"},
    "left alone": {"fg": "yellow", "bold": True},
    "on size": {},
}


def in_colour(stream: IO[str] | None) -> bool:
    """Whether a stream is a terminal that shows colour; `NO_COLOR` (no-color.org) and TERM=dumb forbid it."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    return is_terminal(stream)


def is_terminal(stream: IO[str] | None) -> bool:
    """Whether a person looks at it."""
    with contextlib.suppress(ValueError):  # it is closed
        return stream is not None and stream.isatty()
    return False


def tinted(text: str, stream: IO[str] | None) -> str:
    """A text listing with its statuses in colour where the stream shows it; else as it is."""
    if not in_colour(stream):
        return text
    return _ROW.sub(lambda row: row[1] + click.style(row[2], **_LOOKS[row[2]]), text)


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

"""The command `watch`: corrects each finished program that is saved into a folder."""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import click
from msgspec import Struct, field

from roundwright.cli import streams
from roundwright.cli.params import table_option
from roundwright.cli.watched import REFUSED, REPORT, Shop, work_on
from roundwright.errors import RoundwrightError
from roundwright.settings import Settings

#: status of a run that could not do all that there was.
REFUSED_STATUS = 1
#: a program is finished when its size and date have stood still for this long, seconds.
SETTLED = 1.0
_LOOK = 0.3  # seconds between two looks where nothing wakes us
_UNFINISHED = (".part", ".tmp", ".partial", "~", REPORT, REFUSED)

_HELP = """Correct each finished program that is saved into the folder IN.

The corrected program goes into the folder OUT under the same name, with its
report beside it, NAME.report.html. A program that is refused leaves
NAME.refused.txt, which says why, and nothing else. What was done once isn't
done again, after a restart neither; delete OUT/.NAME.done to have it done
again. Ctrl-C ends.

\b
Example:
  roundwright watch -t router.toml -m "birch ply" drawings ready-to-cut
"""

_FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
Look = tuple[int, int]  # size and date of a file


@click.command(help=_HELP)
@click.argument("inbox", metavar="IN", type=_FOLDER)
@click.argument("folder", metavar="OUT", type=_FOLDER)
@table_option
@click.option("-m", "--material", metavar="NAME", help="What is being cut; else the table's default.")
@click.option("--strict", is_flag=True, help="Refuse programs with a circle for which data lack.")
@click.option("--once", is_flag=True, help="Do what is there, then end.")
def watch(inbox: Path, folder: Path, path: str, material: str | None, strict: bool, once: bool) -> int:
    """Watch until Ctrl-C; the exit status."""
    if streams.same_file(inbox, folder):
        raise click.UsageError("IN and OUT are one folder: corrected programs would be corrected again.")
    settings = Settings(material=material, strict=strict)
    _shop(folder, path, settings)  # a table that cannot be used is said at once
    if not once:
        streams.say(f"roundwright: watching {inbox}; corrected programs go to {folder}. Ctrl-C ends.")
    eyes = Eyes(inbox, path)
    for _ in _wakings(inbox):
        waiting = _round(eyes, folder, settings)
        if once and not waiting:
            return REFUSED_STATUS if eyes.hindered else 0
    return 0


class Eyes(Struct):
    """What was seen so far: each program's look and since when, and with which table it is done."""

    inbox: Path
    table: str
    seen: dict[str, tuple[Look, float]] = field(default_factory=dict)
    finished: dict[str, tuple[Look, str]] = field(default_factory=dict)
    hindered: str = ""

    def settled(self, name: str, look: Look) -> bool:
        """Whether a program has stood still for long enough."""
        now = time.monotonic()
        before = self.seen.get(name)
        if before is None or before[0] != look:
            self.seen[name] = look, now
            return False
        return now - before[1] >= SETTLED

    def complain(self, error: Exception) -> None:
        """Say what hinders the work, once, until something else does."""
        if str(error) != self.hindered:
            self.hindered = str(error)
            streams.say(f"roundwright: {error}")


def _round(eyes: Eyes, folder: Path, settings: Settings) -> bool:
    """Look once at every program; whether one is not finished yet."""
    try:
        shop = _shop(folder, eyes.table, settings)
        looks = _looks(eyes.inbox, eyes.table)
    except (RoundwrightError, OSError) as error:
        eyes.complain(error)
        return False
    waiting = False
    for name, look in looks.items():
        if eyes.finished.get(name) == (look, shop.table_sha256):
            continue
        if not eyes.settled(name, look):
            waiting = True
        elif _try(eyes, name, look, shop):
            eyes.finished[name] = look, shop.table_sha256
    return waiting


def _try(eyes: Eyes, name: str, look: Look, shop: Shop) -> bool:
    """Work on a program that stands still; False where it must be tried again."""
    path = eyes.inbox / name
    try:
        data = streams.read_bytes(path)
        if _look(path) != look:  # it was written to while it was read
            return False
        said = work_on(name, data, shop)
    except (RoundwrightError, OSError) as error:
        eyes.complain(error)
        return False
    if said is not None:
        streams.say(f"roundwright: {said}")
    return True


def _shop(folder: Path, table: str, settings: Settings) -> Shop:
    """The table as it is now: what was measured meanwhile counts for the next program."""
    from roundwright.calibration import open_table

    data = streams.read_bytes(table)
    return Shop(folder, open_table(streams.read_text(table), table), sha256(data).hexdigest(), settings)


def _looks(inbox: Path, table: str) -> dict[str, Look]:
    """The programs in the folder, by name; hidden and unfinished files, and the table, are none."""
    found = {}
    for path in sorted(inbox.iterdir()):
        if path.name.startswith(".") or path.name.lower().endswith(_UNFINISHED):
            continue
        look = _look(path)
        if look is not None and not streams.same_file(path, table):
            found[path.name] = look
    return found


def _look(path: Path) -> Look | None:
    with contextlib.suppress(OSError):
        if path.is_file():
            state = os.stat(path)
            return state.st_size, state.st_mtime_ns
    return None


def _wakings(inbox: Path) -> Iterator[None]:
    """Look at once when the system tells of a change, and every so often: not every drive tells.

    Without the library watchfiles it only looks every so often.
    """
    try:
        from watchfiles import watch as changes
    except ImportError:
        while True:
            yield
            time.sleep(_LOOK)
    pause = round(_LOOK * 1000)
    yield
    stop = threading.Event()
    for _ in changes(
        inbox, debounce=pause, step=50, rust_timeout=pause, yield_on_timeout=True, recursive=False,
        raise_interrupt=True, stop_event=stop, ignore_permission_denied=True,
    ):  # fmt: skip
        yield

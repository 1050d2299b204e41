"""One program out of a watched folder: what is done with it, and how that is remembered."""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import asdict

from roundwright.cli import streams
from roundwright.errors import Place, ProgramError, RoundwrightError
from roundwright.settings import Settings

if TYPE_CHECKING:
    from roundwright.calibration import Table
    from roundwright.pipeline import Outcome

REPORT, REFUSED = ".report.html", ".refused.txt"
_IN_THE_WAY = (
    "the folder holds a file {} that was not written here, or was changed since. Move it away and save the "
    "program again"
)


class Done(Struct, frozen=True):
    """What became of a program: hashes of what was read and written; no `output` where it was refused."""

    program: str
    table: str
    output: str = ""
    report: str = ""
    refusal: str = ""

    def settles(self, program: str, table: str) -> bool:
        """Whether nothing is left to do. A refused program gets another chance when the table changes."""
        return self.program == program and (bool(self.output) or self.table == table)


class Shop(Struct, frozen=True):
    """What every program of a watched folder is corrected with."""

    folder: Path
    table: Table
    table_sha256: str
    settings: Settings


def work_on(name: str, data: bytes, shop: Shop) -> str | None:
    """Correct one program into the folder, or leave word why not; what to say, None where it is done already.

    Raises RoundwrightError where the folder cannot be written: then nothing is remembered.
    """
    done, program = _remembered(shop.folder, name), _hash(data)
    if done is not None and done.settles(program, shop.table_sha256):
        return None
    ours = {done.output, done.report, done.refusal} - {""} if done else set()
    try:
        outcome = _corrected(name, data, shop)
        output = outcome.output or b""
        page = _page(outcome, name, shop)
    except RoundwrightError as refusal:
        return _refuse(name, str(refusal), Done(program, shop.table_sha256), shop.folder, ours)
    for path, new in ((name, output), (name + REPORT, page)):
        if _in_the_way(shop.folder / path, new, ours):
            return _refuse(name, f"{name}: {_IN_THE_WAY.format(path)}", Done("", ""), shop.folder, ours)
    from roundwright.report.text import verdict

    streams.write_atomic(shop.folder / (name + REPORT), page)
    streams.write_atomic(shop.folder / name, output)
    _remove(shop.folder / (name + REFUSED), ours)
    _remember(shop.folder, name, Done(program, shop.table_sha256, _hash(output), _hash(page)))
    return f"{name}: {verdict(outcome.plan.corrections)}"


def _corrected(name: str, data: bytes, shop: Shop) -> Outcome:
    """Raises RoundwrightError where the program is refused."""
    from roundwright import pipeline
    from roundwright.cli.correct import STRICT_REASONS

    if not data:
        raise ProgramError("the program is empty", place=Place(name), cure="Save it again")
    outcome = pipeline.correct(data, name, shop.table, shop.settings)
    left = [c for c in outcome.plan.corrections if c.reason in STRICT_REASONS]
    if shop.settings.strict and left:
        names = ", ".join(f"{c.feature.id} ({c.reason}: {c.why})" for c in left)
        raise ProgramError(f"--strict refuses the program, data lack for {names}", place=Place(name))
    return outcome


def _page(outcome: Outcome, name: str, shop: Shop) -> bytes:
    from roundwright.report.html import Files, report_html

    return report_html(outcome, Files(name, shop.table_sha256)).encode()


def _in_the_way(path: Path, new: bytes, ours: set[str]) -> bool:
    """Whether a file of that name was not written here, or was changed since: it is not written over."""
    return path.exists() and (old := streams.read_bytes(path)) != new and _hash(old) not in ours


def _refuse(name: str, why: str, done: Done, folder: Path, ours: set[str]) -> str:
    """Leave word, and nothing that an earlier version of the program became."""
    for ending in ("", REPORT):
        _remove(folder / (name + ending), ours)
    text = f"{why}\n".encode()
    streams.write_atomic(folder / (name + REFUSED), text)
    _remember(folder, name, Done(done.program, done.table, refusal=_hash(text)))
    return f"refused: {why}"


def _remove(path: Path, ours: set[str]) -> None:
    """Remove a file that was written here and not changed since."""
    if path.is_file() and _hash(streams.read_bytes(path)) in ours:
        path.unlink(missing_ok=True)


def _memory(folder: Path, name: str) -> Path:
    return folder / f".{name}.done"


def _remembered(folder: Path, name: str) -> Done | None:
    """What was done with a program of this name; None where nothing is known for certain."""
    path = _memory(folder, name)
    if not path.is_file():
        return None
    try:
        return Done(**json.loads(streams.read_bytes(path)))
    except (ValueError, TypeError):
        return None


def _remember(folder: Path, name: str, done: Done) -> None:
    """Written last: whatever is cut short before it is done again, with the same result."""
    streams.write_atomic(_memory(folder, name), (json.dumps(asdict(done), indent=1) + "\n").encode())


def _hash(data: bytes) -> str:
    return sha256(data).hexdigest()

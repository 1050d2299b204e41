"""Every byte of a corrected sample spoiled, one at a time, and what the proof lets through of that."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from captured import Captured, captured
from roundwright.calibration import open_table
from roundwright.errors import ProofError
from roundwright.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
TABLE = ROOT / "samples" / "shop-router.toml"
#: what a byte is replaced by: a digit, a letter, a sign, a point, a blank, a comment's end, what is no text.
OTHERS = b"05GXz-. ()\n\xe4"
NUMBER = re.compile(rb"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")


def sample(name: str) -> Captured:
    """A sample's run, before its proof."""
    data = (ROOT / "samples" / name).read_bytes()
    table = open_table(TABLE.read_text(encoding="utf-8"), TABLE.name)
    return captured(data, name, table, Settings())


def spoiled(text: bytes, first: int, step: int) -> Iterator[tuple[int, str, bytes]]:
    """Place, what was done, and the spoiled text, of every `step`th byte from `first` on."""
    for at in range(first, len(text), step):
        yield at, "deleted", text[:at] + text[at + 1 :]
        yield at, "doubled", text[: at + 1] + text[at:]
        for other in OTHERS:
            if other != text[at]:
                yield at, f"made {bytes([other])!r}", text[:at] + bytes([other]) + text[at + 1 :]


def let_through(run: Captured, first: int = 0, step: int = 1) -> tuple[list[str], list[str], int]:
    """What passes within the tolerance, what passes otherwise, and how many were tried."""
    # the tolerance, and of a clearing ring the diagonal of a written step, in the program's unit
    most = 0.00025 if b"G20" in run.old else 0.0025
    close, wrong, tried = [], [], 0
    for at, done, text in spoiled(run.new, first, step):
        if text == run.new:
            continue
        tried += 1
        try:
            run.prove(text)
        except ProofError:
            continue
        line = run.new.count(b"\n", 0, at) + 1
        (close if within(run.new, text, most) else wrong).append(f"line {line}, byte {at}: {done}")
    return close, wrong, tried


def within(old: bytes, new: bytes, most: float) -> bool:
    """Whether nothing differs but numbers, and they by no more than this."""
    pairs = zip(NUMBER.findall(old), NUMBER.findall(new), strict=False)
    same = NUMBER.split(old) == NUMBER.split(new)
    return same and all(abs(float(a) - float(b)) <= most for a, b in pairs)

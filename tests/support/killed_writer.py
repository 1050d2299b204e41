"""Kills a run that writes a file at a moment of chance, and says what it left."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path
from random import Random
from subprocess import DEVNULL

from command import start

#: seconds until a run that does not write is given up.
_SLOW = 60.0


@dataclass(frozen=True)
class Left:
    """What a killed run left in its folder: the target's bytes (None without one), other new files."""

    target: bytes | None
    others: tuple[str, ...]
    ended: bool  # whether it had come to its end before


def killed(
    folder: Path,
    target: Path,
    arguments: tuple[str, ...],
    delay: float,
    *,
    writing: bool,
    answers: bytes = b"",
) -> Left:
    """Run the command line and kill it, without a chance to clean up.

    It is killed `delay` seconds after its start or, where `writing`, after a new file shows in the folder.
    `answers` stand in its standard input.
    """
    before = {path.name for path in folder.iterdir()}
    process = start(*arguments, cwd=folder, stdout=DEVNULL, stderr=DEVNULL)
    assert process.stdin is not None
    process.stdin.write(answers)
    process.stdin.close()
    process.stdin = None
    give_up = time.monotonic() + _SLOW
    while writing and process.poll() is None and {path.name for path in folder.iterdir()} == before:
        assert time.monotonic() < give_up, "it never wrote"
        time.sleep(0.001)  # the run that is waited for needs the processor
    time.sleep(delay)
    ended = process.poll() is not None
    process.kill()
    process.communicate(timeout=_SLOW)
    others = {path.name for path in folder.iterdir()} - before - {target.name}
    return Left(target.read_bytes() if target.exists() else None, tuple(sorted(others)), ended)


def moments(count: int, whole: float, chance: Random) -> list[tuple[float, bool]]:
    """Moments of chance in a run that takes `whole` seconds, as `killed` takes them: most in the writing."""
    anywhere = [(chance.uniform(0.0, whole * 1.1), False) for _ in range(count // 4)]
    return anywhere + [(chance.uniform(0.0, 0.01), True) for _ in range(count - len(anywhere))]

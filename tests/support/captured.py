"""A real run taken apart before its proof: plan, moves, bytes, and the proof as it was asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from unittest import mock

from roundwright import pipeline
from roundwright.calibration import Table
from roundwright.plan import Plan
from roundwright.rewrite import rewrite_program
from roundwright.settings import Settings
from roundwright.trace import Moves


@dataclass(frozen=True, eq=False)
class Captured:
    """A corrected program and what it was made from."""

    old: bytes
    new: bytes
    moves: Moves
    plan: Plan
    _prove: Callable[[bytes, Plan], None]

    def prove(self, new: bytes | None = None, plan: Plan | None = None) -> None:
        """Prove these bytes against this plan; those of the run unless said otherwise."""
        self._prove(self.new if new is None else new, plan or self.plan)

    def written(self, plan: Plan) -> bytes:
        """What the rewriter makes of another plan, in all good faith."""
        return rewrite_program(self.moves, plan)

    def changed(self) -> list[tuple[int, bytes, bytes]]:
        """Line of the new program (from 0), old and new text, of each changed line."""
        old, new = self.old.splitlines(keepends=True), self.new.splitlines(keepends=True)
        at = next((k for k, line in enumerate(new) if b"roundwright" in line), len(new))
        stamped = len(new) - len(old)
        places = [(k + stamped * (k >= at), before) for k, before in enumerate(old)]
        return [(place, before, new[place]) for place, before in places if new[place] != before]

    def with_line(self, at: int, line: bytes) -> bytes:
        """The new program with another line in one place."""
        lines = self.new.splitlines(keepends=True)
        lines[at] = line
        return b"".join(lines)


def captured(data: bytes, name: str, table: Table, settings: Settings) -> Captured:
    """Correct a program and keep what the proof was given."""
    noted: list[Callable[[bytes, Plan], None]] = []
    real = pipeline.prove_program

    def note(moves: Moves, new: bytes, plan: Plan, **more: object) -> None:
        noted.append(lambda new, plan: real(moves, new, plan, **more))  # type: ignore[arg-type]
        real(moves, new, plan, **more)  # type: ignore[arg-type]

    with mock.patch.object(pipeline, "prove_program", note):
        outcome = pipeline.correct(data, name, table, settings)
    assert outcome.output is not None
    return Captured(data, outcome.output, outcome.moves, outcome.plan, noted[-1])

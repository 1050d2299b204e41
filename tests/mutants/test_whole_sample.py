"""Break a whole corrected sample in one place: every changed number taken back, nudged, or its line lost."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from roundwright import pipeline
from roundwright.calibration import open_table
from roundwright.errors import ProofError
from roundwright.settings import Settings

SAMPLES = Path(__file__).parents[2] / "samples"
TABLE = SAMPLES / "shop-router.toml"
NUMBER = re.compile(rb"([XYZIJKRF])([-+]?[0-9]*\.?[0-9]+)")


@dataclass(frozen=True)
class Corrected:
    """A sample's corrected bytes, and the proof of them as the pipeline asks for it."""

    old: bytes
    new: bytes
    prove: Callable[[bytes], None]

    def changed(self) -> Iterator[tuple[int, bytes, bytes]]:
        """Line of the new program (from 0), old and new text, of each changed line."""
        old, new = self.old.splitlines(keepends=True), self.new.splitlines(keepends=True)
        stamped = len(new) - len(old)
        at = next(k for k, line in enumerate(new) if b"roundwright" in line)
        for k, before in enumerate(old):
            place = k + stamped * (k >= at)
            if new[place] != before:
                yield place, before, new[place]

    def with_line(self, at: int, line: bytes) -> bytes:
        lines = self.new.splitlines(keepends=True)
        lines[at] = line
        return b"".join(lines)


@pytest.fixture(scope="module", params=["bearing-block.nc", "bearing-block-inch.nc"])
def sample(request: pytest.FixtureRequest) -> Corrected:
    proofs: list[Callable[[bytes], None]] = []
    real = pipeline.prove_program

    def noted(old, new, plan, **more):
        proofs.append(lambda mutant: real(old, mutant, plan, **more))
        real(old, new, plan, **more)

    data = (SAMPLES / request.param).read_bytes()
    table = open_table(TABLE.read_text(encoding="utf-8"), TABLE.name)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "prove_program", noted)
        outcome = pipeline.correct(data, request.param, table, Settings())
    assert outcome.output is not None
    return Corrected(data, outcome.output, proofs[-1])


def survivors(sample: Corrected, mutants: Iterator[tuple[str, bytes]]) -> tuple[list[str], int]:
    """What the proof lets through, and how many were tried."""
    through, count = [], 0
    for name, mutant in mutants:
        count += 1
        try:
            sample.prove(mutant)
        except ProofError:
            continue
        through.append(name)
    return through, count


def test_the_corrected_sample_passes(sample: Corrected) -> None:
    assert len(list(sample.changed())) >= 10
    sample.prove(sample.new)


def test_no_changed_line_may_be_as_it_was_or_lost(sample: Corrected) -> None:
    def mutants() -> Iterator[tuple[str, bytes]]:
        for at, before, after in sample.changed():
            yield f"line {at + 1} as before", sample.with_line(at, before)
            yield f"line {at + 1} lost", sample.with_line(at, b"")
            yield f"line {at + 1} twice", sample.with_line(at, after + after)

    through, count = survivors(sample, mutants())
    assert through == [] and count >= 30


def test_no_number_of_a_changed_line_may_be_off(sample: Corrected) -> None:
    """By 10 µm, by its sign, by a factor of 25.4: no number of a changed line may be so."""
    step = 0.0004 if b"G20" in sample.old else 0.01

    def mutants() -> Iterator[tuple[str, bytes]]:
        for at, _, after in list(sample.changed())[::3]:
            for match in NUMBER.finditer(after):
                value = float(match[2])
                for off in (value + step, value - step, -value - step, value * 25.4 + step):
                    text = after[: match.start(2)] + b"%.6f" % off + after[match.end(2) :]
                    yield f"line {at + 1}: {after!r} as {text!r}", sample.with_line(at, text)

    through, count = survivors(sample, mutants())
    assert through == [] and count >= 40

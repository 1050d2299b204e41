"""Cases that fuzzing has found, and a short share of fuzzing with fixed seeds."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from fuzz_targets import TARGETS, mutated, seeds

FOUND = sorted(path for path in (Path(__file__).parent / "found").glob("*/*") if path.is_file())
#: runs of the fixed share; a whole correction costs most.
SHARE = {"read": 150, "table": 150, "correct": 25}
ROUNDS = 4


@pytest.mark.parametrize("path", FOUND, ids=lambda path: f"{path.parent.name}-{path.name}")
def test_what_was_found_stays_mended(path):
    assert TARGETS[path.parent.name](path.read_bytes())


@pytest.mark.parametrize("round_", range(ROUNDS))
@pytest.mark.parametrize("name", TARGETS)
def test_a_short_share_with_fixed_seeds(name, round_):
    chance = Random(f"{name} {round_}")
    small = seeds(name)[:60]
    ends = {TARGETS[name](mutated(name, chance.choice(small), chance)) for _ in range(SHARE[name])}
    assert len(ends) > 1  # some are refused or left alone, some are not: the seeds still reach the rooms

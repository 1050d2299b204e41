"""Programs that nobody should have written: refused plainly or proven, whatever they hold."""

from __future__ import annotations

import tracemalloc

import pytest

from hostile_programs import BORE, HEAD, HOSTILE, TABLE
from roundwright import pipeline
from roundwright.calibration import open_table
from roundwright.errors import ProofError, RoundwrightError
from roundwright.settings import Settings

#: lines stay below what is refused for its length alone, so that all rooms are tried.
SIZE = 6_000
OUT = open_table(TABLE, "router.toml")


def ended(data: bytes) -> str:
    """How a run ends: refused, or proven, whether anything was corrected or not. Nothing else may fly."""
    try:
        outcome = pipeline.correct(data, "hostile.nc", OUT, Settings())
    except ProofError:
        raise
    except RoundwrightError as error:
        assert error.place is not None and error.place.name == "hostile.nc"
        assert error.what and error.cure and len(str(error)) < 400
        return "refused"
    assert outcome.output is not None
    done = [c for c in outcome.plan.corrections if c.status == "corrected"]
    assert bool(done) == (outcome.output != data)
    return "proven"


#: what is no program, and arcs that can be read in two ways.
REFUSED = {
    "NUL, one line",
    "arcs of no radius",
    "UTF-16",
    "UTF-16 without its mark",
    "archive",
    "noise",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_it_is_refused_or_proven(name):
    assert (ended(HOSTILE[name](SIZE)) == "refused") == (name in REFUSED)


@pytest.mark.parametrize("name", [name for name in HOSTILE if name.endswith("one line")])
def test_a_line_too_long_is_refused_in_little_room(name):
    """In far less than 12 times the input: nothing is made of such a line."""
    data = HOSTILE[name](1_000_000)
    ended(HEAD + BORE)
    tracemalloc.start()
    try:
        assert ended(data) == "refused"
        assert tracemalloc.get_traced_memory()[1] <= 4 * len(data)
    finally:
        tracemalloc.stop()

"""On the real programs what the cutter sweeps differs only along corrected walls and beside their leads.

Authority: the library shapely (GEOS) for the geometry of areas; the path is read by `tests/support/sweep.py`,
which shares nothing with the project. Skips where the folder is absent; nothing of the programs is here.
"""

from dataclasses import replace

import pytest

import corpus
import sweep
from swept_bands import RESOLUTION, check_moves, circles_of, differ

pytestmark = [
    pytest.mark.published,
    corpus.needed,
]

#: bytes: longer programs take too long.
LONGEST = 30_000
#: at least so many programs with so many corrected circles and changed moves are compared.
PROGRAMS, CIRCLES, MOVES = 30, 100, 1000
#: the codes that a plain interpreter must not pass over: they change where a move goes.
HEARD = {0, 1, 2, 3, 17, 18, 19, 20, 21, 90, 91, 90.1, 91.1}


@pytest.fixture(autouse=True)
def plain(monkeypatch):
    """The plain interpreter, deaf to codes that change neither units, motion, plane nor centres."""
    corpus.hear_only(monkeypatch, HEARD)


def paths_of(done):
    """Both programs as the plain interpreter reads them, the corrected circles, and how close it must be."""
    outcome = done.outcome
    before, after = (
        sweep.cuts_of(text.decode("latin-1")) for text in (done.entry.path.read_bytes(), outcome.output)
    )
    inch = any(state.inch for state in outcome.moves.states)
    coarse = 10.0**-outcome.moves.finest / 2 * (25.4 if inch else 1.0)
    return before, after, circles_of(outcome), RESOLUTION[inch] + coarse


def radii_of(done, cuts):
    """The cutters' radii by tool; the one that the folder's list names without a number cuts them all."""
    tools = done.entry.tools
    return {cut.tool: tools.get(cut.tool, next(iter(tools.values()))) / 2 for cut in cuts}


SHORT = [name for name, entry in corpus.entries().items() if entry.path.stat().st_size <= LONGEST]


def corrected(names):
    """The runs of those programs that have corrected circles."""
    return [
        done for done in map(corpus.corrected, names) if done.outcome is not None and circles_of(done.outcome)
    ]


@pytest.mark.parametrize("name", SHORT)
def test_real_programs_differ_only_along_walls_and_leads(name):
    for done in corrected([name]):
        before, after, circles, fine = paths_of(done)
        assert check_moves(before, after, circles, radii_of(done, before), fine) > 0


def test_enough_is_compared():
    """What the check above takes in cannot shrink unseen."""
    runs = corrected(SHORT)
    paths = [paths_of(done) for done in runs]
    moves = sum(differ(*pair) for before, after, *_ in paths for pair in zip(before, after, strict=True))
    circles = sum(len(each) for _, _, each, _ in paths)
    print(f"{len(runs)} programs, {circles} circles, {moves} changed moves")
    assert (len(runs), circles, moves) >= (PROGRAMS, 0, 0) and circles >= CIRCLES and moves >= MOVES


@pytest.mark.parametrize("off", [0.3, -0.3])
def test_a_move_that_strays_is_noticed(off):
    """The comparison can fail: the first or last turn of a hole off by three times its correction."""
    done = corpus.corrected("003-pocket-helix-deep.nc")
    before, after, circles, fine = paths_of(done)
    radii = radii_of(done, before)
    check_moves(before, after, circles, radii, fine)
    for k in (0, len(after) - 1):
        spoiled = [*after]
        (x, y, z), (u, v, w), (i, j) = after[k].start, after[k].end, after[k].centre
        spoiled[k] = replace(after[k], start=(x + off, y, z), end=(u + off, v, w), centre=(i + off, j))
        with pytest.raises(AssertionError):
            check_moves(before, spoiled, circles, radii, fine)

"""Blocks that cannot be read, strewn anywhere: no circle is corrected across them, whatever they may do.

Every program is walked as if these blocks left the tool where it was, and as if they left it somewhere else.
"""

import random
from fractions import Fraction
from math import hypot

import pytest

from exact_positions import in_increments, positions, words
from known_truth import table_for
from plates import TOOL, draw
from roundwright.pipeline import correct
from roundwright.settings import Settings

TABLE = table_for({1: TOOL}, (-0.3, -0.2, -0.25))
UNREAD = ("M98 P9", "X#1", "G0 X#1 Y#2", "G1 X[1+2] Y#3", "G65 P5 X1.", "O5 call [7]", "G1 Z#7", "#1=[#2+1]")
#: half of the largest correction, and what writing may add.
MOST = Fraction("0.15") + Fraction(2, 1000)


def strewn(seed: int, *, incremental: bool) -> tuple[str, list[int]]:
    """A drawn plate with unread blocks at some lines behind its head; gives these lines (from 0)."""
    rng = random.Random(seed)
    text = draw(seed, lambda rng: rng.choice([0.5, 1.0, 3.0])).data.decode()
    if incremental:
        text = in_increments(text, lambda k: (k // 9) % 2 == 1)
    lines = text.splitlines()
    for _ in range(rng.randint(1, 6)):
        lines.insert(rng.randrange(5, len(lines) - 1), rng.choice(UNREAD))
    return "\n".join(lines) + "\n", [k for k, line in enumerate(lines) if line in UNREAD]


def arcs(text: str, at: list) -> list[tuple[int, tuple[float, float], float, float]]:
    """Line, centre, and radii at start and end of every arc, with the tool as it was walked."""
    found, motion = [], Fraction(0)
    for k, line in enumerate(text.splitlines()):
        said = dict(words(line))
        motion = said.get("G", motion) if said.get("G") in (0, 1, 2, 3) else motion
        if motion in (2, 3) and said.keys() & {"I", "J"} and "#" not in line:
            start, end = at[k - 1], at[k]
            centre = start[0] + said.get("I", 0), start[1] + said.get("J", 0)
            radii = (hypot(p[0] - centre[0], p[1] - centre[1]) for p in (start, end))
            found.append((k, (float(centre[0]), float(centre[1])), *radii))
    return found


@pytest.mark.parametrize("incremental", [False, True], ids=["G90", "mixed"])
@pytest.mark.parametrize("first", range(0, 40, 10))
def test_nothing_is_guessed_across_an_unread_block(first, incremental):
    corrected = left = 0
    for seed in range(first, first + 10):
        text, unread = strewn(seed, incremental=incremental)
        outcome = correct(text.encode(), "p.nc", TABLE, Settings(again=True, stamp=False, limit=5.0))
        output = outcome.output.decode()
        for line in unread:
            assert output.splitlines()[line] == text.splitlines()[line]
        rng = random.Random(seed)
        elsewhere = {
            k: (rng.randint(-90, 90), rng.randint(-90, 90), 1)
            for k in unread
            if "#1=" not in text.splitlines()[k]
        }
        for jumps in ({}, elsewhere):
            was, now = positions(text, jumps), positions(output, jumps)
            for k, (old, new) in enumerate(zip(was, now, strict=True)):
                assert old[2] == new[2]
                assert hypot(*(p - q for p, q in zip(old, new, strict=True))) <= MOST, (seed, k + 1)
            for k in elsewhere:
                assert was[k] == now[k] and was[k - 1] == now[k - 1], (seed, k + 1)
            assert was[-1] == now[-1]
            _same_circles(arcs(text, was), arcs(output, now), seed)
        corrected += sum(c.status == "corrected" for c in outcome.plan.corrections)
        left += sum(c.status != "corrected" for c in outcome.plan.corrections)
    assert corrected > 10 and left > 5


def _same_circles(was, now, seed) -> None:
    """Arcs keep their centres, but for leads that travel; and an arc that closed still closes."""
    assert len(was) == len(now)
    for (k, c, r, s), (_, d, t, u) in zip(was, now, strict=True):
        assert hypot(c[0] - d[0], c[1] - d[1]) <= MOST, (seed, k + 1)
        assert abs(t - u) <= max(abs(r - s), 2e-3), (seed, k + 1, r, s, t, u)

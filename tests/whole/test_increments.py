"""G91, alone or switched at will: the path after a corrected circle joins the old one exactly, for good."""

import random
from fractions import Fraction

import pytest

from exact_positions import in_increments, positions
from known_truth import table_for
from plates import TOOL, draw
from roundwright.pipeline import Outcome, correct
from roundwright.settings import Settings

#: errors whose halves don't end within any written decimals.
TABLE = table_for({1: TOOL}, (-0.3, -0.2, -0.1234567))
MICRON = Fraction(1, 1000)


def run(text: str) -> Outcome:
    return correct(text.encode(), "p.nc", TABLE, Settings(again=True, stamp=False, limit=5.0))


def verdicts(outcome: Outcome) -> list[tuple]:
    return [(c.status, c.reason, c.feature.side, c.corrected) for c in outcome.plan.corrections]


def ways(seed: int):
    rng = random.Random(seed)
    drawn = [rng.random() < 0.5 for _ in range(5000)]
    return {
        "throughout": lambda k: True,
        "by stretches": lambda k: (k // 9) % 2 == 1,
        "every other line": lambda k: k % 2 == 1,
        "at random": lambda k: drawn[k],
    }


@pytest.mark.parametrize("way", list(ways(0)))
@pytest.mark.parametrize("seed", range(5))
def test_output_in_increments_is_the_absolute_output(seed, way):
    text = draw(seed, lambda rng: rng.choice([0.5, 1.0, 3.0])).data.decode()
    absolute, other = run(text), in_increments(text, ways(seed)[way])
    assert positions(other) == positions(text)
    outcome = run(other)
    assert verdicts(outcome) == verdicts(absolute)
    was, expected, found = (positions(t) for t in (text, absolute.output.decode(), outcome.output.decode()))
    joined = 0
    for old, goal, new in zip(was, expected, found, strict=True):
        if goal == old:  # what stays, stays exactly
            assert new == old
            joined += 1
        else:
            assert max(abs(p - q) for p, q in zip(goal, new, strict=True)) <= MICRON
    assert 0 < joined < len(was)


def thousand(inch: bool) -> str:
    """1,000 holes in a row, all in increments; each begins where the last one's plunge was, and a step."""
    lines = ["G20" if inch else "G21", "G90 G17", "T1 M6", "M3 S9000"]
    lines += ["G0 X0 Y0 Z.2" if inch else "G0 X0 Y0 Z5", "G91"]
    for k in range(1000):
        r = f"{0.2357 + (k % 7) * 0.011:.4f}" if inch else f"{5.987 + (k % 7) * 0.131:.3f}"
        down = "-.3" if inch else "-8"
        lines += [f"G0 X{'.87' if inch else '22.1'} Y{'.0001' if inch else '.001'}", f"G1 Z{down} F20"]
        lines += [f"G1 X{r}", f"G3 X-{r} Y{r} I-{r}", f"G3 X-{r} Y-{r} J-{r}", f"G3 X{r} Y-{r} I{r}"]
        lines += [f"G3 X{r} Y{r} J{r}", f"G1 X-{r}", f"G0 Z{down[1:]}"]
    return "\n".join([*lines, "G90", "M30", ""])


@pytest.mark.parametrize("inch", [False, True], ids=["mm", "inch"])
def test_rounding_does_not_add_up_over_a_thousand_circles(inch):
    text = thousand(inch)
    outcome = run(text)
    assert [c.status for c in outcome.plan.corrections] == ["corrected"] * 1000
    was, now = positions(text), positions(outcome.output.decode())
    assert now[-1] == was[-1]
    bound = Fraction(26, 10000) if inch else MICRON
    changes = [c.change / 2 for c in outcome.plan.corrections]
    for k in range(1000):
        first = 6 + 9 * k
        assert was[first] == now[first] and was[first + 8] == now[first + 8]
        for corner, (x, y) in zip(range(2, 7), [(1, 0), (0, 1), (-1, 0), (0, -1), (1, 0)], strict=True):
            old, new = was[first + corner], now[first + corner]
            assert abs(new[0] - old[0] - x * Fraction(changes[k])) <= bound
            assert abs(new[1] - old[1] - y * Fraction(changes[k])) <= bound

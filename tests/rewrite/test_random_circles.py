"""Random circles, splits, units, decimals and corrections: what is read back is what was planned."""

import re
from dataclasses import dataclass
from math import cos, hypot, pi, radians, sin

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from rewriting import arcs_on, grown, moves_of
from roundwright.errors import CannotWrite
from roundwright.rewrite import rewrite_program
from roundwright.units import PER_UNIT

MICROMETRE = 1e-3


@dataclass(frozen=True)
class Drawn:
    """A program that cuts one circle, and that circle in mm."""

    text: str
    centre: tuple[float, float]
    radius: float
    form: str
    inch: bool
    decimals: int


def _number(value: float, decimals: int, trim: bool) -> str:
    text = f"{value:.{decimals}f}"
    if trim:
        text = text.rstrip("0").rstrip(".")
    return text.replace("-0.", "-.") if trim and text.startswith("-0.") else text or "0"


@st.composite
def circles(draw):
    inch = draw(st.booleans())
    decimals = draw(st.integers(3, 5) if inch else st.integers(2, 5))
    scale = 25.4 if inch else 1.0
    form = draw(st.sampled_from(("step", "absolute", "radius")))
    incremental = form != "absolute" and draw(st.booleans())
    trim, ccw, lead = draw(st.booleans()), draw(st.booleans()), draw(st.booleans())
    unit = 10.0**-decimals
    grid = [draw(st.integers(-(10**6), 10**6)) % int(200 / scale / unit) * unit for _ in range(2)]
    radius = round(draw(st.floats(2.0, 40.0)) / scale, decimals)
    shares = draw(
        st.sampled_from(((1.0,), (0.5, 0.5), (0.25,) * 4, (1 / 3,) * 3, (0.4, 0.35, 0.25), (0.7, 0.3)))
    )
    if form == "radius" and len(shares) == 1:
        shares = (0.5, 0.5)
    first = draw(st.sampled_from((0.0, 90.0, 180.0, 37.0)) | st.floats(0, 360))
    turns, total = [], 0.0
    for share in (0.0, *shares):
        total += share
        turns.append(radians(first) + (1 if ccw else -1) * 2 * pi * total)
    points = [
        tuple(round(c + radius * f(t), decimals) for c, f in zip(grid, (cos, sin), strict=True))
        for t in turns
    ]
    points[-1] = points[0]
    lines = [f"G{20 if inch else 21} G90{' G90.1' if form == 'absolute' else ''}"]
    at = [0.0, 0.0]

    def say(letters, values) -> str:
        return " ".join(f"{a}{_number(v, decimals, trim)}" for a, v in zip(letters, values, strict=True))

    def step(code, to, more="") -> None:
        shown = [b - a for a, b in zip(at, to, strict=True)] if incremental else list(to)
        lines.append(f"{code} {say('XY', shown)}{more}")
        at[:] = to

    start = tuple(round(c, decimals) for c in grid) if lead else points[0]
    step("G0", start)
    lines.append("G91" if incremental else "G90")
    if incremental:
        at[:] = start
    if lead:
        step("G1", points[0])
    for share, to in zip(shares, points[1:], strict=True):
        if form == "radius":
            more = " " + say("R", [-radius if share > 0.5 else radius])
        else:
            offset = list(grid) if form == "absolute" else [c - a for a, c in zip(at, grid, strict=True)]
            more = " " + say("IJ", offset)
        step(f"G{3 if ccw else 2}", to, more)
    if lead:
        step("G1", start)
    lines += ["G90", f"G0 {say('XY', (0.0, 0.0))}"]
    text = "\n".join(lines) + "\n"
    return Drawn(text, (grid[0] * scale, grid[1] * scale), radius * scale, form, inch, decimals)


WORD = re.compile(r" ?[XYIJR][-+]?[0-9.]+")


HALVES = Drawn(
    "G20 G90\nG0 X-0.068 Y7.911\nG90\n"
    "G2 X0.068 Y7.832 R0.079\nG2 X-0.068 Y7.911 R0.079\nG90\nG0 X0.000 Y0.000\n",
    (0.0, 7.871 * 25.4),
    0.079 * 25.4,
    "radius",
    inch=True,
    decimals=3,
)


@settings(max_examples=150, deadline=None)
@example(HALVES, 1.0)
@given(circles(), st.floats(-1.0, 1.0).filter(lambda d: abs(d) > 0.002))
def test_the_planned_circle_is_read_back(drawn, delta):
    moves = moves_of(drawn.text)
    if moves.arcs.fault.any():
        return
    near = 0.5 if drawn.form == "radius" else 0.03
    if len(arcs_on(moves, drawn.centre, drawn.radius, near)) != len(moves.arcs.row):
        return  # R words that put the centre elsewhere as they stand
    plan = grown(moves, drawn.centre, drawn.radius, delta, near=near)
    tolerance = (2.6 if drawn.inch else 1.0) * MICROMETRE + 1e-6
    try:
        out = rewrite_program(moves, plan).decode()
    except CannotWrite as refusal:  # halves that are no halves: R alone can't say where their centre is
        was_off = np.hypot(*(moves.arcs.centre - np.array(drawn.centre)).T)
        assert drawn.form == "radius" and was_off.max() > tolerance and "its R" in refusal.what
        return
    assert WORD.sub("", out) == WORD.sub("", drawn.text)
    new = moves_of(out)
    assert len(new) == len(moves) and len(new.arcs.row) == len(moves.arcs.row)
    target = drawn.radius + delta
    off = np.hypot(*(new.arcs.centre - np.array(drawn.centre)).T)
    assert off.max() <= tolerance
    assert np.abs(new.arcs.radius - target).max() <= tolerance
    assert np.abs(new.arcs.radius_end - target).max() <= tolerance
    last = (25.4 if drawn.inch else 1.0) * 10.0 ** -max(drawn.decimals, 4 if drawn.inch else 3)
    apart = np.abs(new.arcs.radius - new.arcs.radius_end)
    was = np.abs(moves.arcs.radius - moves.arcs.radius_end)
    assert (apart <= np.maximum(was, np.sqrt(2) * last) + 1e-6).all()
    assert new.end[-1].tolist() == moves.end[-1].tolist()
    _ends_in_place(moves, new, plan)


def _ends_in_place(moves, new, plan) -> None:
    """Ends that the plan does not move are where they were, to the last count; coinciding ones still do."""
    same = {}
    for row in range(len(moves)):
        if row not in plan.ends:
            assert new.end[row].tolist() == moves.end[row].tolist()
            continue
        planned = np.array(plan.ends[row])
        assert hypot(*(new.end[row] / PER_UNIT - planned)) <= 6 * MICROMETRE
        key = tuple(moves.end[row].tolist())
        assert same.setdefault(key, new.end[row].tolist()) == new.end[row].tolist()


@settings(max_examples=60, deadline=None)
@given(circles(), st.floats(-1.0, 1.0), st.integers(3, 5))
def test_with_few_decimals_it_is_within_the_promise_or_refused(drawn, delta, most):
    moves = moves_of(drawn.text)
    if moves.arcs.fault.any() or drawn.form == "absolute":
        return
    near = 0.5 if drawn.form == "radius" else 0.03
    plan = grown(moves, drawn.centre, drawn.radius, delta, near=near, most=most)
    try:
        out = rewrite_program(moves, plan).decode()
    except CannotWrite as refusal:
        assert set(refusal.rows) <= set(range(len(moves))) and refusal.rows
        return
    new = moves_of(out)
    tolerance = (2.6 if drawn.inch else 1.0) * MICROMETRE + 1e-6
    for row, target in plan.arcs.items():
        k = int(np.searchsorted(new.arcs.row, row))
        assert abs(new.arcs.radius[k] - target.radius) <= tolerance
        assert hypot(*(new.arcs.centre[k] - np.array(target.centre))) <= tolerance
    longest = max(most, moves.finest)
    for number in re.findall(r"[XYIJR][-+]?[0-9]*\.([0-9]*)", out):
        assert len(number) <= longest

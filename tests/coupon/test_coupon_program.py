"""The coupon as a program: all of it found and corrected, what it cuts away, and its exact bytes."""

from __future__ import annotations

import re
from math import ceil, hypot
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from pygcode import Line
from shapely.geometry import LineString, Point
from shapely.ops import unary_union

from coupons import QUARTER, SIX, both, corrected, inches, written
from roundwright.calibration import Tool
from roundwright.coupon.layout import reach_of
from roundwright.coupon.program import SLOPE, written_diameter
from roundwright.errors import SettingsError
from roundwright.read import read_program
from roundwright.trace import trace_moves
from roundwright.trace.moves import Motion

GOLDEN = Path(__file__).parent / "golden"
SMALL = replace(SIX, diameters=(12.0,), sides=("hole", "boss"), stock=(100.0, 60.0, 12.0))
SMALL_INCH = replace(
    QUARTER, diameters=(inches(0.5),), sides=("hole", "boss"), stock=(inches(4), inches(3), inches(0.5))
)


def check_found(recipe):
    """`correct` finds every circle and nothing else, knows it for what it is, and corrects it."""
    layout, outcome = corrected(recipe)
    found = outcome.plan.corrections
    assert [(c.feature.id, c.feature.side, c.feature.cut) for c in found] == [
        (spot.id, spot.side, spot.cut) for spot in layout.spots
    ]
    assert {c.status for c in found} == {"corrected"}, [(c.reason, c.why) for c in found]
    for correction, spot in zip(found, layout.spots, strict=True):
        assert correction.feature.diameter == pytest.approx(written_diameter(recipe, spot), abs=5e-4)
        assert correction.feature.wall.centre == pytest.approx(spot.centre, abs=5e-4)
    assert outcome.output is not None
    assert outcome.warnings == ()
    assert not outcome.program.unread


@pytest.mark.parametrize("clockwise", [True, False])
@pytest.mark.parametrize("base", [SIX, QUARTER], ids=["mm", "inch"])
def test_every_circle_is_found_and_corrected(base, clockwise):
    check_found(both(base, clockwise=clockwise, repeat=2))


@settings(max_examples=25, deadline=None)
@given(
    inch=st.booleans(),
    cutter=st.sampled_from([1.0, 2.0, 3.175, 6.0, 8.0, 12.7]),
    ladder=st.lists(st.floats(0.3, 8.0), min_size=1, max_size=3),
    stepover=st.floats(0.05, 0.85),
    stepdown=st.floats(0.2, 2.0),
    depth=st.floats(0.3, 12.0),
    decimals=st.integers(3, 5),
)
def test_every_circle_of_any_coupon_is_found(inch, cutter, ladder, stepover, stepdown, depth, decimals):
    recipe = both(
        SIX,
        tool=Tool(1, "cutter", cutter),
        diameters=tuple(sorted({round(cutter * share, 1) for share in ladder})),
        stepover=round(stepover * cutter, 3),
        stepdown=round(stepdown * cutter, 2),
        depth=round(depth, 1),
        stock=(1000.0, 1000.0, 18.0),
        inch=inch,
        decimals=decimals,
    )
    try:
        check_found(recipe)
    except SettingsError:
        assume(False)


@pytest.mark.parametrize("decimals", [2, 3])
def test_a_control_of_few_decimals_gets_no_more(decimals):
    recipe = both(SIX, decimals=decimals)
    _, program = written(recipe)
    places = [len(text) for text in re.findall(rb"[XYZIJ]-?\d*\.(\d*)", program)]
    assert max(places) == decimals
    check_found(recipe)


def swept(moves, cutter, deepest):
    """What the cutter sweeps at the deepest level, from the moves that the trace room reads."""
    pieces = []
    arcs = {int(row): k for k, row in enumerate(moves.arcs.row)}
    for row in range(len(moves)):
        start, end = moves.start[row] * 1e-8, moves.end[row] * 1e-8
        if moves.motion[row] == Motion.RAPID or max(start[2], end[2]) > deepest + 1e-6:
            continue
        points = [start[:2], end[:2]]
        if row in arcs:
            k = arcs[row]
            centre, sweep = moves.arcs.centre[k], moves.arcs.sweep[k]
            angle = np.arctan2(*(start[:2] - centre)[::-1]) + np.linspace(0.0, sweep, 361)
            points = centre + moves.arcs.radius[k] * np.column_stack([np.cos(angle), np.sin(angle)])
        pieces.append(LineString(points).buffer(cutter / 2, quad_segs=64))
    return unary_union(pieces)


@pytest.mark.parametrize(
    "base", [both(SIX), both(QUARTER), both(SIX, stepover=5.0)], ids=["mm", "inch", "wide"]
)
def test_holes_are_cleared_whole_and_bosses_stand(base):
    layout, program = written(base)
    moves = trace_moves(read_program(program))
    region = swept(moves, base.tool.diameter, -base.depth)
    expected = 0.0
    for spot in layout.spots:
        around = Point(spot.centre).buffer(reach_of(base, spot) + 1.0, quad_segs=256)
        disc = Point(spot.centre).buffer(spot.diameter / 2, quad_segs=256)
        cut = region.intersection(around)
        if spot.side == "hole":
            assert cut.symmetric_difference(disc).area < 2e-3 * disc.area, spot
        else:
            band = Point(spot.centre).buffer(spot.diameter / 2 + base.tool.diameter, quad_segs=256)
            assert cut.intersection(disc).area < 2e-3 * disc.area, spot
            assert band.difference(disc).difference(cut).area < 2e-3 * disc.area, spot
        expected += cut.area
    assert region.area == pytest.approx(expected, rel=1e-6), "nothing is cut elsewhere"


@pytest.mark.parametrize("base", [both(SIX), both(QUARTER)], ids=["mm", "inch"])
def test_nothing_is_deeper_steeper_or_lower_than_asked(base):
    _, program = written(base)
    moves = trace_moves(read_program(program))
    start, end = moves.start * 1e-8, moves.end * 1e-8
    last = 5e-3
    assert end[:, 2].min() == pytest.approx(-base.depth, abs=last)
    levels = sorted({round(float(z), 3) for z in end[:, 2] if z < -1e-6 and (end[:, 2] == z).sum() > 2})
    assert np.diff([*levels, 0.0]).max() <= base.stepdown + last
    length = dict.fromkeys(range(len(moves)), 0.0)
    for k, row in enumerate(moves.arcs.row):
        length[int(row)] = abs(float(moves.arcs.sweep[k])) * float(moves.arcs.radius[k])
    for row in range(len(moves)):
        flat = length[row] or hypot(*(end[row] - start[row])[:2])
        down = start[row][2] - end[row][2]
        if moves.motion[row] == Motion.RAPID:
            sideways = hypot(*(end[row] - start[row])[:2]) > 0 and moves.start_known[row] == 7
            assert end[row][2] > 0 and (not sideways or end[row][2] == pytest.approx(base.safe_z, abs=last))
        elif end[row][2] < 0 and down > 1e-6:
            assert down <= SLOPE * flat + last, "the cutter is no drill"


def test_helices_and_ramps_use_the_plunge_feed_and_walls_the_feed():
    _, program = written(both(SIX))
    moves = trace_moves(read_program(program))
    down = moves.end[:, 2] < moves.start[:, 2]
    cutting = (moves.motion != Motion.RAPID) & (moves.end[:, 2] <= 0)
    assert set(moves.feed[cutting & down]) == {600.0}
    assert set(moves.feed[cutting & ~down]) == {1800.0}
    assert set(moves.speed[cutting]) == {16000.0}


@pytest.mark.parametrize(("clockwise", "word"), [(True, "M03"), (False, "M04")])
def test_the_spindle_turns_as_the_machine_s_does(clockwise, word):
    _, program = written(replace(SIX, clockwise=clockwise))
    assert f"S16000 {word}" in program.decode().splitlines()


def test_a_tool_without_a_number_gets_no_tool_word():
    _, program = written(replace(SIX, tool=Tool(None, "the only one", 6.0)))
    words = [word for line in program.decode().splitlines() for word in line.split() if line[:1] != "("]
    assert not any(word.startswith(("T", "M06")) for word in words)


def test_names_cannot_break_the_comments():
    recipe = replace(SIX, tool=Tool(1, "cutter (new)\n; x%", 6.0), material="bouleau é (ply)")
    _, program = written(recipe)
    lines = program.decode("ascii").splitlines()
    comments = [line for line in lines if "(" in line]
    assert all(re.fullmatch(r"\([^()%;]{0,68}\)", line) for line in comments)


def test_pygcode_reads_every_line_as_it_was_meant():
    _, program = written(both(SIX))
    for text in program.decode().splitlines():
        line = Line(text)
        words = [] if line.comment else re.findall(r"([A-Z])(-?[\d.]+)", text)
        assert [(w.letter, float(w.value)) for w in line.block.words] == [(k, float(v)) for k, v in words]


@pytest.mark.parametrize(("name", "recipe"), [("mm", SMALL), ("inch", SMALL_INCH)])
def test_the_program_is_to_the_byte_what_it_was(name, recipe):
    _, program = written(recipe)
    assert program == (GOLDEN / f"coupon-{name}.nc").read_bytes()


def test_passes_share_the_depth_evenly():
    _, program = written(replace(SIX, depth=10.0, stepdown=4.0))
    flats = set(re.findall(r"Z(-\d+\.\d*) I", program.decode()))
    assert {"-3.3333", "-6.6667", "-10."} <= flats
    assert ceil(10.0 / 4.0) == 3

"""Any circle, split, unit, decimals and correction: the output holds the planned circle, on its centre."""

from math import cos, hypot, radians, sin, tau

from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

from circle_features import Circle, Cutting, cut_circle
from known_truth import table_for
from program_writer import Dialect, Writer
from roundwright.find import find_features
from roundwright.pipeline import correct
from roundwright.read import read_program
from roundwright.settings import Settings
from roundwright.tooling import cutters_of
from roundwright.trace import trace_moves

SPLITS = st.one_of(
    st.just((1.0,)),
    st.sampled_from([(0.5, 0.5), (0.25,) * 4, (1 / 3,) * 3, (0.5, 0.5, 0.1), (0.2,) * 5]),
    st.lists(st.floats(0.1, 1), min_size=3, max_size=7).map(lambda v: tuple(x / sum(v) for x in v)),
)


@st.composite
def dialects(draw):
    inch = draw(st.booleans())
    return Dialect(
        inch=inch,
        decimals=draw(st.sampled_from((3, 4, 5) if inch else (2, 3, 4, 5))),
        trailing=draw(st.sampled_from(("trimmed", "fixed", "point"))),
        newline=draw(st.sampled_from(("\n", "\r\n"))),
        elide=draw(st.booleans()),
        sticky=draw(st.booleans()),
        blank=draw(st.sampled_from(("", " "))),
        centres=draw(st.sampled_from(("incremental", "absolute", "r"))),
    )


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(
    dialect=dialects(),
    x=st.floats(-300, 300),
    y=st.floats(-300, 300),
    path=st.floats(2.0, 150),
    start=st.floats(0, tau),
    split=SPLITS,
    ccw=st.booleans(),
    side=st.sampled_from(("hole", "boss")),
    lead=st.sampled_from(("straight", "arc", "straight+arc")),
    change=st.floats(-1, 1).filter(lambda v: abs(v) > 2e-3),
)
@example(
    dialect=Dialect(decimals=2, elide=False, sticky=False, blank=""),
    x=0.0,
    y=0.0,
    path=3.0,
    start=0.0,
    split=(1.0,),
    ccw=True,
    side="boss",
    lead="straight",
    change=-1.0,
)
@example(
    dialect=Dialect(decimals=2, trailing="trimmed", elide=False, sticky=False, blank="", centres="r"),
    x=0.0,
    y=0.0,
    path=2.0,
    start=0.0,
    split=(8 / 17, 8 / 17, 1 / 17),
    ccw=False,
    side="hole",
    lead="straight",
    change=1.0,
)
def test_output_holds_the_planned_circle(dialect, x, y, path, start, split, ccw, side, lead, change):
    k = 1 / 25.4 if dialect.inch else 1.0
    tool = 3.0
    assume(side == "hole" or 2 * path > tool + 2.5)
    if dialect.centres == "r" and split == (1.0,):
        split = (0.5, 0.5)
    w = Writer(dialect)
    w.block(
        "G20" if dialect.inch else "G21", "G90", "G17", *(["G90.1"] if dialect.centres == "absolute" else [])
    )
    w.block("T1", "M6")
    w.block("M3", "S9000")
    w.go(0, -1, -1, 5 * k)
    centre = (w.whole(x * k) * w.unit, w.whole(y * k) * w.unit)
    c = Circle(centre, path * k, side, tool * k, ccw, start, split, lead, per_depth=False)
    cut_circle(w, c, Cutting(k, (-2 * k,), 900, 5 * k))
    w.block("M30")

    size = 2 * path + (tool if side == "hole" else -tool)
    error = -change if side == "hole" else change
    # the table turns a boss's error round; one error at all sizes makes the correction exact
    table = table_for({1: tool}, (error, error, error))
    settings_ = Settings(again=True, limit=5.0)
    out = correct(w.program(), "circle.nc", table, settings_)
    assert len(out.plan.corrections) == 1
    planned = out.plan.corrections[0]
    old = planned.feature
    if planned.status == "left-alone" and dialect.centres == "r" and dialect.decimals < 3:
        # so coarsely written, R leaves open where the centre of a circle of a few millimetres is
        assert "planned size" in planned.why and abs(change) > path / 10
        return
    assert (planned.status, old.side) == ("corrected", side), planned
    assert abs(planned.change - change) < 1e-6 and planned.corrected == old.diameter + planned.change
    assert abs(old.diameter - size) <= 6 * w.unit / k + 1e-6

    moves = trace_moves(read_program(out.output, "again.nc"))
    cutters = cutters_of(moves.sections, table, settings_)
    found = find_features(
        moves, cutters, table.machine, settings_, sided=[True]
    )  # its lead may be longer now
    assert [f.side for f in found] == [side]
    fine = 2.6e-3 if dialect.inch else 1e-3
    assert abs(found[0].wall.radius - planned.corrected_path / 2) <= fine + 1e-9
    assert hypot(*(a - b for a, b in zip(found[0].wall.centre, old.wall.centre, strict=True))) <= fine + 1e-9


def test_exact_halves_in_r_form_with_an_overlap_can_be_written():
    """Their R is half the chord to the last digit: their centre is its middle, whatever the overlap says."""
    body = "G2 X7.507 Y-6.026 R0.109\nG2 X7.507 Y-5.808 R0.109\nG2 X7.571 Y-5.829 R0.109\n"
    before = "G20 G90 G17\nT1 M6\nM3 S9000\nG0 Z0.197\nG0 X7.507 Y-5.702\nG1 Z-0.079 F200\nG1 Y-5.808\n"
    program = f"{before}{body}G1 X7.633 Y-5.743\n"
    table = table_for({1: 3.0}, (0.1, 0.1, 0.1))
    (found,) = correct(program.encode(), "halves.nc", table, Settings(again=True, limit=5.0)).plan.corrections
    assert (found.status, found.feature.side) == ("corrected", "boss"), found.why
    x, y = found.feature.wall.centre
    assert hypot(x - 7.507 * 25.4, y + 5.917 * 25.4) < 1e-6


def test_a_short_overlap_whose_written_centre_is_far_off_is_no_other_circle():
    """Both its ends lie on the circle; its centre is 0.05 mm off along its bisector, as rounding can do."""
    half = radians(10)
    end, off = (10 * cos(2 * half), 10 * sin(2 * half)), (0.05 * cos(half), 0.05 * sin(half))
    overlap = f"G3 X{end[0]:.3f} Y{end[1]:.3f} I{off[0] - 10:.3f} J{off[1]:.3f}\n"
    rings = f"G3 X-10.000 I-10.000 J0.000\nG3 X10.000 I10.000 J0.000\n{overlap}"
    entry = "G21 G90 G17\nT1 M6\nM3 S9000\nG0 Z5.\nG0 X0. Y0.\nG1 Z-2. F200\nG1 X10.000\n"
    program = f"{entry}{rings}G1 X0. Y0.\nG0 Z5.\n"
    table = table_for({1: 3.0}, (0.1, 0.1, 0.1))
    (found,) = correct(
        program.encode(), "overlap.nc", table, Settings(again=True, limit=5.0)
    ).plan.corrections
    assert (found.status, found.feature.side) == ("corrected", "hole"), found.why


def test_halves_in_r_form_stay_on_their_radii_in_fine_inches():
    """Places that write a half circle well lie all along it; one 3.4 µm along has turned the circle."""
    body = (
        "G0 X21.94748 Y11.58434 Z.2\nG1 Z-.05591 F9\nX21.69276 Y11.36293\n"
        "G3 X19.70724 Y9.63707 R1.31538\nX21.69276 Y11.36293 R1.31538\nG1 X21.94748 Y11.58434\nG0 Z.2\n"
    )
    data = f"G20 G90 G17\nT1 M6\nM3 S9000\n{body}M30\n".encode()
    out = correct(data, "halves.nc", table_for({1: 9.525}), Settings(again=True))
    (one,) = out.plan.corrections
    assert (one.status, one.feature.side) == ("corrected", "boss")

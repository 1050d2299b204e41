"""What is common practice (no source): half the error on each side; a correction is not rounded away."""

import re

import pytest

from roundwright.calibration import open_table
from roundwright.pipeline import correct
from roundwright.settings import Settings
from sweep import cuts_of

pytestmark = pytest.mark.published

HEAD = "G20 G90 G17\nM3 S9000\nG0 Z.5\n"


def hole(x, rho, z=-0.25):
    """A hole in inches: down in the middle, out to the wall, once round."""
    return f"G0 X{x} Y0\nG1 Z{z} F20\nG1 X{x + rho} F40\nG3 X{x + rho} Y0 I{-rho} J0\nG1 X{x}\nG0 Z.5\n"


def radii(output):
    return [abs(cut.start[0] - cut.centre[0]) / 25.4 for cut in cuts_of(output.decode()) if cut.sweep]


TWO_HOLES = """\
schema = "roundwright.table/1"
[machine]
name = "router"
units = "in"
[defaults]
material = "plywood"
tool = 1
[[tool]]
number = 1
diameter = 0.25
[[condition]]
tool = 1
material = "plywood"
side = "hole"
cut = "climb"
readings = [
  { programmed = 0.38, diameter = 0.375 },
  { programmed = 3.7, diameter = 3.65 },
]
"""


def test_half_the_error_on_each_side_large_and_small_in_one_pass():
    """Common practice, no source: 3.7 in came out 3.65, 0.38 came out 0.375."""
    data = (HEAD + hole(3, 1.725) + hole(7, 0.065) + "M30\n").encode()
    outcome = correct(data, "two.nc", open_table(TWO_HOLES), Settings())
    large, small = outcome.plan.corrections
    assert (large.feature.diameter / 25.4, small.feature.diameter / 25.4) == pytest.approx((3.7, 0.38))
    assert (large.status, small.status) == ("corrected", "corrected")
    out_large, out_small = radii(outcome.output)
    assert out_large - 1.725 == pytest.approx(0.025, abs=0.0005)
    assert out_small - 0.065 == pytest.approx(0.0025, abs=0.0001)


@pytest.mark.parametrize(("programmed", "measured", "side"), [(3.7, 3.65, 0.025), (0.38, 0.375, 0.0025)])
def test_half_the_error_on_each_side_on_the_first_day(programmed, measured, side):
    """Common practice, no source: with one reading and no table yet."""
    rho = (programmed - 0.25) / 2
    data = (HEAD + "T1 M6\n" + hole(3, rho) + "M30\n").encode()
    settings = Settings(measured=((programmed, measured),), diameters={"1": 6.35})
    outcome = correct(data, "one.nc", None, settings)
    assert radii(outcome.output)[0] - rho == pytest.approx(side, abs=1e-4)


def flat_table(unit, tool, error, least, most):
    text = TWO_HOLES.replace('units = "in"', f'units = "{unit}"').replace(
        "diameter = 0.25", f"diameter = {tool}"
    )
    rows = "".join(f"  {{ programmed = {d}, diameter = {d - error!r} }},\n" for d in (least, most))
    return open_table(re.sub(r"readings = \[.*\]", f"readings = [\n{rows}]", text, flags=re.DOTALL))


@pytest.mark.parametrize("error", [0.002, 0.014, 0.1, 0.137, 0.9])
@pytest.mark.parametrize(
    "body",
    [
        "G0 X50 Y30\nG1 Z-2 F300\nX57\nG3 X43 I-7\nX57 I7\nG1 X50\nG0 Z5\n",
        "G0 X50 Y30\nG1 Z-2 F300\nX57\nG3 X50 Y37 I-7\nX43 Y30 J-7\nX50 Y23 I7\nX57 Y30 J7\nG1 X50\nG0 Z5\n",
        "G0 X50.25 Y30.5\nG1 Z-2 F300\nX57.25\nG3 I-7.00\nG1 X50.25\nG0 Z5\n",
    ],
    ids=["halves", "quarters", "two decimals"],
)
def test_trimmed_zeros_do_not_swallow_a_correction_in_mm(body, error):
    """`X57`, `I-7` or two decimals only: the correction comes out to 1 µm."""
    data = ("G21 G90 G17\nM3 S9000\nG0 Z5\n" + body + "M30\n").encode()
    outcome = correct(data, "trimmed.nc", flat_table("mm", 6.0, error, 10.0, 40.0), Settings())
    assert [c.status for c in outcome.plan.corrections] == ["corrected"]
    for cut in cuts_of(outcome.output.decode()):
        if cut.sweep:
            for point in (cut.start, cut.end):
                rho = ((point[0] - cut.centre[0]) ** 2 + (point[1] - cut.centre[1]) ** 2) ** 0.5
                assert rho == pytest.approx(7 + error / 2, abs=0.001)


@pytest.mark.parametrize("error", [0.0003, 0.0021, 0.0137])
@pytest.mark.parametrize(
    "body",
    [
        "G0 X2 Y1\nG1 Z-.1 F20\nX2.25\nG3 X1.75 I-.25\nX2.25 I.25\nG1 X2\nG0 Z.1\n",
        "G0 X2 Y1\nG1 Z-.1 F20\nX2.25\nG3 I-.25\nG1 X2\nG0 Z.1\n",
        "G0 X2 Y1\nG1 Z-.1 F20\nX2.25\nG3 X2 Y1.25 R.25\nX1.75 Y1 R.25\n"
        "X2 Y.75 R.25\nX2.25 Y1 R.25\nG1 X2\nG0 Z.1\n",
    ],
    ids=["halves", "full", "R quarters"],
)
def test_trimmed_zeros_do_not_swallow_a_correction_in_inches(body, error):
    """`X2.25`, `I-.25`: the correction comes out to 2.6 µm."""
    data = ("G20 G90 G17\nM3 S9000\nG0 Z.1\n" + body + "M30\n").encode()
    outcome = correct(data, "trimmed.nc", flat_table("in", 0.25, error, 0.5, 2.0), Settings())
    assert [c.status for c in outcome.plan.corrections] == ["corrected"]
    for cut in cuts_of(outcome.output.decode()):
        if cut.sweep:
            for point in (cut.start, cut.end):
                rho = ((point[0] - cut.centre[0]) ** 2 + (point[1] - cut.centre[1]) ** 2) ** 0.5
                assert rho == pytest.approx((0.25 + error / 2) * 25.4, abs=0.0026)

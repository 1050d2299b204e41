"""Programs of which a part is written more coarsely than the rest: each part is held to its own decimals."""

from math import cos, pi, sin

import pytest

from known_truth import table_for
from roundwright.pipeline import correct
from roundwright.settings import Settings


def ring(k, decimals):
    """A hole of chords about 40, 30 mm, path radius 20 mm, cut in units of `k` mm."""
    corners = [(40 + 20 * cos(a), 30 + 20 * sin(a)) for a in (2 * pi * n / 60 for n in range(61))]
    (x, y), *rest = [(f"{x / k:.{decimals}f}", f"{y / k:.{decimals}f}") for x, y in corners]
    text = f"G0 Z{9 / k:.2f}\nG0 X{45 / k:.2f} Y{30 / k:.2f}\nG1 Z{-2 / k:.2f} F9\nX{x} Y{y}\n"
    return text + "".join(f"X{x} Y{y}\n" for x, y in rest) + f"X{45 / k:.2f} Y{30 / k:.2f}\nG0 Z{9 / k:.2f}\n"


@pytest.mark.parametrize(
    "body",
    [
        ring(1, 2) + "G0 X100.12345\n",
        ring(1, 2) + "G20\nG0 X3.12345 Y2 Z1\n",
        "G20\n" + ring(25.4, 3) + "G21\nG0 X100.12345 Y0 Z9\n",
    ],
)
def test_a_coarse_circle_is_corrected_beside_fine_numbers(body):
    data = f"G21 G90 G17\nT1 M6\nM3 S9000\n{body}M30\n".encode()
    out = correct(data, "mixed.nc", table_for({1: 6.0}), Settings(again=True))
    (one,) = out.plan.corrections
    assert (one.status, one.feature.side) == ("corrected", "hole")
    assert one.feature.diameter == pytest.approx(46, abs=0.01)


def test_a_last_chord_past_the_start_stays_with_its_ring_where_that_is_written_more_finely():
    """Two chords of the pass lie over each other; rounding alone puts the last corner off the most."""
    ways = [(-10, -41), (-26, -32), (-37, -18), (-42, 0), (-37, 18), (-26, 32), (-10, 41)]
    ways += [*((-x, y) for x, y in ways[::-1]), (-3, -21)]
    chords = "".join(f"G1 X{x / 1000:.3f} Y{y / 1000:.3f}\n" for x, y in ways)
    body = f"G0 Z5.0001\nG20\nG0 X10.376 Y15.585 Z.2\nG91\nG1 Z-.3 F8\n{chords}G90\nG0 Z.2\nM30\n"
    data = f"G21 G90 G17\nT1 M6\nM3 S9000\n{body}".encode()
    out = correct(data, "mixed.nc", table_for({1: 10.0}), Settings(again=True))
    (one,) = out.plan.corrections
    assert (one.status, len(one.feature.wall.rows)) == ("corrected", 15)


def test_nine_decimals_of_an_inch_are_corrected_though_positions_are_kept_more_coarsely():
    """Positions are kept to 1e-8 of the unit that is written, which in inches is 25.4 times as much."""
    body = "G0 X1.108366228 Y2.048577931 Z.1\nG1 Z-.2 F8\nX1.333333337 Y2.048577931\nG3 I-.224967109 J0\n"
    data = f"G20 G90 G17\nT1 M6\nM3 S9000\n{body}G1 X1.108366228 Y2.048577931\nG0 Z.1\nM30\n".encode()
    out = correct(data, "nine.nc", table_for({1: 6.35}), Settings(again=True))
    assert [c.status for c in out.plan.corrections] == ["corrected"]


def test_increments_in_inches_add_up_to_where_they_did():
    """Half of the ring is an R-form arc that no seven decimals can write; an eighth would leave a rest."""
    right = [(-170, -14), (-165, -42), (-156, -68), (-142, -93), (-126, -116), (-104, -134), (-81, -150)]
    right += [(-56, -161), (-28, -168)]
    ways = [*right, (0, -170), *((-x, y) for x, y in right[::-1])]
    chords = "".join(f"G1X{x / 1000:.3f}Y{y / 1000:.3f}\n" for x, y in ways)
    body = (
        f"G1Z-.4F9\nG41D1Y-0.175\nG3Y2.062R1.031\n{chords}G40Y0.175\nG0Z.4\nX-9.5Y9.4\nG1Z-.4\nX.7\nG0Z.4\n"
    )
    data = f"G20 G90 G17\nT1 M6\nM4 S9000\nG0X20Y.05Z.2\nG91\n{body}M30\n".encode()
    table = table_for({1: 6.35}, machine='spindle = "counter-clockwise"\n')
    out = correct(data, "increments.nc", table, Settings(again=True))
    (one,) = out.plan.corrections
    assert (one.feature.side, one.status, one.reason) == ("hole", "left-alone", "unsupported-mode")
    assert "7 decimals" in one.why


def test_every_circle_that_few_decimals_cannot_write_names_its_own_line():
    ring = "G0 X{0}.18 Y43.22\nG1 Z-1 F90\nG2 X{1}.82 Y36.78 R6.97\nX{0}.18 Y43.22 R6.97\nG0 Z5.00\n"
    data = f"G21 G90 G17\nT1 M6\nM3 S9000\n{ring.format(56, 43)}{ring.format(96, 83)}M30\n".encode()
    table = table_for({1: 3.0}, machine="decimals = 3\n")
    out = correct(data, "few.nc", table, Settings(again=True, side="hole"))
    assert [c.reason for c in out.plan.corrections] == ["unsupported-mode"] * 2
    assert [c.why.partition(" can't")[0] for c in out.plan.corrections] == [
        "the arc in line 6",
        "the arc in line 11",
    ]


def test_a_lens_stays_byte_for_byte_beside_a_hole_that_is_corrected():
    """Halves with R 4 units too long: what a control cuts is 0.28 mm flatter than a circle."""
    lens = "G0 X10.000 Y0\nG1 Z-2 F90\nG3 X-10 R10.004\nX10 R10.004\nG0 Z5\n"
    hole = "G0 X42 Y0\nG1 Z-2\nG3 X42 Y0 I-2 J0\nG0 Z5\n"
    data = f"G21 G90 G17\nT1 M6\nM3 S9000\n{lens}{hole}M30\n".encode()
    out = correct(data, "lens.nc", table_for({1: 6.0}), Settings(again=True, side="hole"))
    assert [c.reason for c in out.plan.corrections] == ["not-clean", None]
    assert lens.encode() in out.output and hole.encode() not in out.output

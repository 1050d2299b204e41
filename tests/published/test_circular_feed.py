"""The feed at the cutter's edge on circles, against published numbers and worked ones."""

import math

import pytest

from roundwright.pipeline import list_features
from roundwright.plan.feed import edge_feed
from roundwright.settings import Settings


def feeds(text: str, diameter: float) -> list[tuple[float | None, float | None]]:
    """Programmed and edge feed of each feature of a program, mm/min."""
    plan = list_features(text.encode(), "p.nc", None, Settings(diameters={"1": diameter}, side="hole")).plan
    return [(feed.programmed, feed.edge) for feed in plan.feeds.values()]


@pytest.mark.published
@pytest.mark.parametrize(
    ("side", "centre"),
    [
        # Published calculator page on circular interpolation, worked example: to cut at an edge feed of 20
        # with a tool of 0.5, a feature of 1 needs a centre feed of 10 inside and of 30 outside.
        ("hole", 10.0),
        ("boss", 30.0),
    ],
)
def test_the_published_centre_feeds_give_the_edge_its_feed(side, centre):
    assert edge_feed(centre, 1.0, 0.5, side) == pytest.approx(20.0, rel=1e-12)


@pytest.mark.published
@pytest.mark.parametrize("cutter", [1.0, 1.5])
def test_a_tool_as_large_as_the_hole_has_none(cutter):
    """The same page: an error where the tool is not smaller than the feature inside."""
    assert edge_feed(20.0, 1.0, cutter, "hole") is None
    assert edge_feed(20.0, 1.0, cutter, "boss") == pytest.approx(20.0 / (1.0 + cutter))


@pytest.mark.published
@pytest.mark.parametrize(
    ("diameter", "cutter", "edge", "inside", "outside"),
    [(50.0, 20.0, 500.0, 300.0, 700.0), (30.0, 12.0, 1000.0, 600.0, 1400.0)],
)
def test_worked_centre_feeds(diameter, cutter, edge, inside, outside):
    """Computed independently from the published rule (not printed anywhere)."""
    assert edge_feed(inside, diameter, cutter, "hole") == pytest.approx(edge, rel=1e-12)
    assert edge_feed(outside, diameter, cutter, "boss") == pytest.approx(edge, rel=1e-12)


@pytest.mark.published
def test_a_change_of_diameter_changes_the_edge_s_feed_by_the_ratio():
    """Computed independently: from D to D' at one centre feed the factor is [D'/(D' − d)]/[D/(D − d)]."""
    before, after = (edge_feed(900.0, diameter, 6.0, "hole") for diameter in (20.0, 20.134))
    assert after / before == pytest.approx((20.134 / 14.134) / (20.0 / 14.0), rel=1e-12)


HELIX = (
    "G21 G90 G17\nT1 M6\nM3 S16000\nG0 X57 Y40 Z1\nG1 Z0 F300\nG3 X57 Y40 Z-6 I-7 J0 {mode}F900\nG0 Z5\nM30\n"
)


@pytest.mark.published
def test_on_a_helix_only_the_part_in_the_plane_grows():
    """F is along the helix (NIST IR 6556, 2.1.2.6); the edge's feed is computed independently from it.

    One turn of path diameter 14 and 6 deep: √((F_xy·D/(D − d))² + F_z²).
    """
    around, whole = 14 * math.pi, math.hypot(14 * math.pi, 6.0)
    wanted = math.hypot(900 * around / whole * 20 / 14, 900 * 6 / whole)
    assert feeds(HELIX.format(mode=""), 6.0) == [(900.0, pytest.approx(wanted, rel=1e-9))]


def test_a_feed_that_is_not_per_minute_is_not_compared():
    assert feeds(HELIX.format(mode="G93 "), 6.0) == [(None, None)]
    assert feeds(HELIX.format(mode="G95 "), 6.0) == [(None, None)]


def test_the_last_wall_pass_at_full_depth_counts_and_inches_become_millimetres():
    text = "G20 G90 G17\nT1 M6\nM3 S9000\n" + "".join(
        f"G0 X2.25 Y1 Z0.1\nG1 Z{z} F10\nG3 X2.25 Y1 I-0.25 J0 F{feed}\nG1 X2 Y1\nG0 Z0.2\n"
        for z, feed in ((-0.1, 40), (-0.2, 30), (-0.2, 20))
    )
    assert feeds(text + "M30\n", 6.35) == [(pytest.approx(508.0), pytest.approx(508.0 * 0.75 / 0.5))]

"""What a run says of a job that is cut otherwise than its readings were."""

import pytest

from roundwright.calibration import Table, open_table
from roundwright.pipeline import list_features
from roundwright.settings import Settings
from table_texts import HEAD, MACHINE

CONDITION = """\
[[tool]]
number = 1
diameter = 6.0
measured = {measured}
[[instrument]]
name = "caliper"
limit = 0.01
[[condition]]
tool = 1
material = "acetal"
side = "{side}"
cut = "any"
feed = {feed}
speed = {speed}
readings = [
{readings}]
"""


def table(feed=900, speed=16000, measured=6.0, error=-0.1, side="hole", repeats=1) -> Table:
    """A table with one condition whose every circle of about 20 has the error."""
    row = f'  {{ programmed = 20.0, diameter = {20 + error:.4f}, instrument = "caliper" }},\n'
    text = CONDITION.format(feed=feed, speed=speed, measured=measured, side=side, readings=row * repeats)
    return open_table(HEAD + MACHINE + text)


CIRCLES = (
    "G21 G90 G17\nT1 M6\nM3 S16000\n"
    + "".join(
        f"G0 X{x} Y40 Z5\nG1 Z-3 F300\nG3 X{x} Y40 I-7 J0 {{feed}}\nG94 G1 X{x - 7} Y40 F900\nG0 Z5\n"
        for x in (57, 97)
    )
    + "M30\n"
)


def warned(one: Table, feed: str = "F900") -> tuple[str, ...]:
    """The warnings of a program with two holes of 20, cut at that feed and at 16000/min."""
    outcome = list_features(CIRCLES.format(feed=feed).encode(), "p.nc", one, Settings(material="acetal"))
    assert [c.status for c in outcome.plan.corrections] == ["corrected"] * 2
    return outcome.warnings


def test_feed_and_speed_within_a_fifth_are_no_matter():
    assert warned(table(feed=900 / 1.2)) == warned(table(feed=900 / 0.8)) == warned(table()) == ()
    assert warned(table(speed=16000 / 1.2)) == warned(table(speed=16000 / 0.8)) == ()


@pytest.mark.parametrize("feed", [900 / 1.21, 900 / 0.79])
def test_a_feed_further_off_is_said_once_for_all_its_features(feed):
    (text,) = warned(table(feed=feed))
    assert text.startswith("C1, C2: the wall is cut at a feed of 900 mm/min")
    assert f"T1 / acetal / hole / any were at {feed:.0f} mm/min" in text


@pytest.mark.parametrize("speed", [16000 / 1.21, 16000 / 0.79])
def test_a_speed_further_off_is_said(speed):
    (text,) = warned(table(speed=speed))
    assert "the spindle turns at 16000/min" in text and f"{speed:.0f}/min" in text


@pytest.mark.parametrize("feed", ["G93 F20", "G95 F0.05"])
def test_feeds_per_turn_or_by_time_are_not_judged(feed):
    assert warned(table(feed=5), feed) == ()


@pytest.mark.parametrize("repeats", [1, 3])
@pytest.mark.parametrize("error", [-0.1, -0.095, -0.11])
def test_the_tool_s_measured_diameter_explains_the_error(error, repeats):
    (text,) = warned(table(measured=5.9, error=error, repeats=repeats))
    assert text.startswith("C1, C2: the tool measures 5.900 mm where programs assume 6.000 mm")


@pytest.mark.parametrize(
    ("measured", "error"), [(5.9, 0.1), (5.9, -0.2), (5.97, -0.1), (6.1, -0.1), (6.0, -0.1)]
)
def test_a_diameter_that_explains_nothing_is_not_blamed(measured, error):
    assert warned(table(measured=measured, error=error, repeats=3)) == ()

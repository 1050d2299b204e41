"""Programs that invite a wrong reading: no wall may move the wrong way without a doubt in the listing."""

import pytest

from roundwright.calibration import open_table
from roundwright.pipeline import correct
from roundwright.settings import Settings

HEAD = "G21 G90 G17\nT1 M6\nM3 S16000\n"
#: errors by side and cut: what is read wrongly is corrected to another size, and the wrong way.
ERRORS = (
    ("hole", "climb", -0.30),
    ("hole", "conventional", -0.22),
    ("boss", "climb", 0.26),
    ("boss", "conventional", 0.18),
)


def table():
    text = 'schema = "roundwright.table/1"\n[machine]\nname = "m"\nunits = "mm"\n'
    for number, diameter in ((1, 6.0), (2, 3.0), (3, 12.0)):
        text += f'[[tool]]\nnumber = {number}\nname = "t{number}"\ndiameter = {diameter}\n'
        for side, cut, error in ERRORS:
            readings = ", ".join(f"{{ programmed = {d}, diameter = {d + error} }}" for d in (4.0, 200.0))
            text += f'[[condition]]\ntool = {number}\nmaterial = "ply"\nside = "{side}"\ncut = "{cut}"\n'
            text += f"readings = [ {readings} ]\n"
    return open_table(text, "t.toml")


TABLE = table()


def run(body, head=HEAD):
    program = f"{head}{body}M30\n"
    return correct(program.encode(), "p.nc", TABLE, Settings(material="ply", stamp=False))


def found(body, radius, head=HEAD):
    """The one feature whose wall's path has this radius."""
    (one,) = [c for c in run(body, head).plan.corrections if abs(c.feature.wall.radius - radius) < 1e-6]
    return one


HELIX = "G3 I-17 Z-1\nG3 I-17 Z-3\nG3 I-17\n"


@pytest.mark.parametrize("begin", ["G0 Z5\nG1 X0 Y0 F3000\nG1 Z1\n", "G1 X0 Y0 Z-3\nG1 Z1\n"])
def test_travel_at_feed_above_the_work_is_no_lead(begin):
    """Tools that travel in G1 come along outside every circle; a helix then begins in the air."""
    one = found(f"{begin}G1 X67 Y40\n{HELIX}G1 Z5\n", 17)
    assert one.feature.side == "unknown" and one.reason == "side-unknown"


def test_travel_from_the_bore_of_a_wheel_to_its_outside_is_no_lead():
    bore = "G0 X50 Y40 Z5\nG1 Z-3\nG1 X52 F500\nG3 I-2\nG1 X50\nG1 Z1\n"
    body = f"{bore}G1 X83 Y40\nG2 I-33 Z-1\nG2 I-33 Z-3\nG2 I-33\nG1 Z5\n"
    assert found(body, 2).feature.side == "hole"
    assert found(body, 33).reason == "side-unknown"


def test_a_lead_at_the_top_of_a_helix_counts_where_the_tool_came_down_for_it():
    assert found(f"G0 X57 Y40 Z5\nG1 Z0\nG1 X67\n{HELIX}G1 Z5\n", 17).feature.side == "hole"


@pytest.mark.parametrize(
    ("lead_in", "start"),
    [("G1 X67", 20), ("G1 X60\nG3 X67 Y40 I3.5", 100)],
)
def test_a_lead_that_crosses_the_circle_settles_nothing(lead_in, start):
    one = found(f"G0 X{start} Y40 Z5\nG1 Z-3\n{lead_in}\nG3 I-17\nG0 Z5\n", 17)
    assert one.reason == "side-unknown" and "crosses the circle" in one.why


HOLE = "G0 X{0} Y40 Z5\nG1 Z-3\nG1 X{1}\nG3 I-7\nG1 X{0}\nG0 Z5\n"
FIRST, SECOND = HOLE.format(50, 57), HOLE.format(150, 157)


def test_a_change_that_names_another_tool_than_the_one_waiting_is_doubtful_from_there_on():
    """Some controls load the tool of the change's own block, some the one that was selected before."""
    plan = run(f"{FIRST}M6 T3\nM3\n{SECOND}", "G21 G90\nT1\nM6 T2\nM3\n").plan
    assert [c.reason for c in plan.corrections] == ["tool-doubtful", "tool-doubtful"]


def test_a_waiting_tool_that_its_change_names_again_is_in_no_doubt():
    plan = run(f"{FIRST}T2\n{SECOND}T2 M6\nM3\n{HOLE.format(250, 257)}").plan
    assert [(c.status, c.feature.cutter.number) for c in plan.corrections] == [
        ("corrected", 1),
        ("corrected", 1),
        ("corrected", 2),
    ]


@pytest.mark.parametrize("change", ["M61 Q2", "T2\nM0 (3 MM BIT NOW)"])
def test_a_change_by_hand_is_doubtful(change):
    plan = run(f"{FIRST}{change}\n{SECOND}").plan
    assert [c.reason for c in plan.corrections] == [None, "tool-doubtful"]

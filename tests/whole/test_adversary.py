"""Programs that invite a wrong reading: no wall may move the wrong way without a doubt in the listing."""

from math import cos, pi, sin

import pytest

from roundwright.calibration import open_table
from roundwright.errors import ProgramError
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


BODY = "G0 X50 Y50 Z5\nG1 Z-3\nG1 X57\nG3 I-7\nG1 X50\nG0 Z5\n"


@pytest.mark.parametrize(
    "program",
    [
        f"{HEAD}M98 P100\nT3 M6\nM98 P100\nM30\nO100\n{BODY}M99\n",
        f"o100 sub\n{BODY}o100 endsub\n{HEAD}o100 call\nT3 M6\no100 call\nM30\n",
        f"{HEAD}o100 sub\n{BODY}o100 endsub\no100 call\nT3 M6\no100 call\nM30\n",
    ],
)
def test_which_of_two_tools_cuts_in_a_subprogram_is_not_guessed(program):
    plan = correct(program.encode(), "p.nc", TABLE, Settings(material="ply", stamp=False)).plan
    assert [c.reason for c in plan.corrections] == ["tool-doubtful"]


def test_a_subprogram_with_a_name_is_cut_with_the_only_tool_and_its_spindle():
    head = "G21 G90\nT3 M6\nM4\n"
    program = f"o100 sub\n{BODY}o100 endsub\n{head}o100 call\nM30\n"
    plan = correct(program.encode(), "p.nc", TABLE, Settings(material="ply", stamp=False)).plan
    (one,) = plan.corrections
    assert one.status == "corrected" and one.feature.cutter.number == 3
    assert one.feature.cut == "conventional"


@pytest.mark.parametrize("radii", [(27, 30), (30, 27)])
def test_two_kerfs_side_by_side_are_refused_one_by_one_and_not_as_a_program(radii):
    """The second would change how the first is read: which side of it is waste, nobody has said."""
    body = "".join(f"G0 X{50 + r} Y50 Z5\nG1 Z-3\nG3 I-{r}\nG0 Z5\n" for r in radii)
    plan = run(body).plan
    assert [c.reason for c in plan.corrections] == ["side-unknown", "would-collide"]
    assert "--side C1=hole" in plan.corrections[1].why


def test_the_blank_of_a_wheel_with_narrow_teeth_is_no_hole():
    """Little of the inner edge is left, the tips of the teeth: they, not the waste, may be wanted."""
    teeth = ""
    for k in range(26):
        c, s = cos(2 * pi * k / 26), sin(2 * pi * k / 26)
        at = [f"X{50 + r * c:.3f} Y{50 + r * s:.3f}" for r in (36, 26)]
        teeth += f"G0 {at[0]}\nG1 Z-3\nG1 {at[1]}\nG1 Z5\n"
    one = found(f"G0 X83 Y50 Z5\nG1 Z-3\nG2 I-33\nG0 Z5\n{teeth}", 33)
    assert one.reason == "side-unknown"


def test_depths_that_count_downwards_are_left_alone():
    """Read the other way up, the floor of the seat would be deeper than the bore through it."""
    rings = ((10.5, 5), (15, 5), (12, 12))
    body = "".join(f"G0 X{50 + r} Y50 Z-5\nG1 Z{z}\nG3 I-{r}\nG0 Z-5\n" for r, z in rings)
    plan = run(body).plan
    assert {c.reason for c in plan.corrections} == {"unsupported-mode"}


def test_a_program_without_units_is_not_taken_for_millimetres_against_an_inch_table():
    text = 'schema = "roundwright.table/1"\n[machine]\nname = "m"\nunits = "in"\n'
    body = "G0 X2. Y2. Z.2\nG1 Z-.25\nG1 X2.75\nG3 I-.75\nG1 X2.\nG0 Z.2\nM30\n"
    with pytest.raises(ProgramError, match="units"):
        correct(f"G90 G17\nT1 M6\nM3\n{body}".encode(), "p.nc", open_table(text, "t.toml"), Settings())


def test_the_helix_into_an_outline_is_left_alone_for_the_outline_would_bend():
    """The outline's first side starts where the helix ends: moved with it, it would cut into the part."""
    helix = "G0 X0 Y50 Z5\nG1 Z0\nG3 I-1.5 Z-1\nG3 I-1.5 Z-3\nG3 I-1.5\n"
    outline = "G1 Y100\nG1 X60\nG1 Y0\nG1 X0\nG1 Y50\nG0 Z5\n"
    outcome = run(helix + outline)
    assert [c.reason for c in outcome.plan.corrections] == ["would-collide"]
    assert outcome.output == (HEAD + helix + outline + "M30\n").encode()


def square(half):
    a, b = 50 + half, 50 - half
    return f"G0 X{a} Y50\nG1 Z-3\nG1 Y{a}\nG1 X{b}\nG1 Y{b}\nG1 X{a}\nG1 Y50\nG0 Z5\n"


@pytest.mark.parametrize("reason", ["would-collide", None])
def test_clearing_rings_round_a_boss_do_not_reach_into_the_walls_of_its_square_pocket(reason):
    """The rings grow in proportion: the outermost, 37 mm, by four times as much as the boss of 9 mm."""
    rings = "".join(f"G1 X{50 + r}\nG2 I-{r}\n" for r in (37, 33, 29, 25, 21, 17, 13, 9))
    text = TABLE_OF_BOSSES_TOO_SMALL
    body = f"G0 X87 Y50 Z5\nG1 Z-3\n{rings}G0 Z5\n" + square(37) + square(32) + square(27.5)
    settings = Settings(material="ply", stamp=False, spread="rings" if reason else "wall")
    outcome = correct(f"{HEAD}{body}M30\n".encode(), "p.nc", open_table(text, "t.toml"), settings)
    (boss,) = [c for c in outcome.plan.corrections if c.feature.side == "boss"]
    assert boss.feature.wall.radius == 9 and boss.reason == reason


TABLE_OF_BOSSES_TOO_SMALL = """schema = "roundwright.table/1"
[machine]
name = "m"
units = "mm"
[[tool]]
number = 1
name = "t1"
diameter = 6.0
[[condition]]
tool = 1
material = "ply"
side = "boss"
cut = "any"
readings = [ { programmed = 10.0, diameter = 9.7 }, { programmed = 20.0, diameter = 19.7 } ]
"""


def test_travel_at_feed_from_hole_to_hole_is_no_work_that_could_bend():
    drop = "G1 Z-3\nG3 I-2\nG1 Z5\n"
    plan = run(f"G0 Z5\nG1 X52 Y50\n{drop}G1 X120 Y90\n{drop}G1 X20 Y150\n{drop}").plan
    assert [c.status for c in plan.corrections] == ["corrected"] * 3


SHORT_SLOTS = [
    *(("G3", 74, "unknown"), ("G3", 80, "unknown"), ("G3", 84, "unknown")),
    *(("G3", 73, "boss"), ("G2", 84, "boss"), ("G2", 86, "unknown")),
]


@pytest.mark.parametrize("start", [87, 150])
def test_a_slot_that_opens_into_a_circle_is_no_lead_to_a_disc(start):
    """A keyhole is cut so, its slug falls out; only a cut that begins near the circle is a lead to a disc."""
    slot = f"G0 X{start} Y40 Z5\nG1 Z-3\nG1 X67\nG3 I-17\nG0 Z5\n"
    one = found(slot, 17)
    assert one.reason == "side-unknown" and "slot" in one.why
    assert found(slot.replace(f"X{start}", "X72"), 17).feature.side == "boss"


@pytest.mark.parametrize("back", ["", "G1 X{start}\n"])
@pytest.mark.parametrize(("turn", "start", "side"), SHORT_SLOTS)
def test_a_short_slot_straight_in_is_no_lead_to_a_disc_that_nobody_would_climb_cut(turn, start, side, back):
    """From over a cutter's diameter away a stretch with walls of its own stands between: a slot, or a lead.

    The same blocks cut both. Only where the turn climbs round a boss they are taken for a disc, and where
    there is no such stretch.
    """
    body = f"G0 X{start} Y40 Z5\nG1 Z-3\nG1 X67\n{turn} I-17\n{back.format(start=start)}G0 Z5\n"
    one = found(body, 17)
    assert one.feature.side == side
    assert side == "boss" or (one.reason == "side-unknown" and "slot" in one.why and "--side" in one.why)


def test_a_lead_along_the_circle_is_no_slot_however_the_disc_is_cut():
    assert found("G0 X67 Y52 Z5\nG1 Z-3\nG1 Y40\nG3 I-17\nG1 Y28\nG0 Z5\n", 17).feature.side == "boss"


#: path 2 or 4, its edge through the cut of the next circle; then one of 30 that begins in it.
NEXT_DOOR = "G0 X{0} Y50 Z5\nG1 Z-3\nG3 I-{1}\nG0 Z5\n"
BEGINS_THERE = "G0 X{0} Y50\nG1 Z-3\nG1 X80\nG2 I-30\nG1 X{0}\nG0 Z5\n"


@pytest.mark.parametrize("radius", [2, 4])
@pytest.mark.parametrize("at", [78, 82])
def test_a_cut_that_begins_in_a_hole_next_door_tells_no_side(at, radius):
    """A disc with a round bite out of it, or a bore that meets another: the plunge is where there is room."""
    first, then = NEXT_DOOR.format(at + radius, radius), BEGINS_THERE.format(at)
    one = found(first + then, 30)
    assert one.reason == "side-unknown" and "a hole that meets this circle" in one.why
    if at < 80:  # nothing is there yet when the circle is begun
        assert found(then + first, 30).feature.side == "hole"


def test_a_hole_drilled_to_begin_in_or_at_the_middle_costs_nothing():
    """Drilled clear of the wall a hole is there for the plunge; one in the middle belongs to the circle."""
    for at, side in ((76, "hole"), (84, "boss")):
        drilled = f"G81 X{at} Y50 Z-3 R1\nG80\n"
        assert found(drilled + BEGINS_THERE.format(at), 30).feature.side == side
    middle = NEXT_DOOR.format(52, 2) + "G0 X50 Y50\nG1 Z-3\nG1 X80\nG3 I-30\nG1 X50\nG0 Z5\n"
    assert found(middle, 30).feature.side == "hole"


def test_a_start_hole_that_would_spoil_the_wall_is_another_hole():
    drilled = "T3 M6\nM3\nG0 X78 Y50 Z5\nG1 Z-3\nG0 Z5\nT1 M6\nM3\n"
    assert found(drilled + BEGINS_THERE.format(79), 30).reason == "side-unknown"


SAYS_NO_TOOL = ("M0", "M0 (CLEAR THE CHIPS)", "M1 (TURN THE CLAMPS)")
NAMES_A_TOOL = (
    *(
        "M0 (3 MM BIT NOW)",
        "M0 ; change tool",
        "(LOAD THE SMALL CUTTER)\nM0",
        "M0\n\n(1/8 END MILL)",
        "M1 (T2)",
    ),
    *("M0 (FRAESER WECHSELN)", "M0 (changer la fraise)", "M00 (cambiar la fresa)"),
)


@pytest.mark.parametrize("stop", [*SAYS_NO_TOOL, *NAMES_A_TOOL])
def test_a_stop_with_the_spindle_on_is_a_change_of_tool_where_a_comment_speaks_of_one(stop):
    plan = run(f"{FIRST}{stop}\n{SECOND}").plan
    expected = "tool-doubtful" if stop in NAMES_A_TOOL else None
    assert [c.reason for c in plan.corrections] == [None, expected]
    assert expected is None or "--tool @2=TOOL" in plan.corrections[1].why


def test_a_code_that_mirrors_an_axis_on_some_controls_is_not_passed_over():
    """Mirrored, a climb cut is a conventional one; between M21 or M22 and M23 nothing is corrected."""
    plan = run(f"{FIRST}M21\n{SECOND}M23\n{HOLE.format(250, 257)}").plan
    assert [c.reason for c in plan.corrections] == [None, "unsupported-mode", None]


@pytest.mark.parametrize("code", ["M7", "M8", "M9", "M10", "M11", "M19", "M48", "M49", "M62 P1", "M64 P0"])
def test_codes_of_coolant_clamps_and_outputs_cost_nothing(code):
    outcome = run(f"{code}\n{FIRST}")
    assert outcome.plan.corrections[0].status == "corrected" and not outcome.warnings


def test_a_code_that_nobody_knows_is_named():
    outcome = run(f"M81\n{FIRST}M164 P2\n")
    assert outcome.plan.corrections[0].status == "corrected"
    assert any("M81" in words and "M164" in words for words in outcome.warnings)


THREAD = "G0 X50 Y40 Z5\nG1 Z1\nG1 X54\n" + "".join(f"G2 I-4 Z{1 - 1.5 * k}\n" for k in range(1, 8))
DRILLED = "G0 X50 Y40 Z5\nG81 Z-12 R2\nG80\n"
BORED = "G0 X50 Y40 Z5\nG1 Z-12\nG0 Z5\n"


@pytest.mark.parametrize("hole", [f"T2 M6\nM3\n{DRILLED}", f"T3 M6\nM3\n{BORED}"])
@pytest.mark.parametrize(("closing", "reason"), [("", "thread"), ("G2 I-4\n", None)])
def test_a_helix_without_a_flat_turn_in_a_bored_hole_may_be_a_thread(hole, closing, reason):
    (one,) = run(f"{hole}T1 M6\nM3\n{THREAD}{closing}G1 X50\nG0 Z5\n").plan.corrections
    assert one.reason == reason


@pytest.mark.parametrize(("comp", "turn"), [("G42", "G3"), ("G41", "G2")])
def test_a_compensated_outline_does_not_bend_with_the_circle_before_it(comp, turn):
    outline = "G1 Y100\nG1 X60\nG1 Y0\nG1 X0\nG1 Y50\nG40 G1 X4\nG0 Z5\n"
    body = f"G0 X0 Y46 Z5\nG1 Z-3\n{comp} D1 G1 X0 Y50\n{turn} I-9\n{outline}"
    outcome = run(body)
    assert [c.reason for c in outcome.plan.corrections] == ["would-collide"]
    assert outcome.output == (HEAD + body + "M30\n").encode()


def test_a_half_round_notch_entered_from_beyond_the_edge_is_no_disc():
    """The outline runs through the circle: of a disc nothing would be left but halves."""
    outline = "G0 X103 Y0\nG1 Z-3\nG1 Y103\nG1 X-3\nG1 Y-3\nG1 X103\nG1 Y0\nG0 Z5\n"
    notch = "G0 X122 Y50\nG1 Z-3\nG1 X112\nG3 I-12\nG1 X122\nG0 Z5\n"
    assert found(notch + outline, 12).reason == "side-unknown"
    assert found(notch, 12).reason == "side-unknown"


@pytest.mark.parametrize("turn", ["G2", "G3"])
def test_a_notch_in_a_raw_edge_shows_by_the_rapid_that_goes_down_beside_the_stock(turn):
    """No outline tells where the stock ends, but nobody plunges in rapid into wood.

    Fed down and led in shortly, or climb cut as a disc, the blocks of a notch are those of a disc: that no
    path can tell.
    """
    notch = f"G0 X116 Y50 Z5\nG0 Z-3\nG1 X112 F900\n{turn} I-12\nG1 X116\nG0 Z5\n"
    one = found(notch, 12)
    assert one.reason == "side-unknown" and "an edge to notch" in one.why
    assert found(notch.replace("G0 Z-3", "G1 Z-3"), 12).feature.side == "boss"
    ramped = notch.replace("G0 Z-3", "G0 Z0").replace(f"{turn} I-12", f"{turn} I-12 Z-3\n{turn} I-12")
    assert found(ramped, 12).feature.side == "boss"
    again = notch.replace("G0 Z-3", "G1 Z-3") + notch.replace("Y50 Z5", "Y50")
    assert found(again, 12).feature.side == "boss"


def test_what_is_left_is_said_of_the_surface_that_is_meant():
    finish = "G0 X80 Y50 Z5\nG1 Z-3\nG1 X73\nG2 I-23\nG1 X80\nG0 Z5\n"
    rough = finish.replace("X73", "X76.5").replace("I-23", "I-26.5").replace("X80", "X90")
    one = found(f"T3 M6\nM3\n{rough}T1 M6\nM3\n{finish}", 26.5)
    assert one.reason == "cut-away" and "(0% of it survives)" in one.why

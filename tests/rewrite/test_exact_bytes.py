"""Small programs with hand-made plans: the bytes that come out, to the last one."""

import pytest

from rewriting import changed_lines, corrected, grown, moves_of, plan_of
from roundwright.errors import CannotWrite
from roundwright.plan import ArcTarget
from roundwright.rewrite import rewrite_program

MM = "G21 G90 G17\nG0 X0 Y0 Z5\n"


def test_an_empty_plan_gives_the_input():
    data = b"\xef\xbb\xbf%\r\nG0 X1 (\xff\x00) \r\n;\xe9\r\nG2 I-7"
    moves = moves_of(data)
    assert rewrite_program(moves, plan_of()) == data


@pytest.mark.parametrize(
    ("body", "lines"),
    [
        # trimmed zeros must not swallow the correction; plunge and retract travel along
        ("G0 X57 Y40\nG1 Z-1\nG2 I-7\nG0 Z5\nG0 X0\n", ["G0 X57.067 Y40", "G2 I-7.067"]),
        # a lead that starts in the middle
        ("G0 X50 Y40\nG1 Z-1\nG1 X57\nG2 I-7\nG1 X50\nG0 Z5\n", ["G1 X57.067", "G2 I-7.067"]),
        # halves and quarters, with words left out
        (
            "G0 X57 Y40\nG1 Z-1\nG3 X43 I-7\nX57 I7\nG0 Z5\nG0 X0 Y0\n",
            ["G0 X57.067 Y40", "G3 X42.933 I-7.067", "X57.067 I7.067"],
        ),
        (
            "G0 X57. Y40.\nG1 Z-1.\nG3 X50. Y47. I-7. J0.\nX43. Y40. J-7.\nX50. Y33. I7.\nX57. Y40. J7.\n",
            [
                "G0 X57.067 Y40.",
                "G3 X50. Y47.067 I-7.067 J0.",
                "X42.933 Y40. J-7.067",
                "X50. Y32.933 I7.067",
                "X57.067 Y40. J7.067",
            ],
        ),
        # absolute centres stay
        (
            "G90.1\nG0 X57 Y40\nG1 Z-1\nG3 X43 I50 J40\nX57 I50 J40\nG0 Z5\n",
            ["G0 X57.067 Y40", "G3 X42.933 I50 J40", "X57.067 I50 J40"],
        ),
        # R form: a diameter along an axis, and quarters
        (
            "G0 X57 Y40\nG1 Z-1\nG3 X43 R7\nX57 R7\nG0 Z5\n",
            ["G0 X57.067 Y40", "G3 X42.933 R7.067", "X57.067 R7.067"],
        ),
        (
            "G0 X57 Y40\nG1 Z-1\nG2 X50 Y33 R7\nX57 Y40 R-7\nG0 Z5\n",
            ["G0 X57.067 Y40", "G2 X50 Y32.933 R7.067", "X57.067 Y40 R-7.067"],
        ),
        # a helix keeps its depth, whole turns their count
        (
            "G0 X57 Y40\nG1 Z0\nG3 I-7 Z-1.5\nG3 I-7 Z-3 P2\nG3 I-7\nG0 Z5\n",
            ["G0 X57.067 Y40", "G3 I-7.067 Z-1.5", "G3 I-7.067 Z-3 P2", "G3 I-7.067"],
        ),
        # case, blanks, signs and blanks inside numbers
        (
            "g0x57y40\ng1z-1\ng2i-7\ng0z5\n",
            ["g0x57.067y40", "g2i-7.067"],
        ),
        (
            "G0 X +5 7.0 Y 40\nG1 Z-1\nG2 I - 7\nG0 Z5\n",
            ["G0 X +57.067 Y 40", "G2 I -7.067"],
        ),
    ],
)
def test_numbers_change_and_nothing_else(body, lines):
    text = MM + body
    after = corrected(text, (50, 40), 7, 0.067)
    assert changed_lines(text, after) == lines


def test_the_same_program_with_other_line_ends():
    text = (MM + "G0 X57 Y40\nG1 Z-1\nG2 I-7\nG0 Z5\nG0 X0\n").replace("\n", "\r\n")
    after = corrected(text, (50, 40), 7, 0.067)
    assert after == text.replace("X57 ", "X57.067 ").replace("I-7", "I-7.067")


def test_a_word_that_was_left_out_is_added_where_the_next_move_needs_it():
    text = MM + "G0 X57 Y40\nG1 Z-1\nG2 I-7\nG0 Z5\nY80\nX0\n"
    after = corrected(text, (50, 40), 7, 0.067)
    assert changed_lines(text, after) == ["G0 X57.067 Y40", "G2 I-7.067", "X57. Y80"]


@pytest.mark.parametrize(
    ("block", "written"),
    [
        ("G0 Y80", "G0 X57. Y80"),
        ("G0Y80", "G0X57.Y80"),
        ("g0 y80", "g0 x57. y80"),
        ("N10 G0 Y80", "N10 G0 X57. Y80"),
        ("G0 Y80 (to X0)", "G0 X57. Y80 (to X0)"),
        ("G0 (up) Z9 ; X0", "G0 (up) X57. Z9 ; X0"),
        ("G0 Z9 Y80", "G0 Z9 X57. Y80"),
        ("  G0\tY80", "  G0\tX57.\tY80"),
        ("G0  Y80", "G0  X57. Y80"),
        ("G1\nY80", "G1\nX57. Y80"),
        ("G1\nN5Y80", "G1\nN5X57.Y80"),
    ],
)
def test_an_added_word_takes_its_neighbours_manner(block, written):
    text = MM + f"G0 X57 Y40\nG1 Z-1\nG2 I-7\n{block}\nG0 X0 Y0\n"
    after = corrected(text, (50, 40), 7, 0.067, travel=False)
    assert "\n".join(after.splitlines()[5:-1]) == written


def test_a_centre_word_that_was_zero_is_added():
    """A circle off its grid: the start moves along both axes, the centre's Y is off the start's."""
    text = MM + "G0 X57 Y40\nG1 Z-1\nG2 I-7\nG0 Z5\n"
    moves = moves_of(text)
    end = (57.1, 40.1, -1.0)
    plan = plan_of(
        {1: (*end[:2], 5.0), 2: end, 3: end, 4: (*end[:2], 5.0)}, {3: ArcTarget((50, 40), 7.1007042)}
    )
    after = rewrite_program(moves, plan).decode()
    assert changed_lines(text, after) == ["G0 X57.1 Y40.1", "G2 I-7.1 J-0.1"]


@pytest.mark.parametrize(
    ("body", "lines"),
    [
        (
            "G0 X2.0000 Y1.5000\nG1 X2.2756\nG3 I-.2756\nG1 X2.0000\n",
            ["G1 X2.2782", "G3 I-.2782"],
        ),
        (
            "G0 X2 Y1.5\nG1 X2.2756\nG3 I-0.2756 J0\nG1 X2\n",
            ["G1 X2.2782", "G3 I-0.2782 J0"],
        ),
        (
            "G0 X2. Y1.5\nG91\nG1 X.2756\nG3 I-.2756\nG1 X-.2756\nG90\nG0 X0.\n",
            ["G1 X.2782", "G3 I-.2782", "G1 X-.2782"],
        ),
    ],
)
def test_inches(body, lines):
    text = "G20 G90\nG0 Z.2\n" + body
    after = corrected(text, (50.8, 38.1), 0.2756 * 25.4, 0.0665)
    assert changed_lines(text, after) == lines


def test_increments_rejoin_the_path_exactly():
    text = (
        "G21 G91\nG0 X50 Y40\nG1 X3.7 Y2.9\nG2 X-3.7 Y-7.6 I-3.7 J-2.9\nX-3.7 Y7.6 I0 J4.7\n"
        "X7.4 Y0 I3.7 J-2.9\nG1 X-3.7 Y-2.9\nG0 X10\n"
    )
    before = moves_of(text)
    after = moves_of(corrected(text, (50, 40), 4.7010637, 0.0331))
    assert after.end[-2:].tolist() == before.end[-2:].tolist()
    assert after.start[2].tolist() == after.end[4].tolist()  # three arcs that close


def test_an_increment_that_comes_to_nothing_stays_as_zero():
    text = "G21 G91\nG0 X50 Y40\nG1 X7\nG2 I-7\nG1 X-7\nX0.1\nG0 Y2\n"
    moves = moves_of(text)
    plan = grown(moves, (50, 40), 7, 0.1)
    plan.ends[3] = (50.1, 40.0, 0.0)  # the ring's exit ends where the next move would
    after = rewrite_program(moves, plan).decode()
    assert changed_lines(text, after) == ["G1 X7.1", "G2 I-7.1", "X0.0"]


def test_other_planes_mind_the_order_of_their_axes():
    text = "G21 G90 G18\nG0 X57 Y0 Z40\nG2 X43 I-7\nX57 I7\nG0 Y9\n"
    after = corrected(text, (40, 50), 7, 0.067)
    assert changed_lines(text, after) == [
        "G0 X57.067 Y0 Z40",
        "G2 X42.933 I-7.067",
        "X57.067 I7.067",
        "G0 X57. Y9",
    ]
    text = "G21 G90 G19\nG0 Y7 Z0\nG3 Z7 Y0 J-7 K0\nG0 Y9\n"
    after = corrected(text, (0, 0), 7, 0.5)
    assert changed_lines(text, after) == ["G0 Y7.5 Z0", "G3 Z7.5 Y0 J-7.5 K0", "G0 Y9 Z7."]


def test_checksums_follow():
    blocks = ["N1 G21 G90", "N2 G0 X57 Y40", "N3 G2 I-7 ", "N4 G0 X0"]
    text = "".join(f"{block}*{_sum(block)}\n" for block in blocks)
    new = [blocks[0], "N2 G0 X57.067 Y40", "N3 G2 I-7.067 ", blocks[3]]
    assert corrected(text, (50, 40), 7, 0.067) == "".join(f"{block}*{_sum(block)}\n" for block in new)


def test_a_checksum_of_another_kind_is_not_made_up():
    text = "N1 G21 G90\nN2 G0 X57 Y40*1\nN3 G2 I-7\n"
    with pytest.raises(CannotWrite, match="checksum of line 2") as caught:
        corrected(text, (50, 40), 7, 0.067)
    assert caught.value.rows == (0,)


def _sum(block: str) -> int:
    total = 0
    for byte in block.encode():
        total ^= byte
    return total


def test_inverse_time_follows_the_length():
    text = "G21 G90 G93\nG0 X50 Y40\nG1 X57 F20\nG2 I-7 F2.5\nG1 X50 F20\nG94\nG0 Z5\n"
    after = corrected(text, (50, 40), 7, 0.7)
    # 7 mm become 7.7: a tenth longer, so the time is too
    assert changed_lines(text, after) == ["G1 X57.7 F18.1818", "G2 I-7.7 F2.27273", "G1 X50 F18.1818"]


def test_inverse_time_that_is_taken_over_is_refused():
    text = "G21 G90 G93\nG0 X50 Y40\nG1 X57 F2.5\nG2 I-7\nG1 X50\n"
    with pytest.raises(CannotWrite, match="G93"):
        corrected(text, (50, 40), 7, 0.7)


@pytest.mark.parametrize(
    ("block", "why"),
    [
        ("G4 X1.5\nG28 Z0", None),
        ("G91 G28 X0 Y0\nG90", None),
        ("G53 G0 Z0", None),
        ("M6\nG0 Z9", None),
        ("G55\nG0 Z9", None),
        ("G55\nG91\nG0 Z1\nX3\nG90", "place is lost"),
        ("M6\nG91\nG0 X3\nG90", "place is lost"),
        ("G92 X0 Y0", "datum"),
        ("G10 L20 P1 X0 Y0", "datum"),
        ("G52 X1", "datum"),
        ("G81 Y20 R2 Z-3", "may not be changed"),
        ("G81 X10 Y20 R2 Z-3", None),
        ("X[#1+2]", "may not be changed"),
    ],
)
def test_blocks_that_are_no_plain_moves_are_never_touched(block, why):
    text = MM + f"G0 X57 Y40\nG1 Z-1\nG2 I-7\n{block}\nG0 X0 Y0\n"
    if why is None:
        assert block in corrected(text, (50, 40), 7, 0.067, travel=False)
        return
    with pytest.raises(CannotWrite, match=why) as caught:
        corrected(text, (50, 40), 7, 0.067, travel=False)
    assert 3 in caught.value.rows


def test_another_work_offset_ends_a_displacement_under_a_datum_set_before():
    text = MM + "G92 X1 Y2\nG0 X57 Y40\nG1 Z-1\nG2 I-7\nG55\nG0 X0 Y0\n"
    after = corrected(text, (50, 40), 7, 0.067, travel=False)
    assert changed_lines(text, after) == ["G1 X57.067 Z-1", "G2 I-7.067"]


def test_too_few_decimals_are_refused_with_all_rows():
    text = MM + "G0 X56.18 Y43.22\nG1 Z-1\nG2 X43.82 Y36.78 R6.97\nX56.18 Y43.22 R6.97\nG0 Z5\n"
    with pytest.raises(CannotWrite, match="3 decimals") as caught:
        corrected(text, (50, 40), 6.9686, 0.0671, most=3, near=0.3)
    assert caught.value.rows == (3, 4)
    assert "R7.03" in corrected(text, (50, 40), 6.9686, 0.0671, near=0.3)


def test_plunge_and_retract_stay_upright_where_the_ring_asks_for_more_decimals():
    text = MM + "G0 X56.18 Y43.22\nG1 Z-1\nG2 X43.82 Y36.78 R6.97\nX56.18 Y43.22 R6.97\nG0 Z5\n"
    after = corrected(text, (50, 40), 6.9686, 0.0671, near=0.3)
    assert [line[:5] for line in changed_lines(text, after)] == ["G0 X5", "G2 X4", "X56.2"]
    assert after.splitlines()[2].split()[1:] == after.splitlines()[5].split()[:2]


def test_lines_outside_the_path_stay_whatever_they_hold():
    text = "%\nO100\n(T1 X57 I-7)\nG21 G90\nG0 X57 Y40\nG2 I-7\nG0 X0\n#5=[1+2]\nM30\n%\nX57 I-7 \x00"
    after = corrected(text, (50, 40), 7, 0.067)
    assert changed_lines(text, after) == ["G0 X57.067 Y40", "G2 I-7.067"]

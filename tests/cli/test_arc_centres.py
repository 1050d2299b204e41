"""How I J K are meant, and numbers without points, at the command line: what is asked, said and refused."""

import pytest

from command import TABLE, run

HEAD = "G21 G90 G17\nT1 M6\nM3 S12000\nG0 Z5\nG0 X10 Y10\nG1 Z-3 F300\nG1 X17 F1200\n"
TAIL = "G1 X10\nG0 Z5\nM30\n"
# 20 read on the line from 9.9 at 10 to 29.8 at 30: x - 0.1 - (x - 10)/200 = 20 where x = 20.1508
HALVES = "G3 X3 Y10 I-7 J0\nG3 X17 Y10 I7 J0\n"
ABSOLUTE = "G3 X3 Y10 I10 J10\nG3 X17 Y10 I10 J10\n"
FULL, FULL_ABSOLUTE = "G3 X17 Y10 I-7 J0\n", "G3 X17 Y10 I10 J10\n"


@pytest.fixture
def corrected(tmp_path):
    table = tmp_path / "shop.toml"
    table.write_text(TABLE)

    def go(text, *options):
        return run("correct", "-t", table, "--no-stamp", *options, given=text.encode())

    return go


@pytest.mark.parametrize(
    ("arcs", "said", "first"),
    [
        (HALVES, "taken from the start: 2 arcs agree only so", b"I-7.075"),
        (ABSOLUTE, "taken as absolute: 2 arcs agree only so", b"I10 J10"),
        (FULL, "from the start by default; no arc can tell", b"I-7.075"),
        (f"G90.1\n{FULL_ABSOLUTE}", "as the program says", b"I10 J10"),
        (f"{ABSOLUTE}G91.1\n{FULL}", "the others as the program says", b"I10 J10"),
    ],
)
def test_it_says_how_it_took_the_centres(corrected, arcs, said, first):
    done = corrected(HEAD + arcs + TAIL)
    assert done.status == 0
    assert said in " ".join(done.err.split())
    assert b"X17.075" in done.out and first in done.out


@pytest.mark.parametrize(
    ("arcs", "line", "why"),
    [
        (f"{ABSOLUTE}{HALVES}", 10, "contradict each other"),
        (FULL_ABSOLUTE, 8, "only as absolute are the centres where the tool goes"),
    ],
)
def test_it_asks_where_it_cannot_tell(corrected, arcs, line, why):
    refused = corrected(HEAD + arcs + TAIL)
    assert (refused.status, refused.out) == (1, b"")
    assert f":{line}: " in refused.err and why in refused.err
    assert "--arc-centres incremental or absolute" in refused.err
    assert "Traceback" not in refused.err


def test_the_option_settles_it(corrected):
    done = corrected(HEAD + FULL_ABSOLUTE + TAIL, "--arc-centres", "absolute", "--limit", "0.5")
    assert done.status == 0 and b"G3 X17.075 Y10 I10 J10" in done.out
    assert "taken as absolute, as asked" in " ".join(done.err.split())
    other = corrected(HEAD + FULL + TAIL, "--arc-centres", "incremental")
    assert other.status == 0 and b"I-7.075" in other.out


def test_unsigned_centres_are_named_and_their_arcs_left(corrected):
    quarters = "G3 X10 Y17 I7 J0\nG3 X3 Y10 I0 J7\nG3 X10 Y3 I7 J0\nG3 X17 Y10 I0 J7\n"
    text = HEAD + quarters + TAIL.replace("M30\n", "G0 X50 Y10\nG1 Z-3\nG1 X57\nG3 I7\nG1 X50\nG0 Z5\nM30\n")
    done = corrected(text)
    assert (done.status, done.out) == (0, text.encode())
    assert "lines 8, 9: I J K seem to be written without signs" in " ".join(done.err.split())


@pytest.mark.parametrize(
    "text",
    [
        "G21 G90\nG0 Z5000\nG0 X50000 Y10000\nG1 Z-3000 F300\nG1 X57000\nG3 I-7000\nG0 Z5000\nM30\n",
        "G21 G90\nG0 Z5000\nG0 X1000 Y1000\nG1 Z-3000 F300\nG1 X8000\nG3 I-7000\nG0 Z5000\nM30\n",
        "G20 G90\nG0 Z2000\nG0 X10000 Y10000\nG1 Z-1000 F3\nG1 X12500\nG3 I-2500\nG0 Z2000\nM30\n",
        "G21 G90\nG0 Z5.\nG0 X50000 Y10000\nG1 Z-3000 F300\nG1 X57000\nG3 I-7000\nG0 Z5.\nM30\n",
    ],
)
def test_implied_decimal_points_are_refused_with_the_reason(corrected, text):
    refused = corrected(text)
    assert (refused.status, refused.out) == (1, b"")
    assert "without a decimal point are too large for lengths" in refused.err
    assert "post the program with decimal points" in refused.err


def test_whole_millimetres_are_no_implied_points(corrected):
    done = corrected(
        "G21 G90\nM3\nT1\nG0 Z500\nG0 X3000 Y2000\nG1 Z-3 F12000\nG1 X3007\nG3 I-7\nG1 X3000\nM30\n"
    )
    assert done.status == 0 and b"X3007.075" in done.out

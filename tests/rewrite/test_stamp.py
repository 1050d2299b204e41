"""The stamp: where it goes, how it is written, and that it is found again."""

import pytest

from rewriting import moves_of, plan_of
from roundwright.rewrite import clean_stamp, find_stamp, rewrite_program

STAMP = "roundwright 0.1.0: circles corrected"


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("G0 X1\n", "(@)\nG0 X1\n"),
        ("G0 X1", "(@)\nG0 X1"),
        ("%\nO0001\n(plate)\nG0 X1\n%\n", "%\nO0001\n(@)\n(plate)\nG0 X1\n%\n"),
        ("%\r\n:12\r\n\r\nG0 X1\r\n", "%\r\n:12\r\n\r\n(@)\r\nG0 X1\r\n"),
        ("; plate\nG0 X1 ; up\n", "; @\n; plate\nG0 X1 ; up\n"),
        ("; plate (18 mm)\nG0 X1\n", "; @\n; plate (18 mm)\nG0 X1\n"),
        ("; plate\nG0 X1 (up)\n", "(@)\n; plate\nG0 X1 (up)\n"),
        ("\xef\xbb\xbfG0 X1\n", "\xef\xbb\xbf(@)\nG0 X1\n"),
        ("G0 X1\rG0 X2\r", "(@)\rG0 X1\rG0 X2\r"),
    ],
)
def test_the_stamp_stands_before_the_first_block(before, after):
    out = rewrite_program(moves_of(before), plan_of(stamp=STAMP)).decode("latin-1")
    assert out == after.replace("@", STAMP)
    assert find_stamp(moves_of(out).program) == STAMP
    assert find_stamp(moves_of(before).program) is None


def test_what_a_control_may_act_on_is_kept_out():
    assert (
        clean_stamp("roundwright: shop (1), birch \u2013 18 mm;\n%!~?")
        == "roundwright: shop [1], birch - 18 mm- ----"
    )


def test_a_mention_of_the_name_is_no_stamp():
    assert find_stamp(moves_of("(made for roundwright)\nG0 X1\n").program) is None
    assert find_stamp(moves_of("G0 X1 (roundwright)\n").program) is None


@pytest.mark.parametrize(
    ("program", "opening"),
    [
        (b"G21\n; a (b)\n", b"; "),
        (b"; a (b)\nG21 (c) ; d\n", b"("),
        (b"(c)\r; a (b)\r", b"("),
        (b"G21\n", b"("),
        (b"G21\n" + b"; a (b)\n" * 300_000, b"; "),  # each comment is looked at once, not all before it
    ],
)
def test_the_stamp_is_a_comment_as_the_program_writes_them(program, opening):
    out = rewrite_program(moves_of(program.decode()), plan_of(stamp=STAMP))
    assert opening + STAMP.encode() in out

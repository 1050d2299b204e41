"""Line and number grammar of NIST IR 6556 (Kramer, Proctor, Messina, RS274/NGC, 17 Aug 2000), section 3.3.

Sections are named beside each check. Two rules of the report are not held: at most 256 characters a line
(3.3) and at most five digits of a line number (3.3.1); real programs break both and mean no harm.
"""

from __future__ import annotations

from itertools import permutations

import pytest

from roundwright.read import comments, parse_number, read_program
from roundwright.read.program import BLOCK_DELETE, NO_VALUE, Program

pytestmark = pytest.mark.published


def words_of(program: Program) -> list[tuple[str, int]]:
    return [(chr(a), int(b)) for a, b in zip(program.letter, program.value, strict=True)]


def test_blanks_and_tabs_change_nothing_anywhere():
    """3.3: the report's own example."""
    spaced, plain = read_program(b"g0x +0. 12 34y 7"), read_program(b"g0 x+0.1234 y7")
    assert words_of(spaced) == words_of(plain) == [("G", 0), ("X", 12_340_000), ("Y", 700_000_000)]
    assert words_of(read_program(b"g\t0 x +0.\t1234y7\t")) == words_of(plain)
    assert not spaced.unread and not plain.unread


def test_case_does_not_matter_outside_comments():
    """3.3."""
    assert words_of(read_program(b"G1 X2.5 (Foo)")) == words_of(read_program(b"g1 x2.5 (Foo)"))
    assert [text for _, text in comments(read_program(b"g1 (Foo)"))] == [b"Foo"]


def test_blank_lines_are_allowed():
    """3.3."""
    program = read_program(b"g1 x1\n\n  \t\ng1 x2\n")
    assert program.lines == 4
    assert program.line.tolist() == [0, 0, 3, 3]


def test_line_numbers_may_repeat_and_be_out_of_order():
    """3.3.1."""
    program = read_program(b"n20 g1\nN10 g1\nn10 g1")
    assert program.value[program.letter == ord("N")].tolist() == [2_000_000_000, 1_000_000_000, 1_000_000_000]


def test_every_letter_of_table_3_makes_a_word():
    """3.3.2, Table 3: letters with their meanings, and N."""
    letters = b"ABCDFGHIJKLMNPQRSTXYZ"
    program = read_program(b" ".join(bytes([code]) + b"1" for code in letters))
    assert bytes(program.letter) == letters
    assert not program.unread


@pytest.mark.parametrize(
    ("text", "value", "decimals"),
    [
        (b"5", 500_000_000, -1),
        (b"5.", 500_000_000, 0),
        (b".5", 50_000_000, 1),
        (b"+0.5", 50_000_000, 1),
        (b"-.5", -50_000_000, 1),
        (b"-0", 0, -1),
        (b"007.50", 750_000_000, 2),
        (b"0.12345678901234567", 12_345_679, 17),
    ],
)
def test_numbers(text, value, decimals):
    """3.3.2.1 and appendix E.2; about 17 figures are kept there, counts of 1e-8 here."""
    assert parse_number(text) == (value, decimals)
    program = read_program(b"x" + text)
    assert (program.value.tolist(), program.decimals.tolist()) == ([value], [decimals])


@pytest.mark.parametrize("text", [b".", b"+", b"-", b"", b"1e3", b"1.2.3", b"+-1"])
def test_no_numbers(text):
    """3.3.2.1 and appendix E.2: at least one digit, one point, no exponent."""
    assert parse_number(text) is None
    program = read_program(b"x" + text)
    assert program.decimals.tolist() == [NO_VALUE]
    assert [why for _, why in program.unread] == ["number"]


@pytest.mark.parametrize(
    "text",
    [
        b"x [1 + 2 * 3 - 4 / 5]",
        b"x [15 MOD 4.0]",
        b"x atan[1.7321]/[1.0]",
        b"x fix[-0.499]",
        b"x fup[-0.499]",
        b"x round[-0.5001]",
        b"x [2 ** 3.0]",
        b"x sqrt[3**2 + 4**2]",
        b"x#3",
        b"x -[1]",
        b"x##2",
    ],
)
def test_expressions_and_parameters_are_seen_but_not_worked_out(text):
    """3.3.2.2 to 3.3.2.4, and the lines of appendix C.2."""
    program = read_program(text)
    assert bytes(program.letter) == b"X"
    assert program.decimals.tolist() == [NO_VALUE]
    assert [why for _, why in program.unread] == ["expression"]


def test_parameter_settings_are_seen_in_every_order():
    """3.3.3 and 3.3.6: the report's line in its 120 orders."""
    for order in permutations([b"g40", b"g1", b"#3=15", b"(foo)", b"#4=-7.0"]):
        program = read_program(b" ".join(order))
        assert [why for _, why in program.unread] == ["variable"], order
        assert [text for _, text in comments(program)] == [b"foo"]


def test_words_and_comments_interleave_in_every_order():
    """3.3.6."""
    for order in permutations([b"g40", b"g1", b"x15", b"(foo)", b"y-7.0"]):
        program = read_program(b" ".join(order))
        assert not program.unread
        assert sorted(words_of(program)) == sorted(words_of(read_program(b"g40 g1 x15 y-7.0")))


def test_comments_do_not_nest_and_close_on_their_line():
    """3.3.4: what the report forbids is still no crash, and no word is lost behind it."""
    assert [text for _, text in comments(read_program(b"g80 (a) x1 (MSG, b) (c)"))] == [b"a", b"MSG, b", b"c"]
    program = read_program(b"(open\ng1 x1\n")
    assert words_of(program) == [("G", 100_000_000), ("X", 100_000_000)]
    assert [why for _, why in read_program(b"(a (b) x1 )").unread] == ["comment"]


def test_block_delete_stands_before_the_line_number():
    """2.2.2 and 3.3: the block's words are read, the flag tells that a switch may skip them."""
    program = read_program(b"/n10 g1 x1\ng1 x2")
    assert program.flags.tolist() == [BLOCK_DELETE, 0]
    assert len(program.letter) == 5


def test_nothing_is_read_behind_the_second_percent():
    """3.1."""
    program = read_program(b"%\ng1 x1\n%\ng1 x2\n")
    assert words_of(program) == [("G", 100_000_000), ("X", 100_000_000)]
    assert program.end_line == 2

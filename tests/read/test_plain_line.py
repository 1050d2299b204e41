"""What one line holds, and why it cannot be read where it cannot."""

from __future__ import annotations

import pytest

from roundwright import read
from roundwright.read import read_program
from roundwright.read.program import (
    BLOCK_DELETE,
    CHECKSUM,
    COMMENT,
    NO_VALUE,
    PROGRAM_NUMBER,
    UNREAD,
)


def words_of(text: bytes) -> list[str]:
    """The words as letter and value, "?" for a value that cannot be read."""
    program = read_program(text)
    return [
        f"{chr(letter)}{'?' if decimals == NO_VALUE else format(value / 1e8, 'g')}"
        for letter, value, decimals in zip(program.letter, program.value, program.decimals, strict=True)
    ]


@pytest.mark.parametrize(
    ("text", "reason", "words"),
    [
        (b"G1 X[#1+2] Y5", "expression", ["G1", "X?", "Y5"]),
        (b"X#5 G91", "expression", ["X?", "G91"]),
        (b"Xsin[30] F200", "expression", ["X?", "F200"]),
        (b"X-#<depth> Y1", "expression", ["X?", "Y1"]),
        (b"Xatan[2]/[1+3]Y1", "expression", ["X?", "Y1"]),
        (b"G2X#140/2+#142Y#140/2-#146R-#140/2", "expression", ["G2", "X?", "Y?", "R?"]),
        (b"X[1 (Y5) + 2] Z3", "expression", ["X?", "Z3"]),
        (b"X[1 G91", "expression", ["X?"]),
        (b"#1=5", "variable", []),
        (b"#<clearance> = [#4 + 2]", "variable", []),
        (b"G1 #3=15 X5", "variable", []),
        (b"R1=5", "variable", []),
        (b"G0 X=AC(5)", "variable", []),
        (b"o100 sub", "control", []),
        (b"o<pocket> call [1] [2]", "control", []),
        (b"O100 G90", "control", []),
        (b"N5 G1 O100", "control", []),
        (b"IF[#1 EQ 2]GOTO 20", "control", []),
        (b"WHILE[#1 LT 5]DO1", "control", []),
        (b"N10 GOTO 20", "control", []),
        (b"DEF REAL A", "control", []),
        (b"G0 SUPA Z5", "control", []),
        (b"G1 X", "number", ["G1", "X?"]),
        (b"G28 X Z", "number", ["G28", "X?", "Z?"]),
        (b"X- Y1", "number", ["X?", "Y1"]),
        (b"X--1", "number", ["X?"]),
        (b"X1-1", "number", ["X?"]),
        (b"X1.2.3", "number", ["X?"]),
        (b"X. F5", "number", ["X?", "F5"]),
        (b"G1 X4.5e-17 Y2", "number", ["G1", "X?", "Y2"]),
        (b"X4.5E5", "number", ["X?"]),
        (b"X90000000000", "number", ["X?"]),
        (b"X" + b"1" * 400, "number", ["X?"]),
        (b"12 X5", "number", ["X5"]),
        (b"X1 (c) 2", "number", ["X1"]),
        (b"X (c) 2", "number", ["X?"]),
        (b"X1 @ Y2", "character", ["X?", "Y2"]),
        (b"X2,5 F3", "character", ["X?", "F3"]),
        (b"G1 X1/2", "character", ["G1", "X?"]),
        (b"G1 \xb0", "character", ["G?"]),
        (b"D0:2:3 H1", "character", ["D?", "H1"]),
        (b"X1 *", "character", ["X?"]),
        (b"/N1/ X5", "character", ["N?", "X5"]),
        (b"* 7 G1", "character", ["G1"]),
        (b"(a (b) G1 ) X5", "comment", ["X5"]),
        (b"Fr 9 mm)", "comment", []),
        (b"X5 Y6)", "comment", ["X5", "Y6"]),
    ],
)
def test_unread(text, reason, words):
    program = read_program(text)
    assert [why for _, why in program.unread] == [reason]
    assert program.flags[0] & UNREAD
    assert words_of(text) == words


@pytest.mark.parametrize(
    ("text", "flags", "words"),
    [
        (b"G1X1Y-2.5", 0, ["G1", "X1", "Y-2.5"]),
        (b"g1 x+1. y.5", 0, ["G1", "X1", "Y0.5"]),
        (b"G1\tX 1\t0 . 2 5", 0, ["G1", "X10.25"]),
        (b"X-0.", 0, ["X0"]),
        (b"X89999999999.99999999", 0, ["X9e+10"]),
        (b"G1 X1 (one) Y2 (two", COMMENT, ["G1", "X1", "Y2"]),
        (b"X1 ; Y2 (no)", COMMENT, ["X1"]),
        (b"(Y2; X3) X1", COMMENT, ["X1"]),
        (b"(\x00\xff\x01) X1", COMMENT, ["X1"]),
        (b"(a (b)) X1", COMMENT, ["X1"]),
        (b"(a (b) ) X1", COMMENT, ["X1"]),
        (b"/G1 X1", BLOCK_DELETE, ["G1", "X1"]),
        (b" / 2 G1", BLOCK_DELETE, ["G1"]),
        (b"N10/G1", BLOCK_DELETE, ["N10", "G1"]),
        (b"/N10 G1", BLOCK_DELETE, ["N10", "G1"]),
        (b"/", BLOCK_DELETE, []),
        (b"N3 G1 X2*71", CHECKSUM, ["N3", "G1", "X2"]),
        (b"G1 X2 * 7 ;c", CHECKSUM | COMMENT, ["G1", "X2"]),
        (b"O1234", PROGRAM_NUMBER, []),
        (b"o0001 (BEARING BLOCK)", PROGRAM_NUMBER | COMMENT, []),
        (b":5000 (A)", PROGRAM_NUMBER | COMMENT, []),
        (b"N10 O77", PROGRAM_NUMBER, ["N10"]),
        (b"/ N10 :77 *12", PROGRAM_NUMBER | BLOCK_DELETE | CHECKSUM, ["N10"]),
        (b"X1 E5", 0, ["X1", "E5"]),
        (b"G1X90.6Y13.8E22.4", 0, ["G1", "X90.6", "Y13.8", "E22.4"]),
        (b"X.00000000500 Y.000000005000000001 Z.000000015", 0, ["X0", "Y1e-08", "Z2e-08"]),
        (b"X" + b" " * 50 + b"5" + b" " * 50 + b"Y", UNREAD, ["X5", "Y?"]),
        (b"X" + b"\t" * 50 + b"5" + b" " * 50, 0, ["X5"]),
        (b"   ", 0, []),
    ],
)
def test_read(text, flags, words):
    program = read_program(text)
    assert program.flags.tolist() == [int(flags)]
    assert words_of(text) == words


def test_the_span_of_an_unreadable_value_covers_what_stands_there():
    program = read_program(b"X [#1 + 2] Y-  Z")
    assert [program.data[word.number : word.stop] for word in read.words_of(program, 0)] == [
        b"[#1 + 2]",
        b"-",
        b"",
    ]

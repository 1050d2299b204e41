"""The second reader of single blocks, against its grammar and against the read room."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from roundwright.prove.blocks import exclusive_or, read_block
from roundwright.read import read_program

NUMBERS = st.from_regex(rb"[+-]?([0-9]{1,4}(\.[0-9]{0,5})?|\.[0-9]{1,5})", fullmatch=True)
WORDS = st.tuples(
    st.sampled_from([b"", b" ", b"\t", b"(a b)", b" (it's X9) "]),
    st.sampled_from([bytes([c]) for c in b"GMXYZIJKRFSTPxyzijk"]),
    st.sampled_from([b"", b" "]),
    NUMBERS,
)
TAILS = st.sampled_from([b"\n", b"\r\n", b"", b" \n", b"(end)\n", b"; G0 Z-5\n"])


def test_reads_words_with_everything_between() -> None:
    block = read_block(b"/N10 g1X 57. 5 (lead) Y-.25\r\n")
    assert block is not None
    assert [(w.name, w.value) for w in block.words] == [
        ("N", 10),
        ("G", 1),
        ("X", Decimal("57.5")),
        ("Y", Decimal("-0.25")),
    ]
    assert [w.before for w in block.words] == [b"/", b" ", b"", b" (lead) "]
    assert block.tail == b"\r\n"
    assert [w.decimals for w in block.words] == [-1, -1, 1, 2]


@pytest.mark.published
def test_blanks_inside_numbers() -> None:
    """NIST IR 6556, 3.3: `g0x +0. 12 34y 7` is `g0 x+0.1234 y7`."""
    block = read_block(b"g0x +0. 12 34y 7")
    assert block is not None
    assert (block.value("X"), block.value("Y")) == (Decimal("0.1234"), 7)


@pytest.mark.published
@pytest.mark.parametrize("number", [b".", b"+", b"1e3", b"1.2.3", b"--1", b"[1+2]", b"#5", b""])
def test_what_is_no_number_is_not_read(number: bytes) -> None:
    """NIST IR 6556, appendix E.2: one point, at least one digit, no exponent; expressions are not plain."""
    block = read_block(b"G1 X" + number + b"\n")
    assert block is None or number == b"1e3"
    if block is not None:
        assert [w.name for w in block.words] == ["G", "X", "E"]


def test_checksum_covers_all_before_the_star() -> None:
    block = read_block(b"N3 T0*57\n")
    assert block is not None
    # 57 worked out by hand: N^3^blank^T^0 = 0x4e^0x33^0x20^0x54^0x30
    assert block.checksum == 57 == exclusive_or(block.summed) == 0x4E ^ 0x33 ^ 0x20 ^ 0x54 ^ 0x30
    assert read_block(b"G1*12 X5\n") is None


@given(st.lists(WORDS, max_size=6), TAILS)
def test_no_byte_is_lost(words: list[tuple[bytes, bytes, bytes, bytes]], tail: bytes) -> None:
    text = b"".join(b"".join(word) for word in words) + tail
    block = read_block(text)
    assert block is not None
    again = b"".join(w.before + w.letter + w.pad + w.number for w in block.words) + block.tail
    assert again == text


@given(st.lists(WORDS, max_size=6), TAILS)
def test_both_readers_read_the_same(words: list[tuple[bytes, bytes, bytes, bytes]], tail: bytes) -> None:
    text = b"".join(b"".join(word) for word in words) + tail
    block, program = read_block(text), read_program(text, "line")
    assert block is not None
    mine = [(ord(w.name), int(w.value.scaleb(8)), w.decimals) for w in block.words]
    theirs = zip(program.letter.tolist(), program.value.tolist(), program.decimals.tolist(), strict=True)
    assert mine == list(theirs)

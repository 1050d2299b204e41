"""Straight moves that are set apart while a program is read come out of the trace as if they had not been."""

from __future__ import annotations

from unittest import mock

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from corpus import FOLDER
from roundwright.errors import ProgramError
from roundwright.read import read_program, scan, straights
from roundwright.trace import Moves, trace_moves

FILES = sorted(FOLDER.glob("[0-9]*")) if FOLDER.is_dir() else []

number = st.one_of(
    st.sampled_from(["0", "1.", "-2.5", ".125", "3.12345", "1.123456789", "-0.", "900", "2000", "2000."]),
    st.integers(-99, 99).map(str),
    st.integers(-99999, 99999).map(lambda n: f"{n / 1000:.3f}"),
)
axis_words = st.permutations("XYZ").flatmap(
    lambda order: st.integers(0, 3).flatmap(
        lambda count: st.tuples(
            *(number.map(lambda n, letter=letter: letter + n) for letter in order[:count])
        )
    )
)
plain = st.tuples(
    st.sampled_from(["", "", "N10", "N20 "]),
    st.sampled_from(["", "", "", "G1", "G1", "G0 ", "G01", "G1."]),
    axis_words.map("".join),
    st.sampled_from(["", "", "", "F800", "F60.5", "(a comment)", ";"]),
).map("".join)
OTHER = """
G91|G90|G20|G21|G18|G17|G2X5Y5I2J1|G3 I-2|G81 Z-1 R2|G80|X1 X2|/X3|M3 S900|M6 T2|M0|G92 X0|G92 X1 Y2 Z3
G52 X2|G10 L20 P1 X0|G53 G0 Z0|G28|G41 D1|G40|G68 X0 Y0 R10|G69|M98 P10|O10|M99|M30|%|G93|G94|X[#1]|#1=2
X-|A5|G54|G55|E2.|U1|G66 P1|G67|G65 P1|G31 X4|G77|G5 X1|S500|T3|G1 G0|G90 G1 X2|G91 G1 X1|G0 G91|F|N5*71
G1 X99999999999
"""
other = st.sampled_from(OTHER.strip().replace("\n", "|").split("|"))
stretch = st.lists(st.one_of(plain, plain, plain, plain, plain, other), max_size=40)
heads = st.sampled_from(["", "G21 G90\n", "G20\n", "%\n", "G91\n"])
programs = st.tuples(heads, stretch.map("\n".join), st.sampled_from(["", "\n", "\r\n"])).map("".join)


def assert_same(one: Moves, other: Moves) -> None:
    for name in Moves.__struct_fields__:
        a, b = getattr(one, name), getattr(other, name)
        if isinstance(a, np.ndarray):
            assert a.dtype == b.dtype, name
            assert np.array_equal(a, b, equal_nan=a.dtype.kind == "f"), name
        elif name == "arcs":
            assert all(
                np.array_equal(getattr(a, k), getattr(b, k), equal_nan=True) for k in a.__struct_fields__
            )
        elif name not in ("program", "seal"):
            assert a == b, name


def moves_of(data: bytes, *, apart: bool) -> Moves | str:
    try:
        return trace_moves(read_program(data, "soup.nc", apart=apart))
    except ProgramError as refused:
        return str(refused)


def assert_followed_alike(data: bytes) -> None:
    one, other = (moves_of(data, apart=apart) for apart in (False, True))
    if isinstance(one, str) or isinstance(other, str):
        assert one == other
    else:
        assert_same(one, other)


@settings(max_examples=500, deadline=None)
@example("G1 X1\nX2\nG91\nG1 X1\nX1\nX1\nG90\nX5\nX6", 1, 1 << 20)
@example("G1 X1 Y2\nX2\nX3\nM98 P10\nM30\nO10\nG1 X2\nX3\nM99", 1, 1 << 20)
@example("G20\nG1 X1.1\nX2\nY3.00001\nG21\nG1 X5\nX6", 1, 16)
@example("G1 X1\nX2\n%\nX3\nX4\nX5", 1, 1 << 20)
@given(programs, st.integers(1, 4), st.sampled_from([1 << 20, 16, 64, 200]))
def test_set_apart_or_not_the_moves_are_the_same(text: str, least: int, chunk: int) -> None:
    with mock.patch.object(straights, "_LEAST", least), mock.patch.object(scan, "CHUNK", chunk):
        assert_followed_alike(text.encode())


def test_the_words_of_a_long_run_are_not_kept() -> None:
    text = "G21 G90\nG1 X0 Y0 F500\n" + "".join(f"G1 X{k / 8} Y1.5 Z-{k}.\n" for k in range(500)) + "M30\n"
    program = read_program(text.encode(), apart=True)
    assert program.straights
    assert program.straights.span.tolist() == [[1, 502]]
    assert len(program.letter) < 20
    assert program.straights.place[0, 2:502].tolist() == [k * 12_500_000 for k in range(500)]
    assert_followed_alike(text.encode())


@pytest.mark.parametrize("mode", ["G91", "G81 R2 Z-1"])
def test_moves_that_mean_something_else_are_read_again(mode: str) -> None:
    body = "".join(f"X{k}.5 Y{k}.\n" for k in range(400))
    for head in (
        f"{mode}\n",
        f"G1 X1.\n{mode}\n",
        f"G1 X1.\n{body}{mode} X3.\n",
        f"G66 P100\nG1 X0.\n{mode}\n",
    ):
        assert_followed_alike(f"G21\n{head}{body}G90\nG1 X0.\n{body}".encode())


@pytest.mark.skipif(not FILES, reason="the real programs are not here")
def test_real_programs_are_followed_alike() -> None:
    for path in FILES:
        with mock.patch.object(straights, "_LEAST", 8):
            assert_followed_alike(path.read_bytes())

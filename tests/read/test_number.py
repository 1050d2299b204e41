"""Exact numbers against Python's decimal arithmetic."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Context, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from roundwright.read import parse_number
from roundwright.read.program import NO_POINT

WIDE = Context(prec=200)


@given(st.from_regex(rb"[+-]?([0-9]{1,10}(\.[0-9]{0,30})?|\.[0-9]{1,30})", fullmatch=True))
def test_value_is_the_decimal_rounded_half_to_even(text):
    exact = WIDE.multiply(Decimal(text.decode()), 10**8)
    expected = int(exact.to_integral_value(ROUND_HALF_EVEN, WIDE))
    decimals = len(text.partition(b".")[2]) if b"." in text else NO_POINT
    assert parse_number(text) == (expected, decimals)


@given(st.from_regex(rb"[+-]?[0-9]{1,5}\.[0-9]{1,5}", fullmatch=True), st.data())
def test_blanks_inside_change_nothing(text, data):
    place = data.draw(st.integers(0, len(text)))
    assert parse_number(text[:place] + b" \t" + text[place:]) == parse_number(text)


@pytest.mark.parametrize(
    "text", [b"", b".", b"+", b"-.", b"1.2.3", b"--1", b"1-", b"1e3", b"0x1", b"\xb2", b"9" * 11, b"0" * 101]
)
def test_no_number(text):
    assert parse_number(text) is None

"""Lengths as people type them."""

import pytest

from roundwright.errors import SettingsError
from roundwright.units import parse_length


@pytest.mark.parametrize(
    ("text", "inch", "millimetres"),
    [
        ("9.91", False, 9.91),
        ("9.91", True, 9.91 * 25.4),
        ("9.91mm", True, 9.91),
        (" 0.375 in ", False, 9.525),
        ("3/8in", False, 9.525),
        ('3/8"', False, 9.525),
        ("-.5", False, -0.5),
        ("+5.", False, 5.0),
    ],
)
def test_a_length(text, inch, millimetres):
    assert parse_length(text, inch=inch) == pytest.approx(millimetres, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["", "mm", "1,5", "1e3", "3/0", "3/00", "3/", "/8", "1 2", "٣", "0x10", "inf", "nan", "5 ft"]
)
def test_no_length(text):
    with pytest.raises(SettingsError, match="not a length"):
        parse_length(text, inch=False)

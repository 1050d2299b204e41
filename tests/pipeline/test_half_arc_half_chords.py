"""A circle of a half in R form and of chords, in inches: its arc is written so that its chords stay on it."""

from __future__ import annotations

from math import cos, pi, radians, sin

import pytest

from known_truth import table_for
from roundwright.pipeline import correct
from roundwright.settings import Settings
from roundwright.units import INCH

CHORDS = 32


def program(radius: float, first: float) -> bytes:
    """A bore, inches: half of it one arc, half chords, from an angle in degrees on."""

    def corner(share: float) -> str:
        angle = radians(first) + 2 * pi * share
        return f"X{15.3 + radius * cos(angle):.5f} Y{20.2 + radius * sin(angle):.5f}"

    half = [f"G1 {corner(0.5 + 0.5 * k / CHORDS)}" for k in range(1, CHORDS + 1)]
    way = [f"G1 {corner(0)} F40", f"G3 {corner(0.5)} R{radius:.5f}", *half, "G1 X15.3 Y20.2"]
    head = ["G20 G90 G17", "T1 M6", "M3 S12000", "G0 Z0.2", "G0 X15.3 Y20.2", "G1 Z-0.1 F20"]
    return "\n".join((*head, *way, "G0 Z0.2", "M30", "")).encode()


@pytest.mark.parametrize(
    ("radius", "first"), [(0.24693, 10.205091547922272), (0.21272, 194.90849020565878), (0.3, 45.0)]
)
def test_the_corrected_circle_is_found_again(radius: float, first: float) -> None:
    table = table_for({1: 0.25 * INCH}, (-0.16866,) * 3)
    outcome = correct(program(radius, first), "half.nc", table, Settings(again=True))
    assert [one.status for one in outcome.plan.corrections] == ["corrected"]

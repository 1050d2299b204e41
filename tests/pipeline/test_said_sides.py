"""A side that only the caller says stays what it is when the corrected path is looked at again."""

from __future__ import annotations

import pytest

from known_truth import table_for
from roundwright.pipeline import correct
from roundwright.settings import Settings

#: a bore, and a circle that is entered from outside: from beside a blank, or through a slot or notch.
PROGRAM = """G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X0 Y0
G1 Z-3 F200
G1 X5 F800
G3 I-5
G1 X0
G0 Z5
X{far} Y0
G0 Z-3
G1 X60 F800
G3 I-10
G0 Z5
M30
"""


@pytest.mark.parametrize("far", [65, 72])
@pytest.mark.parametrize(
    ("said", "side"),
    [
        (Settings(side="hole"), "hole"),
        (Settings(side="boss"), "boss"),
        (Settings(cut="climb"), "hole"),
        (Settings(cut="conventional"), "boss"),
    ],
)
def test_a_doubtful_lead_does_not_outvote_it_later(far: int, said: Settings, side: str) -> None:
    plan = correct(PROGRAM.format(far=far).encode(), "panel.nc", table_for({1: 6.0}), said).plan
    assert [(c.status, c.feature.side) for c in plan.corrections] == [
        ("corrected", "hole"),
        ("corrected", side),
    ]
    assert "taken as said" in plan.corrections[1].feature.evidence


@pytest.mark.parametrize("far", [65, 72])
def test_without_a_word_it_is_left_alone(far: int) -> None:
    plan = correct(PROGRAM.format(far=far).encode(), "panel.nc", table_for({1: 6.0}), Settings()).plan
    assert [(c.status, c.feature.side) for c in plan.corrections] == [
        ("corrected", "hole"),
        ("left-alone", "unknown"),
    ]

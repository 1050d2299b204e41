"""Flat inside jaws of a caliper in a hole: geometry, references computed independently."""

import pytest

from roundwright.calibration import Reading

pytestmark = pytest.mark.published


@pytest.mark.parametrize(
    ("diameter", "jaws", "reads", "error"),
    [
        (5.0, 0.3, 4.990992, 0.0090),
        (5.0, 0.5, 4.974937, 0.0251),
        (5.0, 0.7, 4.950758, 0.0492),
        (10.0, 1.0, 9.949874, 0.0501),
        (20.0, 1.0, 19.974984, 0.0250),
        (3.0, 0.5, 2.958040, 0.0420),
    ],
)
def test_a_reading_between_flat_jaws_is_a_chord(diameter, jaws, reads, error):
    """Geometry: reads √(D² − w²) [CALC]; short by `error`, to the four decimals of the table."""
    bare = Reading(diameter, diameter=reads)
    assert bare.error == pytest.approx(-error, abs=6e-5)
    assert Reading(diameter, diameter=reads, jaw_width=jaws).error == pytest.approx(0.0, abs=1e-6)

"""Tolerance classes: what the rules make of sizes and grades, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fit_tables import FITS
from roundwright.errors import SettingsError

LETTERS = ("d", "e", "f", "g", "h", "js", "k", "m", "n", "p")
SIZES = st.floats(0.1, 500.0)
GRADES = st.integers(5, 16)


@pytest.mark.parametrize(
    ("nominal", "name", "deviations"),
    [
        (3.0, "H7", (0, 10)),
        (3.001, "H7", (0, 12)),
        (50.0, "H7", (0, 25)),
        (50.001, "H7", (0, 30)),
        (500.0, "H7", (0, 63)),
        (20, "k7", (2, 23)),
        (20, "k8", (0, 33)),
        (20, "k16", (0, 1300)),
        (2, "K9", (-25, 0)),
        (20, "N8", (-36, -3)),
        (20, "N9", (-52, 0)),
        (2, "N9", (-29, -4)),
        (20, "M9", (-60, -8)),
        (20, "P8", (-55, -22)),
        (20, "P5", (-28, -19)),
        (310, "M6", (-41, -9)),
        (310, "M5", (-36, -13)),
        (320, "M6", (-46, -10)),
        (20, "JS7", (-10.5, 10.5)),
        (20, "js7", (-10.5, 10.5)),
    ],
)
def test_rules_and_their_exceptions(nominal, name, deviations):
    assert FITS.deviations_of(nominal, name) == deviations


@pytest.mark.parametrize(
    "name", ["Z7", "q8", "H", "7", "H7x", "", "Js7", "jS7", "cd6", "X 7", "\u210d7", "H\u0668"]
)
def test_letters_that_are_not_held_are_refused(name):
    with pytest.raises(SettingsError, match="is no tolerance class"):
        FITS.limits_of(20, name)


@pytest.mark.parametrize("name", ["H4", "H17", "js0", "K99"])
def test_grades_that_are_not_held_are_refused(name):
    with pytest.raises(SettingsError, match="5 to 16"):
        FITS.limits_of(20, name)


@pytest.mark.parametrize("nominal", [0.0, -20.0, 500.001, float("nan"), float("inf")])
def test_sizes_that_are_not_held_are_refused(nominal):
    with pytest.raises(SettingsError, match="500 mm"):
        FITS.limits_of(nominal, "H7")


@given(st.floats(3.001, 500.0), st.integers(9, 16))
def test_k_of_holes_ends_with_grade_8_over_3_mm(nominal, grade):
    with pytest.raises(SettingsError, match="K8"):
        FITS.limits_of(nominal, f"K{grade}")


@given(SIZES, GRADES, st.sampled_from(LETTERS))
def test_limits_are_in_order_and_as_wide_as_the_tolerance(nominal, grade, letter):
    smallest, largest = FITS.limits_of(nominal, f"{letter}{grade}")
    assert largest - smallest == pytest.approx(
        sum(FITS.limits_of(nominal, f"H{grade}")) - 2 * nominal, abs=1e-9
    )
    assert smallest < largest


@given(SIZES, GRADES, st.sampled_from(LETTERS[:6]))
def test_holes_up_to_h_mirror_the_shafts(nominal, grade, letter):
    lower, upper = FITS.deviations_of(nominal, f"{letter}{grade}")
    assert FITS.deviations_of(nominal, f"{letter.upper()}{grade}") == (-upper, -lower)


@given(st.floats(3.001, 500.0), st.integers(6, 8), st.sampled_from("KMNP"))
def test_a_stepped_hole_and_the_finer_shaft_fit_as_the_mirrored_pair(nominal, grade, letter):
    """The delta rule's purpose: H7/p6 and P7/h6 are the same fit."""
    if (letter, grade) == ("P", 8) or ((letter, grade) == ("M", 6) and 250 < nominal <= 315):
        return
    basis = FITS.deviations_of(nominal, f"H{grade}")
    shaft = FITS.deviations_of(nominal, f"{letter.lower()}{grade - 1}")
    hole = FITS.deviations_of(nominal, f"{letter}{grade}")
    other = FITS.deviations_of(nominal, f"h{grade - 1}")
    assert (hole[0] - other[1], hole[1] - other[0]) == (basis[0] - shaft[1], basis[1] - shaft[0])

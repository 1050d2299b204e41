"""What readings tell of a machine, how surely, and what they cannot tell."""

import dataclasses
from datetime import date

import numpy as np
import pytest
import scipy.stats
from msgspec.structs import replace

from faulty_machine import CALIPER, TOOL, WAYS, Faults, Shop
from roundwright.calibration import Condition, Reading, Tool
from roundwright.calibration.diagnosis import diagnose
from roundwright.calibration.least_squares import least_squares

FAULTS = Faults(-8e-3, 4e-4, 1.2e-3, 0.03, 0.012, -0.11)
KEYS = ("scale_x", "scale_y", "squareness", "lost_motion_x", "lost_motion_y")


def truth(faults):
    return (faults.scale_x, faults.scale_y, faults.squareness, faults.lost_x, faults.lost_y)


def values(diagnosis):
    """The shared estimates, None where there is none."""
    found = (getattr(diagnosis, key) for key in KEYS)
    return tuple(None if one is None else one.value for one in found)


def of(shop, *conditions):
    (diagnosis,) = diagnose(shop.table(*conditions))
    return diagnosis


@pytest.mark.parametrize("side", ["hole", "boss"])
def test_exact_readings_of_both_ways_round_give_every_fault(side):
    shop = Shop(FAULTS)
    found = of(shop, *(shop.condition(side, cut) for cut in WAYS))
    assert values(found) == pytest.approx(truth(FAULTS), abs=1e-9)
    assert [one.value for one in found.constants] == pytest.approx([-0.11, -0.11], abs=1e-9)
    assert found.scale_x.u < 1e-6, "exact readings leave no scatter"
    assert found.constants[0].u == pytest.approx(CALIPER.limit / 3**0.5, rel=1e-3), (
        "the caliper's limit stays"
    )


def test_a_spindle_that_turns_the_other_way_cuts_the_other_way_round():
    shop = Shop(FAULTS)
    table = shop.table(*(shop.condition(cut=cut) for cut in WAYS))
    swapped = {"climb": "conventional", "conventional": "climb"}
    mirrored = replace(
        table,
        machine=replace(table.machine, clockwise=False),
        conditions=tuple(replace(c, cut=swapped[c.cut]) for c in table.conditions),
    )
    assert values(diagnose(mirrored)[0]) == pytest.approx(values(diagnose(table)[0]), abs=1e-12)


def test_one_diameter_cannot_tell_scale_from_what_stays():
    shop = Shop(FAULTS)
    found = of(shop, *(shop.condition(cut=cut, sizes=(20.0, 20.134), repeat=2) for cut in WAYS))
    assert found.scale_x is None and found.scale_y is None and found.constants == (None, None)
    assert found.squareness.value == pytest.approx(1.2e-3, rel=1e-2), "both ways round tell squareness"


def test_one_way_round_at_one_diameter_cannot_tell_squareness_from_lost_motion():
    shop = Shop(FAULTS)
    found = of(shop, shop.condition(sizes=(20.0,), repeat=3))
    assert values(found) == (None,) * 5


def test_one_way_round_at_several_diameters_tells_less_surely():
    shop = Shop(FAULTS, 0.01, 0.01)
    one = of(shop, shop.condition(repeat=2))
    both = of(shop, *(shop.condition(cut=cut) for cut in WAYS))
    assert one.squareness.u > 1.4 * both.squareness.u


def test_without_diagonals_lost_motion_and_the_cutter_cannot_be_told_apart():
    shop = Shop(FAULTS)
    found = of(shop, *(shop.condition(cut=cut, figures="x y") for cut in WAYS))
    assert (found.squareness, found.lost_motion_x, found.lost_motion_y) == (None, None, None)
    assert found.constants == (None, None)
    assert values(found)[:2] == pytest.approx((-8e-3, 4e-4), abs=1e-9)
    assert found.steady[0].value == pytest.approx(-0.11 - (0.03 + 0.012) / 2, abs=1e-9)


def test_equal_lost_motion_and_the_cutter_differ_between_axes_and_diagonals():
    shop = Shop(Faults(lost_x=0.02, lost_y=0.02))
    found = of(shop, shop.condition())
    assert (found.lost_motion_x.value, found.constants[0].value) == pytest.approx((0.02, 0.0), abs=1e-9)


def test_single_figures_cannot_tell_x_from_y_but_tell_what_stays():
    shop = Shop(FAULTS)
    found = of(shop, shop.condition(figures="diameter"))
    assert values(found) == (None,) * 5
    assert found.steady[0].value == pytest.approx(-0.11 - 0.021, abs=1e-9)


def test_a_cut_that_may_be_either_uses_the_diagonals_mean():
    """`any` hides the way round: squareness can't be told, lost motion against the cutter can."""
    shop = Shop(FAULTS)
    readings = tuple(shop.reading(size, "hole", cut) for size in (20.0, 50.0) for cut in WAYS)
    found = of(shop, Condition(1, "acetal", "hole", "any", readings=readings))
    assert found.squareness is None
    assert (found.lost_motion_x.value, found.lost_motion_y.value) == pytest.approx((0.03, 0.012), abs=1e-9)


def test_conditions_of_one_tool_share_the_machine_and_keep_their_constants():
    shop = Shop(FAULTS)
    other = Shop(dataclasses.replace(FAULTS, constant=0.07))
    found = of(shop, shop.condition(sizes=(20.0, 50.0)), other.condition("boss", "climb", sizes=(30.0,)))
    assert [one.value for one in found.constants] == pytest.approx([-0.11, 0.07], abs=1e-9)


def test_grain_is_told_from_the_axes_by_a_sheet_that_was_turned():
    shop = Shop(dataclasses.replace(FAULTS, grain=0.02))
    sizes = (20.0, 50.0)
    readings = tuple(shop.reading(s, "hole", "climb", turned=t) for s in sizes for t in (False, True, False))
    found = of(shop, Condition(1, "oak", "hole", "climb", readings=readings))
    assert values(found) == pytest.approx(truth(FAULTS), abs=1e-9)
    plain = tuple(reading for reading in readings if not reading.note)
    blind = of(shop, Condition(1, "oak", "hole", "climb", readings=plain))
    assert abs(blind.lost_motion_x.value - 0.03) > 0.005, "without turning it is taken for play"


def test_flat_jaws_are_corrected_for():
    true = Reading(5.0, 5.0, 5.0)
    shown = [
        replace(true, x=(5.0**2 - w**2) ** 0.5, y=(5.0**2 - w**2) ** 0.5, jaw_width=w) for w in (0.3, 0.7)
    ]
    small = Tool(1, "2 mm", 2.0)
    shop = Shop(Faults(), tool=small)
    big = replace(true, programmed=9.0, x=9.0, y=9.0)
    found = of(shop, Condition(1, "acetal", "hole", "climb", readings=(*shown, big)))
    assert found.steady[0].value == pytest.approx(0.0, abs=1e-9)


def test_u_is_not_told_without_repeats_or_without_an_instrument():
    shop = Shop(FAULTS, 0.01, 0.01)
    found = of(shop, shop.condition(sizes=(20.0, 50.0), figures="x y"))
    assert found.scale_x.u is None and found.scale_x.why == "scatter" and found.scale_x.expanded is None
    condition = shop.condition(repeat=2)
    bare = tuple(replace(reading, instrument=None) for reading in condition.readings)
    found = of(shop, replace(condition, readings=bare))
    assert found.constants[0].u is None and found.constants[0].why == "instrument"
    assert found.scale_x.u is not None, "a bias of the instrument is in all readings alike"


def test_only_readings_of_the_bit_that_is_fitted_count():
    shop = Shop(FAULTS)
    condition = shop.condition()
    new = tuple(replace(reading, date=date(2026, 10, 1)) for reading in condition.readings)
    old = tuple(replace(r, x=r.x - 1.0, date=date(2026, 9, 1)) for r in condition.readings)
    found = of(shop, replace(condition, readings=(*old, *new), fitted=date(2026, 9, 15)))
    assert values(found) == pytest.approx(truth(FAULTS), abs=1e-9)


def test_tools_of_no_one_diameter_and_empty_conditions_are_no_trouble():
    assert diagnose(Shop(FAULTS, tool=replace(TOOL, form="vee")).table(Shop(FAULTS).condition())) == ()
    found = of(Shop(FAULTS), Condition(1, "acetal", "hole", "climb"))
    assert values(found) == (None,) * 5 and found.constants == (None,)


LADDERS = {
    "both ways round, hole and boss": {"sides": ("hole", "boss"), "repeat": 1},
    "both ways round, holes twice": {"sides": ("hole",), "repeat": 2},
}


@pytest.mark.parametrize("name", LADDERS)
def test_u_holds_the_truth_in_19_of_20_machines(name):
    """200 machines, faults, noise and the caliper's bias drawn anew; as many within U as 95 % may give."""
    sides, repeat = LADDERS[name]["sides"], LADDERS[name]["repeat"]
    hits = np.zeros(6)
    for seed in range(200):
        chance = np.random.default_rng((seed, 11))
        faults = Faults(
            *chance.normal(0.0, 1e-3, 3), *abs(chance.normal(0.0, 0.03, 2)), chance.normal(0.0, 0.1)
        )
        shop = Shop(faults, 0.015, 0.01, chance.uniform(-0.03, 0.03), seed)
        found = of(shop, *(shop.condition(side, cut, repeat=repeat) for side in sides for cut in WAYS))
        shared = [getattr(found, key) for key in KEYS]
        for place, (estimate, true) in enumerate(
            zip([*shared, found.constants[0]], [*truth(faults), faults.constant], strict=True)
        ):
            hits[place] += abs(estimate.value - true) <= estimate.expanded
    least = scipy.stats.binom.ppf(0.002, 200, 0.95)
    assert (hits >= least).all(), hits
    assert hits[:5].mean() < 199, "U is no wider than it must be"


def test_figures_of_one_cut_are_no_repeats():
    """Where whole cuts scatter and figures don't, four figures a cut make no mean four times as sure."""
    shop = Shop(Faults(), 0.05, 0.0005, seed=3)
    found = of(shop, *(shop.condition(cut=cut, repeat=2) for cut in WAYS))
    assert found.scale_x.u > 20 * (found.squareness.u / 4), "cuts scatter far more than diagonals of one cut"
    assert found.squareness.u * 25 < 0.003


def test_what_cannot_be_told_is_named_whatever_the_columns_are_scaled_by():
    rows = np.array([[1.0, 1.0, 0.0], [2.0, 2.0, 1.0], [3.0, 3.0, 5.0]]) * (1e-6, 1.0, 1e6)
    fit = least_squares(rows, [1.0, 2.0, 3.0], np.ones(3))
    assert [fit.tells(one) for one in np.eye(3)] == [False, False, True]
    assert fit.tells([1e-6, 1.0, 0.0]), "their sum is told"
    assert fit.leverage.sum() == pytest.approx(2.0)

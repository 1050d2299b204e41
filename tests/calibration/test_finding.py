"""The sentences of a diagnosis: the machine's cure first, no wood blamed, and what cut would tell more."""

import pytest
from msgspec.structs import replace

from faulty_machine import TOOL, WAYS, Faults, Shop
from roundwright.calibration import Condition
from roundwright.calibration.diagnosis import diagnose
from roundwright.calibration.finding import condition_findings, machine_findings


def findings(shop, *conditions, inch=False):
    table = shop.table(*conditions, inch=inch)
    (diagnosis,) = diagnose(table)
    return " ".join(machine_findings(diagnosis, table)), [
        " ".join(condition_findings(diagnosis, place, table)) for place in range(len(conditions))
    ]


def both_ways(shop, **how):
    return [shop.condition(cut=cut, **how) for cut in WAYS]


def test_a_scale_error_is_what_a_square_would_measure():
    shop = Shop(Faults(scale_x=-8e-3))
    said, _ = findings(shop, *both_ways(shop))
    assert "A 300 mm square would measure 297.6 along X" in said
    assert "First set the axis" in said and said.index("set the axis") < said.index("correct circles after")
    assert "along Y" not in said
    inches, _ = findings(shop, *both_ways(shop), inch=True)
    assert "A 12 in square would measure 11.904 along X" in inches


@pytest.mark.parametrize("material", ["birch ply", "mdf", "oak", "ironwood", "something"])
def test_in_what_may_be_wood_no_axis_is_blamed_without_a_turned_sheet(material):
    shop = Shop(Faults(scale_x=-8e-3, lost_x=0.05))
    said, _ = findings(shop, *both_ways(shop, material=material))
    assert said.count("before you blame X, measure a square") == 2 and "First" not in said
    turned = tuple(shop.reading(size, "hole", "climb", turned=True) for size in (20.0, 40.0))
    conditions = [*both_ways(shop, material=material)]
    conditions[0] = replace(conditions[0], readings=(*conditions[0].readings, *turned))
    said, _ = findings(shop, *conditions)
    assert "blame" not in said and "First set the axis" in said


@pytest.mark.parametrize(
    ("lean", "longer", "way"), [(1e-3, "origin", "towards"), (-1e-3, "across", "away from")]
)
def test_squareness_is_what_the_diagonals_of_a_square_differ_by(lean, longer, way):
    shop = Shop(Faults(squareness=lean))
    said, _ = findings(shop, *both_ways(shop))
    assert f"Y leans 1.00 mrad {way} X: the diagonals of a 300 mm square would differ by 0.424" in said
    assert f"{longer} the longer" in said and "square the frame first" in said


def test_lost_motion_is_what_a_dial_gauge_shows():
    shop = Shop(Faults(lost_x=0.05, lost_y=-0.02))
    said, _ = findings(shop, *both_ways(shop))
    assert "X loses 0.05 mm" in said and "First take up the play" in said
    assert "Y goes 0.02 mm" in said and "lower that setting first" in said


def test_what_stays_is_held_against_the_measured_tool():
    hole = Shop(Faults(constant=-0.1))
    _, (said, _) = findings(hole, *both_ways(hole))
    assert "a cutter of 5.9 where programs assume 6 mm would do that" in said and "`measured`" in said
    boss = Shop(Faults(constant=0.1))
    _, (said, _) = findings(boss, *both_ways(boss, side="boss"))
    assert "a cutter of 5.9 where programs assume 6 mm" in said, "a thin cutter leaves a boss large"
    for side, constant in (("hole", -0.1), ("boss", 0.1)):
        thin = Shop(Faults(constant=constant), tool=replace(TOOL, measured=5.9))
        _, (said, _) = findings(thin, *both_ways(thin, side=side))
        assert "the tool measures 5.9 where programs assume 6 mm, and that explains it" in said
    worn = Shop(Faults(constant=-0.3), tool=replace(TOOL, measured=5.9))
    _, (said, _) = findings(worn, *both_ways(worn))
    assert "explains -0.1 mm of it; the rest, -0.2 mm, is the cutter's bending" in said


def test_without_diagonals_it_asks_for_a_micrometer_and_for_diagonals():
    shop = Shop(Faults(constant=-0.1))
    machine, (said, _) = findings(shop, *both_ways(shop, figures="x y"))
    assert "-0.1 mm, whatever the size" in said and "can't tell which" in said
    assert "measure along them too (d45, d135)" in machine


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"sizes": (20.0,)}, ("One diameter cannot tell", "about 60 mm")),
        ({"sizes": (90.0,)}, ("One diameter cannot tell", "about 30 mm")),
        ({"figures": "diameter"}, ("Single figures can't tell X from Y",)),
        ({"sizes": (20.0,)}, ("cut one way round", "conventional too")),
        ({"sizes": (20.0,), "cut": "conventional"}, ("cut one way round", "climb too")),
        ({"figures": "x y", "sizes": (20.0, 50.0)}, ("cut and measure the same circles again",)),
    ],
)  # fmt: skip
def test_what_cannot_be_told_is_named_with_the_cut_that_would_tell(how, words):
    shop = Shop(Faults(scale_x=1e-3), 0.01, 0.01)
    said, _ = findings(shop, shop.condition(**how))
    assert all(word in said for word in words), said


def test_an_any_condition_is_asked_which_way_round():
    shop = Shop(Faults())
    readings = tuple(shop.reading(size, "hole", "climb") for size in (20.0, 50.0))
    said, _ = findings(shop, Condition(1, "acetal", "hole", "any", readings=readings))
    assert "make conditions for climb and conventional instead of any" in said


def test_no_instrument_is_named():
    shop = Shop(Faults(), 0.01, 0.01)
    condition = shop.condition(repeat=2)
    bare = tuple(replace(reading, instrument=None) for reading in condition.readings)
    said, _ = findings(shop, replace(condition, readings=bare))
    assert "name no instrument" in said


@pytest.mark.parametrize("faults", [Faults(), Faults(-8e-3, 1e-3, 1e-3, 0.05, 0.02, -0.1)])
@pytest.mark.parametrize("figures", ["x y d45 d135", "x y", "diameter"])
@pytest.mark.parametrize("sizes", [(20.0,), (20.0, 40.0)])
def test_nobody_is_told_that_anything_is_round(faults, figures, sizes):
    shop = Shop(faults, 0.005, 0.005)
    said, more = findings(shop, *both_ways(shop, figures=figures, sizes=sizes, repeat=2))
    for sentence in (said, *more):
        assert "is round" not in sentence and "are round" not in sentence
    if faults == Faults() and sizes == (20.0, 40.0) and figures != "diameter":
        assert "do not prove the shape" in said


def test_a_condition_without_readings_is_told_so():
    shop = Shop(Faults())
    said, more = findings(shop, Condition(1, "acetal", "hole", "climb"))
    assert said == "" and "No readings to judge by" in more[0]

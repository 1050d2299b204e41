"""Every circle has its place, and what does not fit the stock or the tool is refused in plain words."""

from itertools import combinations
from math import dist

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from coupons import QUARTER, SIX, both, inches
from roundwright.calibration import Tool
from roundwright.coupon import lay_out
from roundwright.coupon.layout import EDGE, reach_of
from roundwright.errors import SettingsError


def check_room(layout):
    """A cutter diameter between any two circles, and to the edges as much and a margin."""
    recipe = layout.recipe
    cutter = recipe.tool.diameter
    for one, other in combinations(layout.spots, 2):
        between = dist(one.centre, other.centre) - reach_of(recipe, one) - reach_of(recipe, other)
        assert between >= cutter - 1e-6, (one, other)
    for spot in layout.spots:
        for at, size in zip(spot.centre, recipe.stock, strict=False):
            room = min(at, size - at) - reach_of(recipe, spot)
            assert room >= cutter + EDGE - 1e-6, spot


@pytest.mark.parametrize("recipe", [SIX, QUARTER, both(SIX, repeat=2), both(QUARTER, repeat=2)])
def test_the_circles_asked_for_are_there_with_room_between_them(recipe):
    layout = lay_out(recipe)
    check_room(layout)
    wanted = len(recipe.diameters) * len(recipe.sides) * len(recipe.cuts) * recipe.repeat
    assert len(layout.spots) == wanted
    assert [spot.id for spot in layout.spots] == [f"C{k + 1}" for k in range(wanted)]
    for diameter in recipe.diameters:
        assert sum(spot.diameter == diameter for spot in layout.spots) == wanted // len(recipe.diameters)


@given(
    diameters=st.lists(st.integers(14, 120), min_size=1, max_size=6, unique=True),
    sides=st.sampled_from([("hole",), ("boss",), ("hole", "boss")]),
    repeat=st.integers(1, 3),
    stock=st.tuples(st.integers(50, 900), st.integers(50, 900)),
)
def test_whatever_fits_has_room_and_the_rest_is_refused(diameters, sides, repeat, stock):
    recipe = replace(
        SIX,
        diameters=tuple(d / 2 for d in diameters),
        sides=sides,
        repeat=repeat,
        stock=(*map(float, stock), 18.0),
    )
    try:
        layout = lay_out(recipe)
    except SettingsError as error:
        assert "stock" in error.what and error.cure
    else:
        check_room(layout)


def test_repeats_lie_apart_where_there_is_room():
    layout = lay_out(replace(SIX, repeat=2))
    pairs = [[s for s in layout.spots if s.diameter == d] for d in SIX.diameters]
    assert all(dist(a.centre, b.centre) > 2 * a.diameter for a, b in pairs)


def test_centres_are_round_numbers():
    for recipe, grid in ((both(SIX), 0.5), (both(QUARTER), inches(0.02))):
        for spot in lay_out(recipe).spots:
            assert all(abs(at / grid - round(at / grid)) < 1e-6 for at in spot.centre)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"diameters": (6.0, 20.0)}, "a hole of 6 mm cannot be cut with a tool of 6 mm"),
        ({"diameters": (5.0,)}, "a hole of 5 mm cannot be cut"),
        ({"diameters": (6.3,)}, "no room to wind in"),
        ({"diameters": ()}, "needs diameters"),
        ({"diameters": (20.0, 20.0)}, "20 mm is given twice"),
        ({"depth": 18.5}, "through a stock of 18 mm"),
        ({"sides": ("boss",), "depth": 17.5}, "would come loose"),
        ({"sides": ("boss",), "diameters": (2.5,)}, "may break off"),
        ({"sides": ("boss",), "diameters": (200.0,)}, "too large to be cleared"),
        ({"stepover": 6.0}, "a step-over of 6 mm does not suit a cutter of 6 mm"),
        ({"stepover": 0.01}, "does not suit"),
        ({"stock": (90.0, 60.0, 18.0)}, "3 circles need"),
        ({"stock": (40.0, 500.0, 18.0)}, "does not fit across a stock 40 mm long"),
        ({"tool": Tool(5, "engraver", 6.0, form="vee")}, "engraver is vee"),
        ({"feed": 0.0}, "more than nothing"),
        ({"safe_z": 0.5}, "a safe height of 0.5 mm is none"),
        ({"repeat": 400}, "too many"),
    ],
)
def test_what_does_not_fit_is_refused_in_plain_words(changes, words):
    with pytest.raises(SettingsError) as caught:
        lay_out(replace(SIX, **changes))
    assert words in str(caught.value)


def test_inch_coupons_are_refused_in_inches():
    with pytest.raises(SettingsError, match=r"a hole of 0\.25 in cannot be cut with a tool of 0\.25 in"):
        lay_out(replace(QUARTER, diameters=(inches(0.25),)))


def test_the_stock_that_a_refusal_asks_for_is_enough():
    small = both(SIX, stock=(300.0, 100.0, 18.0))
    with pytest.raises(SettingsError) as caught:
        lay_out(small)
    needed = float(caught.value.what.split(" need ")[1].split()[0])
    check_room(lay_out(replace(small, stock=(300.0, needed, 18.0))))

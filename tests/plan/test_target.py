"""Targets: what a feature is aimed at, which one, and how likely it lies within."""

import math

import numpy as np
import pytest
from scipy import stats

from fit_tables import FITS
from roundwright.calibration import open_table
from roundwright.errors import SettingsError
from roundwright.find import find_features
from roundwright.plan import Request, Writing, plan_corrections
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM3 S16000\nG0 Z5.000\n"
SIX = Cutter("six", 6.0, 1)
TABLE = """schema = "roundwright.table/1"
[machine]
name = "bench"
units = "mm"
{extra}
[[tool]]
number = 1
name = "six"
diameter = 6.0
[[instrument]]
name = "gauge"
limit = 0.003
"""
CONDITION = """[[condition]]
tool = 1
material = "birch ply"
side = "{side}"
cut = "any"
instrument = "gauge"
readings = [
{rows},
]
"""
#: x and y of repeated cuts; |x - y| is 0.004 at 10 and 0.008 at 30, so each end lies 0.002 and 0.004 out.
REPEATED = (
    (10.0, 9.898, 9.902), (10.0, 9.903, 9.907), (20.0, 19.873, 19.879), (20.0, 19.877, 19.883),
    (30.0, 29.846, 29.854), (30.0, 29.849, 29.857),
)  # fmt: skip
ONCE = ((10.0, 9.898, 9.902), (30.0, 29.846, 29.854))


def table(readings=REPEATED, extra="", sides=("hole", "boss"), single=False):
    rows = ",\n".join(
        f"  {{ programmed = {p}, diameter = {(x + y) / 2} }}"
        if single
        else f"  {{ programmed = {p}, x = {x}, y = {y} }}"
        for p, x, y in readings
    )
    return open_table(TABLE.format(extra=extra) + "".join(CONDITION.format(side=s, rows=rows) for s in sides))


def bore(x, diameter):
    r = (diameter - 6) / 2
    return f"G0 X{x} Y0\nG1 Z-3 F200\nG1 X{x + r} F600\nG3 I{-r}\nG1 X{x}\nG0 Z5\n"


def boss(x, diameter):
    r = (diameter + 6) / 2
    return f"G0 X{x + r + 8} Y0\nG1 Z-3 F200\nG1 X{x + r}\nG2 I{-r} F600\nG1 X{x + r + 8}\nG0 Z5\n"


TWO = bore(0, 20) + bore(60, 12)


def planned(body, targets, calibration=None, inch=False, **settings):
    head = HEAD.replace("G21", "G20") if inch else HEAD
    moves = trace_moves(read_program((head + body).encode(), "test.nc"))
    chosen = Settings(material="birch ply", targets=targets, **settings)

    def census(some, sided=()):
        return find_features(
            some, dict.fromkeys(range(len(some.sections)), SIX), Machine(), chosen, sided=sided
        )

    request = Request(calibration or table(), chosen.material, chosen, inch=inch, fits=FITS)
    return plan_corrections(moves, census(moves), request, census, Writing()).corrections


def test_a_diameter_is_met_exactly():
    first, second = planned(TWO, {"C1": "20.25"})
    assert first.corrected + first.expected_error == pytest.approx(20.25, abs=1e-12)
    assert first.change == pytest.approx(first.corrected - 20)
    assert (first.target.diameter, first.target.fit, first.probability) == (20.25, None, None)
    assert second.corrected + second.expected_error == pytest.approx(12.0, abs=1e-12)
    assert second.target is None


def test_a_unit_may_be_said():
    for value in ("0.8in", "20.32", "20.32mm", "4/5in"):
        assert planned(TWO, {"C1": value})[0].target.diameter == pytest.approx(20.32)
    (only,) = planned(bore(0, 6.5), {"C1": "0.74"}, inch=True)
    assert only.target.diameter == pytest.approx(0.74 * 25.4)


@pytest.mark.parametrize(
    ("value", "lower", "upper"), [("H8", 20.0, 20.033), ("P7", 19.965, 19.986), ("JS7", 19.9895, 20.0105)]
)
def test_the_middle_of_a_tolerance_is_met_exactly(value, lower, upper):
    first = planned(TWO, {"C1": value})[0]
    assert (first.target.lower, first.target.upper) == pytest.approx((lower, upper), abs=1e-9)
    assert (first.target.fit, first.target.nominal) == (value, 20.0)
    assert first.corrected + first.expected_error == pytest.approx((lower + upper) / 2, abs=1e-9)


def test_the_nominal_size_is_the_programmed_diameter_to_a_micrometre():
    (only,) = planned(bore(0, 20.0004), {"C1": "H8"})
    assert only.target.nominal == 20.0
    assert only.target.lower == 20.0


def test_a_boss_has_classes_in_small_letters():
    (only,) = planned(boss(0, 20), {"C1": "h9"})
    assert (only.feature.side, only.target.lower, only.target.upper) == ("boss", 19.948, 20.0)
    assert only.corrected + only.expected_error == pytest.approx(19.974)


@pytest.mark.parametrize(("body", "value", "cure"), [(boss(0, 20), "H9", "h9"), (bore(0, 20), "js7", "JS7")])
def test_a_class_of_the_other_side_is_refused(body, value, cure):
    with pytest.raises(SettingsError, match=f"C1 is a .*Write {cure}"):
        planned(body, {"C1": value})


def test_a_diameter_names_all_of_that_size_and_side():
    three = bore(0, 20) + boss(60, 20) + bore(120, 20) + bore(180, 12)
    got = planned(three, {"20.0": "H9"})
    assert [c.feature.side for c in got] == ["hole", "boss", "hole", "hole"]
    assert [c.target.fit if c.target else None for c in got] == ["H9", None, "H9", None]
    both = planned(three, {"20.0": "H9", "20": "h9"})
    assert [c.target.fit if c.target else None for c in both] == ["H9", "h9", "H9", None]


def test_an_id_comes_before_a_diameter_whatever_the_order():
    for targets in ({"20": "H9", "C1": "20.1"}, {"c1": "20.1", "20": "H9"}):
        assert planned(bore(0, 20) + bore(60, 20), targets)[0].target.diameter == 20.1


def test_two_targets_of_one_feature_are_refused_unless_they_are_the_same():
    with pytest.raises(SettingsError, match="C1 has two targets"):
        planned(TWO, {"20": "H9", "20.001": "H8"})
    assert planned(TWO, {"20": "H9", "20.0": "H9"})[0].target.fit == "H9"


@pytest.mark.parametrize("key", ["C3", "D1", "20.2", "13in"])
def test_a_key_that_names_nothing_is_refused_with_what_there_is(key):
    with pytest.raises(SettingsError, match=r"C1 \(hole 20.000 mm\), C2 \(hole 12.000 mm\)"):
        planned(TWO, {key: "H8"})


def test_a_key_for_a_program_without_features_is_refused():
    with pytest.raises(SettingsError, match="no circular feature"):
        planned("G1 X10 F100\n", {"C1": "H8"})


@pytest.mark.parametrize("value", ["H4", "Z9", "-20", "0", "wide", ""])
def test_a_value_without_sense_is_refused(value):
    with pytest.raises(SettingsError):
        planned(TWO, {"C1": value})


def test_a_feature_left_alone_stays_left_alone():
    open_circle = "G0 X30 Y0\nG1 Z-3 F200\nG3 I-30 F600\nG0 Z5\n"
    (unknown,) = planned(open_circle, {"C1": "H8"})
    assert (unknown.status, unknown.reason, unknown.target) == ("left-alone", "side-unknown", None)
    skipped = planned(TWO, {"C1": "H8"}, skip=("C1",))[0]
    assert (skipped.status, skipped.reason) == ("left-alone", "skipped")
    lacking = planned(TWO, {"C1": "H8"}, table(sides=("boss",)))[0]
    assert (lacking.reason, lacking.target.fit, lacking.probability) == ("no-calibration", "H8", None)


def test_limits_and_reach_are_asked_of_the_target():
    far = planned(TWO, {"C1": "23"})[0]
    assert far.reason == "over-limit"
    assert far.probability is None
    past = planned(bore(0, 32), {"C1": "33.1"}, limit=5.0)[0]
    assert past.reason == "out-of-range"
    assert planned(bore(0, 33.1), {"C1": "32.9"}, limit=5.0)[0].status == "corrected"


def test_a_deadband_does_not_hold_for_a_target():
    wide = table(extra="[limits]\ndeadband = 0.5\n")
    first, second = planned(TWO, {"C1": "20.2"}, wide)
    assert (first.status, second.status) == ("corrected", "on-size")


def test_a_target_that_comes_out_as_programmed_is_on_size():
    first = planned(TWO, {"C1": "19.878"})[0]
    assert first.status == "on-size"
    assert first.corrected == pytest.approx(20.0, abs=1e-9)


def test_sizes_corrected_by_hand_are_told_from_targets():
    odd = table(((10.0, 9.873, 9.873), (30.0, 29.873, 29.873)))
    assert planned(bore(0, 20.127), {"C1": "H8"}, odd)[0].reason == "looks-corrected"
    assert planned(bore(0, 20.127), {"C1": "20"}, odd)[0].status == "on-size"
    mixed = planned(bore(0, 20.127) + bore(60, 15.127), {"C1": "20.1"}, odd)
    assert [c.reason for c in mixed] == [None, "looks-corrected"]
    assert planned(bore(0, 20.05), {"C1": "20.177"}, odd)[0].status == "corrected"


def test_the_probability_agrees_with_scipy():
    """The budget by hand: scatter, mean, instrument, bend; Student's t, freedom cut down to whole."""
    first = planned(TWO, {"C1": "H8"})[0]
    x = first.corrected
    pairs = ((-0.100, -0.095), (-0.124, -0.120), (-0.150, -0.147))
    scatter = math.sqrt(np.mean([np.var(pair, ddof=1) for pair in pairs]))
    share = (x - 20) / 10
    repeats = math.hypot(scatter, scatter * math.hypot(share, 1 - share) / math.sqrt(2))
    instrument = 0.003 / math.sqrt(3)
    bend = 1e-5 * (x - 20) * (30 - x) / math.sqrt(3)
    standard = math.hypot(repeats, instrument, bend)
    freedom = math.floor(standard**4 / (repeats**4 / 3))
    assert first.uncertainty == pytest.approx(standard * stats.t.ppf(0.975, freedom), abs=1e-9)
    ovality = 0.003 + share * 0.001
    assert first.ovality == pytest.approx(ovality, abs=1e-9)
    law = stats.t(freedom, loc=20.0165, scale=standard)
    within = law.cdf(20.033 - ovality) - law.cdf(20.0 + ovality)
    assert first.probability == pytest.approx(within, abs=1e-9)
    assert first.doubt == ""


def test_a_wider_tolerance_is_likelier():
    shares = [planned(TWO, {"C1": value})[0].probability for value in ("H6", "H7", "H8", "H9", "H11")]
    assert shares == sorted(shares)
    assert shares[0] < 0.9 < shares[-1]


def test_without_repeats_it_cannot_be_told():
    first = planned(TWO, {"C1": "H8"}, table(ONCE))[0]
    assert first.status == "corrected"
    assert first.probability is None
    assert "cut and measured twice" in first.doubt


def test_single_figures_cannot_tell_how_far_it_is_out_of_round():
    first = planned(TWO, {"C1": "H8"}, table(single=True))[0]
    assert first.ovality is None
    assert 0 < first.probability < 1
    assert "taken for round" in first.doubt


def test_what_a_short_curve_hides_is_said():
    first = planned(TWO, {"C1": "H8"}, table(REPEATED[:2] + REPEATED[4:]))[0]
    assert "only two diameters" in first.doubt


def test_what_is_refused_afterwards_has_no_probability():
    thin = bore(0, 20) + bore(20.1, 20)
    got = planned(thin, {"20": "H8"})
    assert [c.reason for c in got] == ["would-collide", "would-collide"]
    assert [(c.probability, c.doubt) for c in got] == [(None, ""), (None, "")]

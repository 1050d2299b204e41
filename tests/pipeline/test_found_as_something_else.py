"""What would be taken for something else as it is written is left alone; the other circles are corrected."""

from __future__ import annotations

from random import Random

import pytest

from hostile_programs import TABLE as SHOP
from hostile_programs import bores
from roundwright.calibration import open_table
from roundwright.errors import NotFoundAgain
from roundwright.pipeline import correct
from roundwright.prove import found
from roundwright.settings import Settings
from strategies import programs

CONDITION = """\
[[condition]]
tool = {tool}
material = "ply"
side = "{side}"
cut = "any"
readings = [{{ programmed = 10.0, diameter = {small} }}, {{ programmed = 60.0, diameter = {large} }}]
"""
#: every tool of 6 mm, whatever the program's comments say of them.
TABLE = (
    'schema = "roundwright.table/1"\n[machine]\nname = "m"\nunits = "mm"\n[defaults]\nmaterial = "ply"\n'
    + "".join(
        f"[[tool]]\nnumber = {tool}\ndiameter = 6.0\n"
        + CONDITION.format(tool=tool, side="hole", small=9.9, large=59.8)
        + CONDITION.format(tool=tool, side="boss", small=10.12, large=60.2)
        for tool in range(21)
    )
)


def run():
    return correct(programs(Random(15)).data, "drawn.nc", open_table(TABLE, "m.toml"), Settings())


def test_a_clearing_ring_that_rounding_makes_a_wall_holds_back_its_feature_alone():
    outcome = run()
    barred = [one for one in outcome.plan.corrections if "taken for something else" in one.why]
    assert [(one.status, one.reason) for one in barred] == [("left-alone", "would-cut-air")]
    assert sum(one.status == "corrected" for one in outcome.plan.corrections) >= 1
    assert outcome.output is not None and barred[0].feature.id not in outcome.plan.touched


def test_a_refusal_for_which_no_corrected_feature_answers_stays_one(monkeypatch):
    monkeypatch.setattr(found, "_suspects", lambda expected, again: ())
    with pytest.raises(NotFoundAgain, match="expected the features"):
        run()


def test_all_that_is_not_found_as_planned_is_held_back_at_once(monkeypatch):
    odd, looks = {"C2", "C4"}, []

    def mismatch(correction, feature, most):
        looks.append(correction.feature.id)
        return "a wall of its own" if correction.status == "corrected" and feature.id in odd else ""

    monkeypatch.setattr(found, "mismatch", mismatch)
    outcome = correct(bores(700), "bores.nc", open_table(SHOP, "shop.toml"), Settings())
    held = [one.feature.id for one in outcome.plan.corrections if one.reason == "would-cut-air"]
    assert set(held) == odd and len(looks) == 2 * len(outcome.plan.corrections)
    assert all(one.status == "corrected" for one in outcome.plan.corrections if one.feature.id not in odd)

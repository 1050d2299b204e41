"""From an empty table through coupon, cut, measure and correct to a job that measures right."""

from __future__ import annotations

import json
import random

import pytest

import outcomes
from command import run
from coupons import CUT_INCH, CUT_MM
from roundwright.calibration import open_table
from roundwright.units import native

CUT = {"mm": CUT_MM, "in": CUT_INCH}
EMPTY = """\
# Nothing measured yet.
schema = "roundwright.table/1"
[machine]
name = "shop-router"
units = "{unit}"
[defaults]
material = "birch ply"
[[tool]]
number = 1
diameter = {tool}
[[instrument]]
name = "caliper"
limit = {limit}
"""
SCATTER = 0.004  # mm


def machine_error(side: str, diameter: float) -> float:
    """What the hidden machine does, mm: holes small, bosses large, more so the larger they are."""
    return (-1 if side == "hole" else 1) * (0.08 + 0.002 * diameter)


def cut_and_measure(folder, program: str, inch: bool, dice: random.Random) -> dict[str, float]:
    """Cut the program as it stands; the errors in mm, by id, and their readings in readings.csv."""
    listed = run(
        "correct", "--dry-run", "--diameter", "1=6mm" if not inch else "1=0.25in", "--format", "json", program
    )
    assert listed.status == 0, listed.err
    rows, errors = ["id,x,y,instrument"], {}
    for feature in json.loads(listed.out)["features"]:
        programmed = feature["diameter"]
        result = programmed + machine_error(feature["side"], programmed) + dice.gauss(0, SCATTER)
        x, y = (native(result + off, inch=inch) for off in (0.005, -0.005))
        rows.append(f"{feature['id']},{x:.6f},{y:.6f},caliper")
        errors[feature["id"]] = result - programmed
    (folder / "readings.csv").write_text("\n".join(rows) + "\n")
    return errors


def measured(record: str, cut: str) -> None:
    result = run(
        *("measure", record, "-t", "router.toml", "--csv", "readings.csv", "--cut-file", cut),
        "--keep-doubtful",
    )
    assert result.status == 0, result.err


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_morning_s_work_makes_the_next_job_right(shop, unit):
    inch = unit == "in"
    dice = random.Random(7)
    empty = EMPTY.format(unit=unit, tool=0.25 if inch else 6.0, limit=0.0004 if inch else 0.01)
    (shop / "router.toml").write_text(empty)
    ladder, stock = ("0.4,0.8,1.5", "20,16,0.75") if inch else ("10,20,40", "500,400,18")
    coupon = (
        "coupon",
        "-t",
        "router.toml",
        "--tool",
        "1",
        "--diameters",
        ladder,
        "--side",
        "both",
        *CUT[unit],
    )
    made = run(*coupon, "--stock", stock, "-o", "coupon.nc", "--record", "coupon.json")
    assert made.status == 0, made.err

    before = cut_and_measure(shop, "coupon.nc", inch, dice)
    measured("coupon.json", "coupon.nc")
    text = (shop / "router.toml").read_text()
    assert text.startswith(empty), "comments and layout stay"
    assert [c.label for c in open_table(text).conditions] == [
        "T1 / birch ply / hole / climb",
        "T1 / birch ply / boss / climb",
    ]

    job = ("correct", "-t", "router.toml", "--record", "job.json", "-o", "cut.nc", "coupon.nc")
    assert run(*job).status == 0
    record = json.loads((shop / "job.json").read_text())
    cut_and_measure(shop, "cut.nc", inch, dice)
    rows = (shop / "readings.csv").read_text().splitlines()[1:]
    x = {row.split(",")[0]: float(row.split(",")[1]) * (25.4 if inch else 1.0) - 0.005 for row in rows}
    after = {f["id"]: x[f["id"]] - f["target"] for f in record["features"]}
    assert len(after) == len(before) == 12
    worst = max(abs(error) for error in after.values())
    assert worst < 6 * SCATTER < min(abs(error) for error in before.values())


def test_readings_of_a_job_land_where_it_was_programmed_and_serve_the_next_one(shop):
    dice = random.Random(8)
    text = EMPTY.format(unit="mm", tool=6.0, limit=0.01)
    (shop / "router.toml").write_text(
        text
        + '[[condition]]\ntool = 1\nmaterial = "birch ply"\nside = "hole"\ncut = "climb"\nreadings = [\n'
        + "  { programmed = 20.0, diameter = 19.9 },  # the first day\n]\n"
    )
    (shop / "panel.nc").write_text(outcomes.HEAD + outcomes.pocket(50, 40, (2, 4.5, 7)) + "M30\n")
    job = ("correct", "-t", "router.toml", "--record", "job.json", "-o", "cut.nc", "panel.nc")
    first = run(*job)
    assert first.status == 0, first.err
    programmed = json.loads((shop / "job.json").read_text())["features"][0]["programmed"]
    assert programmed == pytest.approx(20.1)

    cut_and_measure(shop, "cut.nc", False, dice)
    measured("job.json", "cut.nc")
    readings = open_table((shop / "router.toml").read_text()).conditions[0].readings
    assert [r.programmed for r in readings] == [20.0, 20.1]
    assert "# the first day" in (shop / "router.toml").read_text()

    assert run(*job).status == 0
    second = json.loads((shop / "job.json").read_text())["features"][0]["programmed"]
    wanted = 20.0 - machine_error("hole", 20.12)
    assert abs(second - wanted) < abs(programmed - wanted), "the next job knows more"


def test_many_jobs_keep_the_table_usable(shop):
    """Readings pile up at nearly the same diameter; the correction stays, and stays right."""
    dice = random.Random(9)
    (shop / "router.toml").write_text(EMPTY.format(unit="mm", tool=6.0, limit=0.01))
    coupon = ("coupon", "-t", "router.toml", "--tool", "1", "--diameters", "10,20,40", *CUT["mm"])
    assert run(*coupon, "--stock", "300,200,18", "-o", "coupon.nc", "--record", "coupon.json").status == 0
    cut_and_measure(shop, "coupon.nc", False, dice)
    measured("coupon.json", "coupon.nc")
    (shop / "panel.nc").write_text(
        outcomes.HEAD + "".join(outcomes.pocket(50 + 60 * k, 40, (2, 4.5, 7)) for k in range(3)) + "M30\n"
    )
    for _ in range(5):
        job = ("correct", "-t", "router.toml", "--strict", "--record", "job.json", "-o", "cut.nc", "panel.nc")
        done = run(*job)
        assert done.status == 0, done.err
        for feature in json.loads((shop / "job.json").read_text())["features"]:
            programmed = feature["programmed"]
            result = programmed + machine_error("hole", programmed)
            assert result == pytest.approx(20.0, abs=4 * SCATTER)
        cut_and_measure(shop, "cut.nc", False, dice)
        measured("job.json", "cut.nc")

"""The samples: tables that check, and a dry run that lists exactly what the drawing shows."""

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest

from cases import ROOT, all_cases
from command import run
from roundwright.calibration import problems

FOLDER = ROOT / "samples"
SAMPLES = [case for case in all_cases() if case.name.startswith("sample-")]


def drawing():
    """The drawing table of samples/README.md: rows of program, feature, X, Y, diameter, side, cut, depth."""
    rows = re.findall(
        r"^\| (\S+\.nc) \| (.+) \|$", (FOLDER / "README.md").read_text(encoding="utf-8"), re.MULTILINE
    )
    return [(name, *(cell.strip() for cell in rest.split("|"))) for name, rest in rows]


@pytest.mark.parametrize("case", SAMPLES, ids=lambda case: case.name)
def test_dry_run_lists_exactly_the_features_drawn(case):
    drawn = [row for row in drawing() if row[0] == case.program.name]
    found = [c.feature for c in case.list().plan.corrections]
    assert len(drawn) == len(found) > 0
    unit = 25.4 if case.outcome.moves.states[-1].inch else 1.0
    for (_, name, x, y, diameter, side, cut, depth), feature in zip(drawn, found, strict=True):
        assert feature.wall.centre == pytest.approx((float(x) * unit, float(y) * unit), abs=2e-3), name
        assert feature.diameter == pytest.approx(float(diameter) * unit, abs=2e-3), name
        assert (feature.side, feature.cut) == (side, cut), name
        assert feature.wall.z[1] == pytest.approx(-float(depth) * unit, abs=1e-6), name


def test_the_samples_show_corrections_with_and_without_uncertainty():
    corrections = [c for case in SAMPLES for c in case.outcome.plan.corrections]
    assert {c.status for c in corrections} == {"corrected"}
    assert {c.uncertainty is None for c in corrections} == {True, False}


@pytest.mark.parametrize("table", sorted(FOLDER.glob("shop-*.toml")), ids=lambda path: path.stem)
def test_tables_have_nothing_wrong(table):
    found = problems(table.read_text(encoding="utf-8"), table.name)
    assert [p for p in found if p.level == "wrong"] == []


def test_every_sample_is_in_the_page():
    page = (FOLDER / "README.md").read_text(encoding="utf-8")
    files = [path for path in FOLDER.iterdir() if path.suffix in (".nc", ".toml", ".json", ".csv")]
    assert len(files) >= 8
    assert all(f"`{path.name}`" in page for path in files)


def test_line_ends_are_those_that_the_page_says():
    ends = {path.name: b"\r\n" in Path(path).read_bytes() for path in FOLDER.glob("*.nc")}
    assert ends == {
        "bearing-block.nc": False,
        "bearing-block-inch.nc": True,
        "jig-plate.nc": False,
        "beech-coupon.nc": False,
    }


@pytest.fixture
def copied(tmp_path, monkeypatch):
    """A folder with the samples, seen as their page sees them, and a copy of the router's table."""
    shutil.copytree(FOLDER, tmp_path / "samples")
    shutil.copy(FOLDER / "shop-router.toml", tmp_path / "router.toml")
    monkeypatch.chdir(tmp_path)
    return tmp_path


#: what the page of the morning types, with the sample's own names.
MEASURE = (
    *("measure", "samples/beech-coupon.json", "-t", "router.toml"),
    *("--csv", "samples/beech-readings.csv", "--cut-file", "samples/beech-coupon.nc"),
)


def test_the_coupon_and_its_record_are_what_the_page_s_command_writes(copied):
    page = (FOLDER / "README.md").read_text(encoding="utf-8")
    (line,) = re.findall(r"^ {4}roundwright (coupon .*)$", page, re.MULTILINE)
    done = run(*shlex.split(line))
    assert done.status == 0, done.err
    for name in ("beech-coupon.nc", "beech-coupon.json"):
        assert (copied / name).read_bytes() == (copied / "samples" / name).read_bytes(), name


def test_the_coupon_s_readings_make_the_table_serve_beech(copied):
    job = (
        "correct",
        "-t",
        "router.toml",
        "-m",
        "beech",
        "--dry-run",
        "--format",
        "json",
        "samples/bearing-block.nc",
    )
    before = json.loads(run(*job).out)["features"]
    assert {feature["reason"] for feature in before} == {"no-calibration"}
    text = (copied / "router.toml").read_text(encoding="utf-8")
    done = run(*MEASURE)
    assert done.status == 0 and "12 readings added" in done.err, done.err
    assert "warning" not in done.err
    assert (copied / "router.toml").read_text(encoding="utf-8").startswith(text)
    after = json.loads(run(*job).out)["features"]
    assert {f["status"] for f in after if f["side"] == "hole"} == {"corrected"}
    assert {f["reason"] for f in after if f["side"] == "boss"} == {"no-calibration"}
    assert all(f["correction"]["expanded_uncertainty"] for f in after if f["side"] == "hole")


def test_the_coupon_s_readings_show_the_fault_that_the_page_names(copied):
    assert run(*MEASURE).status == 0
    said = " ".join(run("diagnose", "-t", "router.toml").out.decode().split())
    losses = {axis: float(amount) for axis, amount in re.findall(r"- ([XY]) loses ([0-9.]+) mm", said)}
    assert losses["X"] > losses.get("Y", 0.0) > 0
    assert "cut the same circles with the sheet turned by 90 degrees" in said, "it is wood"

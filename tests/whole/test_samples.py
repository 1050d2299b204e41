"""The samples: tables that check, and a dry run that lists exactly what the drawing shows."""

import re
from pathlib import Path

import pytest

from cases import ROOT, all_cases
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
    files = [path for path in FOLDER.iterdir() if path.suffix in (".nc", ".toml")]
    assert len(files) >= 5
    assert all(f"`{path.name}`" in page for path in files)


def test_line_ends_are_those_that_the_page_says():
    ends = {path.name: b"\r\n" in Path(path).read_bytes() for path in FOLDER.glob("*.nc")}
    assert ends == {"bearing-block.nc": False, "bearing-block-inch.nc": True, "jig-plate.nc": False}

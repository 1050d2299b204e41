"""`roundwright coupon`: program, record and sheet come out together or not at all."""

from __future__ import annotations

import json
import re
import shlex
from html.parser import HTMLParser

import jsonschema
import pytest

import command
from command import run
from coupons import CUT_INCH, CUT_MM
from roundwright.shared import shared_text
from source_tree import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
PLAIN = (
    *("coupon", "-t", "router.toml", "--tool", "1", "--diameters", "10,20,35", *CUT_MM),
    *("--stock", "300,200,18", "-o", "coupon.nc", "--record", "coupon.json"),
)
SHEET = (*PLAIN, "--sheet", "coupon.html")


def refused(shop, *arguments, status=1, words=""):
    """Nothing comes out but one plain message."""
    before = {path.name: path.read_bytes() for path in shop.iterdir()}
    result = run(*arguments)
    assert (result.status, result.out) == (status, b""), result
    assert words in " ".join(result.err.split())
    assert "Traceback" not in result.err
    assert {path.name: path.read_bytes() for path in shop.iterdir()} == before


def changed(option, value, base=PLAIN):
    """The same command with another value of an option, or with one more option."""
    words = list(base)
    if option in words:
        words[words.index(option) + 1] = value
        return words
    return [*words, option, value]


def test_program_record_and_sheet_come_out_together(shop):
    result = run(*SHEET)
    assert result.status == 0, result.err
    assert result.out == b""
    assert "6 circles" in result.err and "run it in the air first" in result.err
    record = json.loads((shop / "coupon.json").read_text())
    jsonschema.validate(record, json.loads(shared_text("schemas", "roundwright.record-1.json")))
    assert record["table"] == {"name": "shop-router", "file": "router.toml"}
    listed = run("correct", "-t", "router.toml", "-n", "--format", "json", "coupon.nc")
    found = json.loads(listed.out)
    assert found["program"]["sha256"] == record["program"]["sha256"]
    assert [f["id"] for f in found["features"]] == [f["id"] for f in record["features"]]


def test_the_readme_s_coupon_is_written(shop):
    line = re.search(r"^    roundwright (coupon .*)$", README, re.MULTILINE)
    result = run(*shlex.split(line[1]))
    assert result.status == 0, result.err
    assert all((shop / f"coupon.{kind}").exists() for kind in ("nc", "json", "html"))


def test_an_inch_table_takes_and_writes_inches(shop):
    text = command.TABLE.replace('"mm"', '"in"').replace("diameter = 6.0", "diameter = 0.25")
    (shop / "inch.toml").write_text(text)
    result = run(
        *("coupon", "-t", "inch.toml", "--tool", "1", "--diameters", "3/8in,0.75,38.1mm", *CUT_INCH),
        *("--stock", "12,8,0.75", "-o", "coupon.nc", "--record", "coupon.json", "--sheet", "coupon.html"),
    )
    assert result.status == 0, result.err
    program = (shop / "coupon.nc").read_text()
    assert "\nG20\n" in program and "F70" in program and "(C1 hole 1.5 climb)" in program
    assert "Lengths in inches" in program
    targets = {f["target"] for f in json.loads((shop / "coupon.json").read_text())["features"]}
    assert targets == {9.525, 19.05, 38.1}
    assert "All lengths in inches" in (shop / "coupon.html").read_text(encoding="utf-8")


def test_holes_and_bosses_cut_both_ways_and_as_often_as_asked(shop):
    words = changed("--stock", "500,400,18", changed("--side", "both", changed("--cut", "both")))
    assert run(*words, "--repeat", "1").status == 0
    features = json.loads((shop / "coupon.json").read_text())["features"]
    kinds = {(f["side"], f["cut"], f["target"]) for f in features}
    assert len(features) == len(kinds) == 2 * 2 * 3


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--diameters", "6,20", "a hole of 6 mm cannot be cut with a tool of 6 mm"),
        ("--stock", "60,60,18", "Take a larger piece"),
        ("--depth", "20", "goes through a stock of 18 mm"),
        ("--tool", "7", "has no tool 7"),
        ("--stepover", "7", "does not suit a cutter of 6 mm"),
        ("--table", "none.toml", "none.toml: reading failed"),
    ],
)
def test_what_does_not_fit_is_refused(shop, option, value, words):
    refused(shop, *changed(option, value, [w if w != "-t" else "--table" for w in PLAIN]), words=words)


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--diameters", "8,zwölf", "is not a length"),
        ("--diameters", "", "is not a length"),
        ("--depth", "-3", "is not above zero"),
        ("--stock", "300,200", "is not X,Y,Z"),
        ("--repeat", "0", "--repeat"),
        ("--speed", "0", "--speed"),
        ("--record", "coupon.nc", "files of their own"),
    ],
)
def test_wrong_usage_is_said(shop, option, value, words):
    refused(shop, *changed(option, value), status=2, words=words)


@pytest.mark.parametrize("name", ["coupon.nc", "coupon.json", "coupon.html"])
def test_no_file_is_written_over(shop, name):
    (shop / name).write_text("an earlier coupon")
    refused(shop, *SHEET, words=f"{name}: there is such a file already")


def test_without_a_material_it_is_refused(shop):
    text = command.TABLE.replace('[defaults]\nmaterial = "birch ply"\n', "")
    (shop / "router.toml").write_text(text)
    refused(shop, *PLAIN, words="no material is named")
    assert run(*PLAIN, "-m", "oak").status == 0


def test_a_tool_without_a_number_is_called_by_its_name(shop):
    tool = '[[tool]]\nname = "the router bit"\ndiameter = 6.0\n'
    (shop / "router.toml").write_text(command.TABLE[: command.TABLE.index("[[tool]]")] + tool)
    result = run(*changed("--tool", "The Router Bit"))
    assert result.status == 0, result.err
    assert {f["tool"] for f in json.loads((shop / "coupon.json").read_text())["features"]} == {
        "the router bit"
    }
    assert "M06" not in (shop / "coupon.nc").read_text()


def test_a_spindle_that_lies_is_refused(shop):
    text = command.TABLE.replace('units = "mm"', 'units = "mm"\nspindle_axis = "Y"')
    (shop / "router.toml").write_text(text)
    refused(shop, *PLAIN, words="spindle axis is Y")


class Page(HTMLParser):
    """What a page holds: tags with their attributes, and its text."""

    def __init__(self, text):
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data

    def all(self, tag, **wanted):
        return [a for t, a in self.tags if t == tag and wanted.items() <= a.items()]


def sheet(shop, *more):
    assert run(*SHEET, *more).status == 0
    return Page((shop / "coupon.html").read_text(encoding="utf-8"))


def test_the_sheet_has_a_box_for_every_diameter_and_a_plan_with_every_id(shop):
    page = sheet(shop, "--side", "both", "--repeat", "1")
    ids = [f["id"] for f in json.loads((shop / "coupon.json").read_text())["features"]]
    assert [a["id"] for a in page.all("circle")] == ids
    assert len(page.all("polygon")) == 3, "around each boss"
    assert len(page.all("td", **{"class": "box"})) == 4 * len(ids)
    for said in ("Instrument:", "Date:", "X", "Y", "45°", "135°", "Caution.", "trained people", "birch ply"):
        assert said in page.text
    assert "roundwright measure coupon.json -t router.toml" in page.text


def test_the_sheet_stands_alone(shop):
    page = sheet(shop)
    assert not any({"src", "href", "xlink:href"} & set(attributes) for _, attributes in page.tags)
    assert not page.all("script") and not page.all("link")
    text = (shop / "coupon.html").read_text(encoding="utf-8")
    assert "url(" not in text and "@import" not in text
    assert set(re.findall(r"https?://[^\"\s]+", text)) == {"http://www.w3.org/2000/svg"}


def test_names_in_the_sheet_are_names_only(shop):
    page = sheet(shop, "-m", "<script>alert(1)</script> & co")
    assert not page.all("script")
    assert "<script>alert(1)</script> & co" in page.text


def test_the_plan_lies_within_its_picture(shop):
    page = sheet(shop, "--side", "both")
    x, y, width, height = map(float, page.all("svg")[0]["viewbox"].split())
    for circle in page.all("circle"):
        cx, cy, r = (float(circle[key]) for key in ("cx", "cy", "r"))
        assert cx - r > 0 and cx + r < 300 and cy - r > 0 and cy + r < 200
    assert x < 0 < width - 300 and y < 0 < height - 200


def test_a_job_has_its_sheet_too(shop):
    assert (
        run("correct", "-q", "-t", "router.toml", "--record", "panel.json", "-o", "c.nc", "panel.nc").status
        == 0
    )
    done = run("measure", "panel.json", "-t", "router.toml", "--sheet", "panel.html")
    assert done.status == 0 and done.out == b""
    page = Page((shop / "panel.html").read_text(encoding="utf-8"))
    features = json.loads((shop / "panel.json").read_text())["features"]
    assert sorted(a["id"] for a in page.all("circle")) == sorted(f["id"] for f in features)
    assert len(page.all("td", **{"class": "box"})) == 4 * len(features) > 0
    for said in ("Instrument:", "Date:", "Caution.", "T1", f"{features[0]['programmed']:.3f}"):
        assert said in page.text
    assert "roundwright measure panel.json -t router.toml" in page.text
    x, y, width, height = map(float, page.all("svg")[0]["viewbox"].split())
    for circle in page.all("circle"):
        cx, cy, r = (float(circle[key]) for key in ("cx", "cy", "r"))
        assert x <= cx - r and cx + r <= x + width and y <= cy - r and cy + r <= y + height
    again = run("measure", "panel.json", "-t", "router.toml", "--sheet", "panel.html")
    assert again.status == 1 and "already" in again.err
    assert (
        run("measure", "panel.json", "-t", "router.toml", "--sheet", "b.html", "--csv", "r.csv").status == 2
    )
    assert not (shop / "b.html").exists()


def test_a_sheet_without_a_known_centre_is_a_list(shop):
    run("correct", "-q", "-t", "router.toml", "--record", "panel.json", "-o", "c.nc", "panel.nc")
    record = json.loads((shop / "panel.json").read_text())
    for feature in record["features"]:
        feature["centre"] = None
    (shop / "panel.json").write_text(json.dumps(record), encoding="utf-8")
    assert run("measure", "panel.json", "-t", "router.toml", "--sheet", "panel.html").status == 0
    page = Page((shop / "panel.html").read_text(encoding="utf-8"))
    assert not page.all("svg")
    assert len(page.all("td", **{"class": "box"})) == 4 * len(record["features"])

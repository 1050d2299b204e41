"""The HTML report: what it says, that it needs nothing else, and how its plan and curves are drawn."""

from __future__ import annotations

import json
import random
import re
from hashlib import sha256
from html.parser import HTMLParser
from importlib.resources import files

import pytest
from msgspec.structs import replace

import command
import outcomes
from roundwright.calibration import open_table
from roundwright.pipeline import list_features
from roundwright.report.html import Files, report_html
from roundwright.report.path_view import MOST
from roundwright.report.plan_view import plan_views
from roundwright.settings import Settings

VOID = {"meta", "link", "br", "col"}
HOLES = outcomes.HEAD + outcomes.pocket(50, 40, (2, 4.5, 7)) + outcomes.pocket(120.5, 40, (2.5, 5))


class Tags(HTMLParser):
    """The elements of a page; a closing tag that fits nothing is wrong."""

    def __init__(self, page):
        super().__init__()
        self.open, self.seen = [], []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.seen.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.seen.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def real(program=HOLES + "M30\n", name="panel.nc", **changes):
    table = open_table(command.TABLE, "router.toml")
    return list_features(program.encode(), name, table, replace(Settings(), **changes))


def facts(page):
    return json.loads(re.search(r'id="facts">(.*?)</script>', page, re.DOTALL)[1])


def test_it_is_one_sound_page_that_asks_for_nothing_else():
    page = report_html(real())
    tags = Tags(page)
    assert tags.open == []
    for _, attributes in tags.seen:
        for name in ("src", "href", "xlink:href", "action"):
            assert (attributes.get(name) or "#").startswith(("#", "data:"))
    assert "default-src 'none'" in page
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)|@import|url\(", page)
    ids = [attributes["id"] for _, attributes in tags.seen if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_every_feature_has_its_row_its_mark_and_its_facts():
    outcome = real(HOLES + outcomes.lap(300, 40, 30) + "M30\n")
    page = report_html(outcome)
    told = facts(page)
    for correction in outcome.plan.corrections:
        name = correction.feature.id
        assert f'<tr data-id="{name}">' in page
        assert f'class="mark {correction.status}" data-id="{name}"' in page
        assert told[name]["head"].startswith(f"{name}, ")
    left = outcome.plan.corrections[2]
    assert left.status == "left-alone"
    assert f"{left.reason}: {left.why}".replace("'", "&#39;") in page
    assert dict(told["C3"]["rows"])["Left alone"] == f"{left.reason}: {left.why}"
    assert "spot" not in told["C3"]
    assert told["C1"]["spot"][:2] != told["C2"]["spot"][:2]


def test_the_caution_comes_before_the_plan_and_warnings_are_in_it():
    page = report_html(outcomes.outcome(warnings=("the spindle <stands>",)))
    mind, plan = page.index("Before you cut</h2>"), page.index("From above</h2>")
    assert page.index("in the air first") < plan
    assert mind < page.index("The spindle &lt;stands&gt;") < plan


def test_no_name_can_break_out_of_the_page():
    nasty = "</script><script>alert(1)</script>&\"'.nc"
    outcome = outcomes.outcome(name=nasty, material="<b>ply</b>")
    tags = Tags(report_html(outcome))
    assert tags.open == []
    assert not any(tag == "b" for tag, _ in tags.seen)
    assert [tag for tag, _ in tags.seen].count("script") == 2


def test_fingerprints_are_those_of_the_bytes():
    outcome = real()
    page = report_html(outcome, Files(None, "ab" * 32))
    assert sha256(outcome.program.data).hexdigest() in page
    assert "ab" * 32 in page
    assert "This was a dry run" in page
    written = report_html(replace(outcome, output=b"G0\n"), Files("folder/out.nc", None))
    assert sha256(b"G0\n").hexdigest() in written
    assert "<td>out.nc</td>" in written
    assert "This was a dry run" not in written


def test_the_same_run_gives_the_same_page_and_inches_are_told_in_inches():
    outcome = real()
    assert report_html(outcome) == report_html(outcome)
    page = report_html(outcome, units="in")
    assert "lengths in inches" in page
    assert "programmed diameter (in)" in page
    assert 'data-unit="25.4"' in page
    row = re.search(r'<tr data-id="C1">.*?</tr>', page, re.DOTALL)[0]
    assert "0.7874" in row  # 20 mm


def test_a_program_without_circles_still_has_a_report():
    page = report_html(outcomes.outcome("G21 G90\nG1 X10 Y0 F100\nM30\n", corrections=[]))
    assert "No circular feature" in page
    assert Tags(report_html(outcomes.outcome("(nothing)\n", corrections=[]))).open == []


def test_marks_are_where_the_features_are_and_large_ones_come_first():
    (view,) = plan_views(real())
    assert [mark.id for mark in view.marks] == ["C1", "C2"]
    assert [mark.r for mark in view.marks] == [10.0, 8.0]
    first, second = view.marks
    assert second.x - first.x == pytest.approx(70.5)
    assert first.x - view.zero[0] == pytest.approx(50)
    assert view.zero[1] - first.y == pytest.approx(40)
    assert first.x - first.r > 0 and first.y + first.r < view.height


def test_each_work_offset_has_its_own_plan():
    program = HOLES + "G55\n" + outcomes.pocket(10, 10, (2, 4.5, 7)) + "M30\n"
    views = plan_views(real(program))
    assert [(view.frame, [mark.id for mark in view.marks]) for view in views] == [
        ("G54", ["C1", "C2"]),
        ("G55", ["C3"]),
    ]


def test_passes_at_other_depths_are_drawn_once():
    once = plan_views(real())[0].track
    deeper = HOLES + outcomes.pocket(50, 40, (2, 4.5, 7)).replace("Z-3", "Z-6") + "M30\n"
    again = plan_views(real(deeper))[0].track
    assert again.moves > once.moves
    assert again.cutting == once.cutting


def test_an_arc_goes_round_the_way_it_is_cut():
    program = "G21 G90 G17\nT1 M6\nG0 X10 Y0\nG1 Z-1 F100\nG3 X0 Y10 I-10 J0\nG2 X-10 Y0 I0 J-10\nM30\n"
    (view,) = plan_views(outcomes.outcome(program, corrections=[]))
    arcs = re.findall(r"A([\d.]+) [\d.]+ 0 (\d) (\d) ", "".join(view.track.cutting))
    assert arcs == [("10", "0", "0"), ("10", "1", "1")]


@pytest.mark.parametrize("straight", [True, False], ids=["straight", "crooked"])
def test_many_straight_moves_are_thinned_but_no_circle_is(straight):
    chance = random.Random(7)

    def step(k):
        return (k * 0.01, 100) if straight else (chance.uniform(0, 300), chance.uniform(100, 300))

    moves = "".join("G1 X{:.3f} Y{:.3f}\n".format(*step(k)) for k in range(2 * MOST))
    few = outcomes.outcome(HOLES + "M30\n")
    (view,) = plan_views(outcomes.outcome(HOLES + "G0 X0 Y100\nG1 Z-1 F900\n" + moves + "M30\n"))
    assert view.track.moves > 2 * MOST
    assert view.track.shown <= (100 if straight else MOST + 20)
    assert view.track.thinned is not straight
    arcs = "".join(view.track.cutting).count("A")
    assert arcs == "".join(plan_views(few)[0].track.cutting).count("A") == 10


def colours(text, dark):
    start = text.index("prefers-color-scheme: dark") if dark else 0
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6})", text[start : text.index("}", start + 60)]))


def luminance(colour):
    """Relative luminance, WCAG 2.2, definition of the term."""
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    """Contrast ratio, WCAG 2.2, definition of the term."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.published
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_text_stands_out_as_wcag_asks(dark):
    """WCAG 2.2, 1.4.3: text 4.5:1; 1.4.11: what is drawn 3:1."""
    text = files("roundwright.report").joinpath("templates", "report.css").read_text(encoding="utf-8")
    found = colours(text, dark)
    assert len(found) > 10
    for ground in ("page", "sheet"):
        for ink in ("ink", "soft", "corrected", "on-size", "left-alone", "reading"):
            assert contrast(found[ink], found[ground]) >= 4.5, (ink, ground)
        assert contrast(found["path"], found[ground]) >= 3.0
    assert contrast(found["on-chosen"], found["chosen"]) >= 4.5
    for ink in ("ink", "corrected", "left-alone"):
        assert contrast(found[ink], found["lit"]) >= (4.5 if ink == "ink" else 3.0)


#: what is left of red, green and blue (linear) to eyes without the red or the green cones; the matrices of
#: Viénot, Brettel and Mollon, Color Research and Application 24 (1999) 243, from memory.
BLIND = {
    "red": ((0.11238, 0.88762, 0.0), (0.11238, 0.88762, 0.0), (0.00401, -0.00401, 1.0)),
    "green": ((0.29275, 0.70725, 0.0), (0.29275, 0.70725, 0.0), (-0.02234, 0.02234, 1.0)),
}


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("missing", BLIND)
def test_the_statuses_are_told_apart_without_red_or_green(missing, dark):
    text = files("roundwright.report").joinpath("templates", "report.css").read_text(encoding="utf-8")
    found = colours(text, dark)

    def seen(colour):
        linear = [(int(colour[k : k + 2], 16) / 255) ** 2.2 for k in (1, 3, 5)]
        rows = (sum(a * b for a, b in zip(row, linear, strict=True)) for row in BLIND[missing])
        return [max(value, 0.0) ** (1 / 2.2) for value in rows]

    statuses = [seen(found[name]) for name in ("corrected", "on-size", "left-alone")]
    for k, one in enumerate(statuses):
        for other in statuses[k + 1 :]:
            assert sum((a - b) ** 2 for a, b in zip(one, other, strict=True)) ** 0.5 > 0.15

"""`roundwright measure`: figures by question or by CSV, checked, and written where they were programmed."""

from __future__ import annotations

import datetime
import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from command import TABLE, run
from coupons import CUT_MM
from roundwright.calibration import open_table

#: two readings at each size, so that the table knows how sure the next cut is.
ROUTER = """\
# The router in the back room.
schema = "roundwright.table/1"

[machine]
name = "shop-router"
units = "mm"

[defaults]
material = "birch ply"

[[tool]]
number = 1
diameter = 6.0

[[instrument]]
name = "caliper"
limit = 0.03

[[instrument]]
name = "plug gauge"
limit = 0.01

[[condition]]   # the good one
tool = 1
material = "birch ply"
side = "hole"
cut = "climb"
instrument = "caliper"
readings = [
  { programmed = 10.0, x = 9.90, y = 9.90, date = 2026-09-02 },
  { programmed = 10.0, x = 9.91, y = 9.91, date = 2026-09-02 },
  { programmed = 20.0, x = 19.89, y = 19.89, date = 2026-09-02 },
  { programmed = 20.0, x = 19.88, y = 19.88, date = 2026-09-02 },  # measured twice
  { programmed = 40.0, x = 39.87, y = 39.87, date = 2026-09-02 },
]
"""
TODAY = datetime.date.today()
M = ("measure", "coupon.json", "-t", "router.toml")


@pytest.fixture
def bench(shop):
    """The shop with a coupon of C1 = 20 and C2 = 10, cut climb, and its record."""
    (shop / "router.toml").write_text(ROUTER)
    coupon = ("coupon", "-t", "router.toml", "--tool", "1", "--diameters", "10,20", "--repeat", "1", *CUT_MM)
    made = run(*coupon, "--stock", "120,80,18", "-o", "coupon.nc", "--record", "coupon.json")
    assert made.status == 0, made.err
    return shop


def typed(*lines):
    return "".join(f"{line}\n" for line in lines).encode()


def table(bench):
    return open_table((bench / "router.toml").read_text(), "router.toml")


def added(bench, condition=0, before=5):
    """The readings that are new in a condition."""
    return table(bench).conditions[condition].readings[before:]


def figures(reading):
    return [reading.x, reading.y, reading.d45, reading.d135, reading.diameter]


def test_questions_are_asked_one_by_one_and_the_answers_written(bench):
    answers = typed("caliper", "2026-10-03", "19.885", "19.89", "", "19.88", "", "9.905", "")
    result = run(*M, given=answers)
    assert result.status == 0, result.err
    assert result.out == b"", "questions and messages are for people"
    assert "C1 hole 20 climb at" in " ".join(result.err.split())
    one, two = added(bench)
    assert (one.programmed, figures(one)) == (20.0, [19.885, 19.89, None, 19.88, None])
    assert (two.programmed, figures(two)) == (10.0, [None, None, None, None, 9.905])
    assert {r.date.isoformat() for r in (one, two)} == {"2026-10-03"}
    assert {r.instrument for r in (one, two)} == {"caliper"}
    assert "2 readings added" in result.err and "T1 / birch ply / hole / climb: 2" in result.err


def test_every_other_byte_of_the_table_stays(bench):
    assert run(*M, given=typed("", "", "19.88", "19.88", "", "", "", "", "")).status == 0
    after = (bench / "router.toml").read_text().splitlines(keepends=True)
    row = f"  {{ programmed = 20.0, x = 19.88, y = 19.88, date = {TODAY} }},\n"
    assert after.count(row) == 1
    after.remove(row)
    assert "".join(after) == ROUTER


def test_u_takes_answers_back_across_circles(bench):
    answers = typed(
        "", "", "19.80", "u", "19.88", "19.89", "", "", "u", "19.87", "9.9", "u", "u", "", "", "", ""
    )
    result = run(*M, given=answers)
    assert result.status == 0, result.err
    (one,) = added(bench)
    assert figures(one) == [19.88, 19.89, None, None, None]


def test_u_works_at_the_first_and_at_the_last_question(bench):
    answers = typed("u", "", "", "19.88", "19.89", "", "", "", "9.9", "u", "9.91", "")
    result = run(*M, given=answers)
    assert result.status == 0, result.err
    assert "nothing to take back" in result.err
    assert [r.diameter for r in added(bench)] == [None, 9.91]


def test_nothing_is_written_where_the_last_answer_is_no(bench):
    result = run(*M, given=typed("", "", "19.88", "19.89", "", "", "", "", "n"))
    assert result.status == 0 and "nothing was changed" in result.err
    assert (bench / "router.toml").read_text() == ROUTER


def test_nothing_is_written_where_the_input_ends_early(bench):
    result = run(*M, given=typed("", "", "19.88", "19.89"))
    assert result.status == 1 and "Nothing was changed" in result.err
    assert (bench / "router.toml").read_text() == ROUTER


def test_units_are_taken_and_nonsense_is_asked_again(bench):
    begin = ("tape", "caliper", "tomorrow", "2999-01-01", "")
    answers = typed(*begin, "abc", "0.783in", "19.89mm", "", "", "25/64in", "n", "9.9mm", "", "", "why", "y")
    result = run(*M, given=answers)
    assert result.status == 0, result.err
    for said in ("no instrument 'tape'", "'tomorrow' is no date", "still to come", "'abc' is not a length"):
        assert said in result.err
    one, two = added(bench)
    assert one.x == pytest.approx(19.8882) and one.y == 19.89
    assert figures(two)[:2] == [pytest.approx(9.921875), 9.9]


def test_a_reading_far_from_its_condition_is_questioned_not_dropped(bench):
    answers = typed("", "", "19.70", "19.70", "n", "19.88", "19.88", "", "", "9.99", "9.99", "y", "", "", "")
    result = run(*M, given=answers)
    assert result.status == 0, result.err
    assert (
        "it measures 19.7 mm, where the other readings of T1 / birch ply / hole / climb let expect 19.88"
        in result.err
    )
    assert [r.x for r in added(bench)] == [19.88, 9.99]


def test_inch_and_millimetre_are_not_mixed_up(bench):
    result = run(*M, given=typed("", "", "0.783", "0.783in", "", "", "", "", "", ""))
    assert "off by a factor of about 25.4" in result.err
    assert added(bench)[0].x == pytest.approx(19.8882)


def test_a_figure_past_the_table_s_limit_is_questioned(bench):
    text = ROUTER.replace("[[tool]]", "[limits]\ncorrection = 0.5\n\n[[tool]]")
    (bench / "router.toml").write_text(text)
    result = run(*M, given=typed("", "", "18.88", "n", "19.88", "", "", "", "", "", ""))
    assert result.status == 0, result.err
    assert "-1.12 mm off the programmed 20 mm, more than the table's limit of 0.5 mm" in result.err
    assert [r.x for r in added(bench)] == [19.88]


def test_the_same_reading_is_not_added_twice_unasked(bench):
    answers = typed("", "", "19.88", "19.88", "", "", "", "", "")
    assert run(*M, given=answers).status == 0
    again = run(*M, given=typed("", "", "19.88", "19.88", "n", "", "", "", "", "", ""))
    assert "has this very reading already" in again.err
    assert len(added(bench)) == 1


def csv(bench, *rows, head="id,x,y,d45,d135,diameter,instrument,date,note"):
    (bench / "r.csv").write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    return (*M, "--csv", "r.csv")


def test_a_csv_is_taken(bench):
    rows = ("C1,19.88,19.89,19.885,,,plug gauge,2026-10-03,near the clamp", "c2,,,,,0.39in,,,", ",,,,,,,,")
    result = run(*csv(bench, *rows))
    assert result.status == 0, result.err
    one, two = added(bench)
    assert figures(one) == [19.88, 19.89, 19.885, None, None]
    assert (one.instrument, one.note, one.date.isoformat()) == ("plug gauge", "near the clamp", "2026-10-03")
    assert two.diameter == pytest.approx(9.906) and two.instrument == "caliper"
    assert two.date == TODAY


def test_a_csv_may_have_semicolons_and_few_columns_and_a_mark(bench):
    (bench / "r.csv").write_bytes("\ufeffID;Y;X\r\nC2;9,90;9,91\r\n".encode())
    assert run(*M, "--csv", "r.csv").status == 0
    assert figures(added(bench)[0])[:2] == [9.91, 9.90]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("C9,9.9,9.9,,,,,,", "r.csv:2: the record has no circle 'C9'"),
        ("C2,9.9,zehn,,,,,,", "r.csv:2: C2: 'zehn' is not a length"),
        ("C2,9.9,,,,9.9,,,", "r.csv:2: C2: a diameter stands beside x or y"),
        ("C2,,,9.9,,,,,", "nothing is measured along X or Y"),
        ("C2,9.9,9.9,,,,tape,,", "no instrument 'tape'"),
        ("C2,9.9,9.9,,,,,3.10.2026,", "'3.10.2026' is no date"),
        ("C2,0.39,9.9,,,,,,", "x: this is off by a factor of about 25.4"),
        ("C2,-9.9,9.9,,,,,,", "a diameter is more than nothing"),
        ("C2,9.9,9.9,,,,,,,,", "more cells than there are columns"),
        ("C2,9.9,9.9,,,,,,\nC2,9.9,9.9,,,,,,", "r.csv:3: C2 stands twice"),
    ],
)
def test_a_bad_row_is_named_and_nothing_changed(bench, row, words):
    result = run(*csv(bench, row))
    assert result.status == 1 and words in result.err, result
    assert "Traceback" not in result.err
    assert (bench / "router.toml").read_text() == ROUTER


@pytest.mark.parametrize("head", ["", "x,y", "id", "id,x,x", "id,width"])
def test_wrong_columns_are_named(bench, head):
    result = run(*csv(bench, "C1,19.9", head=head))
    assert result.status == 1 and "id,x,y,d45,d135,diameter,instrument,date,note" in result.err


def test_a_doubtful_row_is_questioned(bench):
    command = csv(bench, "C1,19.70,19.70,,,,,2026-10-03,")
    no = run(*command, given=typed("n"))
    assert no.status == 1 and "r.csv:2: the reading of C1 is not meant" in no.err
    nobody = run(*command)
    assert nobody.status == 1 and "Nothing was changed" in nobody.err
    assert (bench / "router.toml").read_text() == ROUTER
    kept = run(*command, "--keep-doubtful")
    assert kept.status == 0 and "warning: r.csv:2: C1: it measures 19.7 mm" in kept.err
    assert run(*csv(bench, "C2,9.7,9.7,,,,,,"), given=typed("y")).status == 0
    assert [r.x for r in added(bench)] == [19.70, 9.7]


def test_figures_that_stand_in_the_record_need_no_question(bench):
    record = json.loads((bench / "coupon.json").read_text())
    record["features"][1].update(x=9.9, y=9.91)
    (bench / "coupon.json").write_text(json.dumps(record))
    result = run(*M, given=typed("plug gauge", "2026-10-03", "", "", ""))
    assert result.status == 0 and "C2" not in result.err, result.err
    (one,) = added(bench)
    assert figures(one)[:2] == [9.9, 9.91] and one.instrument == "plug gauge"


def test_a_missing_condition_is_created(bench):
    (bench / "router.toml").write_text(ROUTER.replace('"birch ply"\nside', '"oak"\nside'))
    result = run(*M, given=typed("", "", "19.88", "19.89", "", "", "", "", ""))
    assert result.status == 0, result.err
    assert "T1 / birch ply / hole / climb: 1, a new condition" in result.err
    (one,) = added(bench, condition=1, before=0)
    assert figures(one)[:2] == [19.88, 19.89]


def test_a_condition_that_serves_both_cuts_takes_them(bench):
    (bench / "router.toml").write_text(ROUTER.replace('cut = "climb"', 'cut = "any"'))
    assert run(*M, given=typed("", "", "19.88", "19.89", "", "", "", "", "")).status == 0
    assert [c.cut for c in table(bench).conditions] == ["any"]
    assert len(added(bench)) == 1


UNCLEAR = [
    ({"tool": 7}, "C1: the table shop-router has no tool 7"),
    ({"material": None}, "C1: the record names no material"),
    ({"cut": "unknown"}, "C1: whether it was cut climb or conventional is not known"),
]


def spoiled(bench, change, circles):
    record = json.loads((bench / "coupon.json").read_text())
    for circle in record["features"][:circles]:
        circle.update(change)
    (bench / "coupon.json").write_text(json.dumps(record))


@pytest.mark.parametrize(("change", "words"), UNCLEAR)
def test_a_circle_whose_condition_is_open_is_named_and_left_out(bench, change, words):
    spoiled(bench, change, 1)
    result = run(*M, given=typed("", "", "9.9", "9.91", "", "", ""))
    assert result.status == 0, result.err
    assert result.err.index(words) < result.err.index("Instrument"), "before anything is typed"
    assert [r.programmed for r in added(bench)] == [10.0]


@pytest.mark.parametrize(("change", "words"), UNCLEAR)
def test_where_no_condition_is_known_it_is_refused(bench, change, words):
    spoiled(bench, change, 2)
    result = run(*M, given=b"")
    assert result.status == 1 and words in result.err and "Instrument" not in result.err
    named = run(*csv(bench, "C1,19.9,19.9,,,,,,"))
    assert named.status == 1 and words in named.err


def test_a_record_without_circles_is_refused(bench):
    record = json.loads((bench / "coupon.json").read_text())
    (bench / "coupon.json").write_text(json.dumps({**record, "features": []}))
    assert "no circle that can be measured" in run(*M).err


NO_READINGS = ROUTER[: ROUTER.index("[[condition]]")]


def test_a_condition_that_is_begun_says_how_it_was_cut(bench):
    (bench / "router.toml").write_text(NO_READINGS)
    command = csv(bench, "C1,19.88,19.89,,,,,,", "C2,9.91,9.92,,,,,,")
    assert run(*command).status == 0
    (begun,) = table(bench).conditions
    assert (begun.feed, begun.speed) == (1800.0, 16000.0)
    assert "\nfeed = 1800\nspeed = 16000\n" in (bench / "router.toml").read_text()


def test_circles_that_were_cut_at_two_feeds_begin_a_condition_without_one(bench):
    (bench / "router.toml").write_text(NO_READINGS)
    record = json.loads((bench / "coupon.json").read_text())
    record["features"][0]["feed"] = 900.0
    (bench / "coupon.json").write_text(json.dumps(record))
    assert run(*csv(bench, "C1,19.88,19.89,,,,,,", "C2,9.91,9.92,,,,,,")).status == 0
    (begun,) = table(bench).conditions
    assert (begun.feed, begun.speed) == (None, 16000.0)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (
            "feed = 900\nspeed = 12000",
            "at a feed of 1800 mm/min, not 900 mm/min and at 16000/min of the spindle",
        ),
        ("feed = 1500\nspeed = 13400", ""),  # exactly 20 %, and less
        ("", ""),
    ],
)
def test_readings_that_were_cut_otherwise_than_their_condition_are_told(bench, keys, said):
    text = ROUTER.replace('cut = "climb"\n', f'cut = "climb"\n{keys}\n')
    (bench / "router.toml").write_text(text)
    result = run(*csv(bench, "C1,19.88,19.89,,,,,,"))
    assert result.status == 0 and len(added(bench)) == 1
    assert said in result.err and ("cut otherwise" in result.err) == bool(said)
    head = (bench / "router.toml").read_text().partition("readings")[0]
    assert head == text.partition("readings")[0], "a condition that was there keeps its own"


def test_on_the_first_morning_the_readings_are_held_against_each_other(bench):
    """A slip of the pen, 9.19 for 9.91, beside a first circle."""
    (bench / "router.toml").write_text(NO_READINGS)
    result = run(
        *M, given=typed("", "", "19.88", "19.89", "", "", "9.19", "9.91", "n", "9.91", "9.92", "", "", "")
    )
    assert result.status == 0, result.err
    assert (
        "it measures 9.55 mm, where the other readings of T1 / birch ply / hole / climb let expect 9.885"
        in result.err
    )
    assert [r.x for r in added(bench, before=0)] == [19.88, 9.91]
    (bench / "router.toml").write_text(NO_READINGS)
    no = run(*csv(bench, "C1,19.88,19.89,,,,,,", "C2,9.19,9.91,,,,,,"), given=typed("n"))
    assert no.status == 1 and (bench / "router.toml").read_text() == NO_READINGS


def test_the_record_of_another_machine_is_warned_of(bench):
    (bench / "router.toml").write_text(ROUTER.replace('"shop-router"', '"shop-mill"'))
    result = run(*M, given=typed("", "", "", "", "", "", ""))
    assert "the record is of the machine shop-router, this is shop-mill" in result.err


def test_a_table_without_instruments_is_not_asked_for_one(shop):
    (shop / "router.toml").write_text(TABLE)
    made = run(
        *("coupon", "-t", "router.toml", "--tool", "1", "--diameters", "12", "--repeat", "1", *CUT_MM),
        *("--stock", "120,80,18", "-o", "coupon.nc", "--record", "coupon.json"),
    )
    assert made.status == 0
    result = run(*M, given=typed("", "11.9", "11.91", "", "", ""))
    assert result.status == 0 and "Instrument" not in result.err
    assert [r.x for r in table(shop).conditions[0].readings if r.programmed == 12.0] == [11.9]


@pytest.fixture
def job(bench):
    """The coupon corrected, with the record of that."""
    done = run("correct", "-t", "router.toml", "--record", "job.json", "-o", "cut.nc", "coupon.nc")
    assert done.status == 0, done.err
    return bench


J = ("measure", "job.json", "-t", "router.toml", "--csv", "r.csv")


def test_a_file_shows_which_program_was_cut(job):
    csv(job, "C1,19.99,20.01,,,,,,")
    for cut, programmed in (("cut.nc", 20.115), ("coupon.nc", 20.0)):
        (job / "router.toml").write_text(ROUTER)
        assert run(*J, "--cut-file", cut, "--keep-doubtful").status == 0
        assert [r.programmed for r in added(job)] == [pytest.approx(programmed, abs=2e-3)]


def test_a_file_that_is_neither_is_refused(job):
    csv(job, "C1,19.99,20.01,,,,,,")
    (job / "other.nc").write_bytes((job / "cut.nc").read_bytes() + b"\n")
    result = run(*J, "--cut-file", "other.nc")
    assert result.status == 1
    assert "other.nc: this is neither the program coupon.nc of the record nor its corrected one" in result.err
    assert (job / "router.toml").read_text() == ROUTER


def test_without_the_file_it_asks_which_was_cut(job):
    csv(job, "C1,19.99,20.01,,,,,,")
    asked = run(*J, "--keep-doubtful", given=typed("what?", "corrected"))
    assert asked.status == 0 and "Which coupon.nc was cut" in asked.err
    assert added(job)[0].programmed == pytest.approx(20.115, abs=2e-3)
    (job / "router.toml").write_text(ROUTER)
    assert run(*J, "--keep-doubtful", given=typed("original")).status == 0
    assert added(job)[0].programmed == 20.0
    (job / "router.toml").write_text(ROUTER)
    assert run(*J).status == 1, "nobody answers"


def test_a_coupon_s_own_file_is_known_and_its_corrected_one_is_not(job):
    csv(job, "C1,19.88,19.89,,,,,,")
    assert run(*M, "--csv", "r.csv", "--cut-file", "coupon.nc").status == 0
    assert run(*M, "--csv", "r.csv", "--cut-file", "cut.nc").status == 1


def test_a_spoiled_record_and_a_missing_one_are_refused(bench):
    (bench / "coupon.json").write_text("{")
    result = run(*M)
    assert result.status == 1 and "coupon.json:1: this is no valid JSON" in result.err
    assert run("measure", "none.json", "-t", "router.toml").status == 1


LINES = st.sampled_from(
    [
        "",
        "u",
        "y",
        "n",
        "19.88",
        "9.9",
        "9.19",
        "0.39in",
        "25/64in",
        "caliper",
        "2026-10-03",
        "-1",
        "1e9",
        "x",
        "°",
    ]
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines=st.lists(LINES, max_size=40))
def test_whatever_is_typed_the_table_is_whole(bench, lines):
    (bench / "router.toml").write_text(ROUTER)
    result = run(*M, given=typed(*lines))
    assert result.status in (0, 1) and "Traceback" not in result.err
    text = (bench / "router.toml").read_text()
    new = added(bench)
    assert (text == ROUTER) == (not new)
    if result.status == 1:
        assert not new and "Nothing was changed" in result.err
    assert len(new) <= 2

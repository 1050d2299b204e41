"""New readings go into a table's text at one place each; every other byte stays."""

import datetime
import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.calibration import Addition, Reading, open_table, with_readings
from roundwright.errors import SettingsError, TableError
from table_texts import CALIPER, CONDITION, GOOD, HEAD, MACHINE, TOOL

START = HEAD + MACHINE + TOOL + CALIPER + CONDITION
NEW = Addition(1, "birch ply", "hole", "climb", Reading(20.134, 20.01, 19.99))
ROW = "{ programmed = 20.134, x = 20.01, y = 19.99 }"
DAY = datetime.date(2026, 10, 3)

LAYOUTS = {
    "rows": ("readings = [\n  { programmed = 10.0, x = 9.91 },\n]\n", "  @,\n", "]\n"),
    "comment on the last row": (
        "readings = [ # so far\n\t{ programmed = 22.10, x = 22.0 }, # a ] in } a comment\n]  # end\n",
        "\t@,\n",
        "]  # end\n",
    ),
    "a row taken out": (
        "readings = [\n  { programmed = 10.0, x = 9.91 },\n  # { programmed = 30.0, x = 9 },\n]\n",
        "  @,\n",
        "  # { programmed = 30.0, x = 9 },\n]\n",
    ),
    "one line with a last comma": ("readings = [{ programmed = 10.0, x = 9.91 }, ]", " @,", " ]"),
    "none yet": ("readings = []\n", "\n  @,\n", "]\n"),
    "none yet, over lines": ("readings = [ # none\n]\n", "\n  @,", "\n]\n"),
    "a bracket in a text": (
        'readings = [\n  { programmed = 10.0, x = 9.91, note = "]}\\"# [" },\n]\n# ]',
        "  @,\n",
        "]\n# ]",
    ),
    "further keys behind": (
        "readings = [\n  { programmed = 10.0, x = 9.91 },\n]\nfeed = 1800\n\n[limits]\nreach = 0.10\n",
        "  @,\n",
        "]\nfeed = 1800\n\n[limits]\nreach = 0.10\n",
    ),
    "no readings key": ("feed = 1800  # usual\n# end\n", "readings = [\n  @,\n]\n", "# end\n"),
    "sections": (
        "[[condition.readings]]\nprogrammed = 10.0\nx = 9.91 # good\n",
        "[[condition.readings]]\nprogrammed = 20.134\nx = 20.01\ny = 19.99\n",
        "",
    ),
}


@pytest.mark.parametrize("mark", ["", "\ufeff"], ids=["plain", "with a byte order mark"])
@pytest.mark.parametrize("eol", ["\n", "\r\n"], ids=["LF", "CRLF"])
@pytest.mark.parametrize("name", LAYOUTS)
def test_a_row_goes_behind_the_last_one_and_nothing_else_changes(name, eol, mark):
    tail, row, behind = (part.replace("\n", eol) for part in LAYOUTS[name])
    text = mark + START.replace("\n", eol) + tail
    row = row.replace("@", ROW)
    assert with_readings(text, [NEW]) == text[: len(text) - len(behind)] + row + behind


@pytest.mark.parametrize(
    ("tail", "wanted"),
    [
        (
            "readings = [{ programmed = 10.0, x = 9.91 }]\n",
            "readings = [{ programmed = 10.0, x = 9.91 }, @]\n",
        ),
        (
            "readings = [\n  { programmed = 10.0, x = 9.91 }\n]\n",
            "readings = [\n  { programmed = 10.0, x = 9.91 },\n  @\n]\n",
        ),
        (
            "readings = [\n  { programmed = 10.0, x = 9.91 } # 1\n  , # 2\n]\n",
            "readings = [\n  { programmed = 10.0, x = 9.91 } # 1\n  , # 2\n  @,\n]\n",
        ),
        (
            "readings = [\n  { programmed = 10.0, x = 9.91 } # first\n]\n",
            "readings = [\n  { programmed = 10.0, x = 9.91 }, # first\n  @\n]\n",
        ),
        (
            "readings = [\n  { programmed = 10.0, x = 9.91 } ]\n",
            "readings = [\n  { programmed = 10.0, x = 9.91 },\n  @ ]\n",
        ),
    ],
)  # fmt: skip
def test_a_comma_is_added_where_the_last_row_has_none(tail, wanted):
    assert with_readings(START + tail, [NEW]) == START + wanted.replace("@", ROW)


def test_a_row_is_spaced_as_the_row_before():
    text = START + "readings=[\n    {programmed=10.0,x=9.91},\n]\n"
    wanted = (
        START + "readings=[\n    {programmed=10.0,x=9.91},\n    {programmed=20.134,x=20.01,y=19.99},\n]\n"
    )
    assert with_readings(text, [NEW]) == wanted


def test_a_missing_condition_is_begun_behind_everything():
    other = Addition("6 mm upcut", "Oak", "boss", "any", Reading(20.0, diameter=20.1, instrument="Caliper"))
    row = "  { programmed = 20.0, diameter = 20.1 },\n"
    block = (
        '[[condition]]\ntool = 1\nmaterial = "Oak"\nside = "boss"\ncut = "any"\ninstrument = "caliper"\n'
        f"readings = [\n{row}{row}]\n"
    )
    assert with_readings(GOOD, [other, other]) == GOOD + "\n" + block
    assert with_readings(GOOD + "\n", [other, other]) == GOOD + "\n" + block
    assert with_readings(GOOD.rstrip(), [other, other]) == GOOD + "\n" + block


def test_a_cut_of_its_own_never_goes_into_any():
    text = with_readings(GOOD.replace('"climb"', '"any"'), [NEW])
    assert [len(c.readings) for c in open_table(text).conditions] == [1, 1]


def test_conditions_written_as_one_array_go_on_so():
    rows = '{ tool = 1, material = "mdf", side = "hole", cut = "climb" }'
    text = "condition = [" + rows + "]\n" + HEAD + MACHINE + TOOL
    table = open_table(with_readings(text, [NEW]))
    assert [c.material for c in table.conditions] == ["mdf", "birch ply"]
    added = Addition(1, "mdf", "hole", "climb", NEW.reading)
    assert len(open_table(with_readings(text, [added])).conditions[0].readings) == 1


def test_instrument_date_and_note_are_written_where_they_say_more():
    reading = Reading(10.0, 9.9, 9.9, 9.8, 9.8, None, "caliper", DAY, 'turned, "hot"')
    text = with_readings(GOOD, [Addition("T1", "BIRCH  ply", "hole", "climb", reading)])
    row = (
        "  { programmed = 10.0, x = 9.9, y = 9.9, d45 = 9.8, d135 = 9.8, "
        'instrument = "caliper", date = 2026-10-03, note = "turned, \\"hot\\"" },\n'
    )
    assert text == GOOD.removesuffix("]\n") + row + "]\n"
    usual = GOOD.replace('cut = "climb"\n', 'cut = "climb"\ninstrument = "Caliper"\n')
    text = with_readings(usual, [Addition(1, "birch ply", "hole", "climb", reading)])
    assert text.splitlines()[-2] == row.replace('instrument = "caliper", ', "").rstrip()


def test_an_inch_table_gets_inches():
    text = GOOD.replace('units = "mm"', 'units = "in"').replace("6.0", "0.25")
    added = Addition(1, "birch ply", "hole", "climb", Reading(25.4 * 3 / 8, diameter=25.4 * 0.3725))
    assert "  { programmed = 0.375, diameter = 0.3725 },\n" in with_readings(text, [added])


@pytest.mark.parametrize(
    ("addition", "word"),
    [
        (Addition(7, "birch ply", "hole", "climb", Reading(20.0, 19.9)), "no tool 7"),
        (Addition(1, "  ", "hole", "climb", Reading(20.0, 19.9)), "material"),
        (Addition(1, "a\nb", "hole", "climb", Reading(20.0, 19.9)), "material"),
        (Addition(1, "mdf", "hole", "climb", Reading(20.0, 19.9, instrument="ruler")), "no instrument ruler"),
        (Addition(1, "mdf", "hole", "climb", Reading(20.0, 19.9, diameter=19.9)), "diameter"),
        (Addition(1, "mdf", "hole", "climb", Reading(20.0, d45=19.9)), "nothing is measured along X or Y"),
        (Addition(1, "mdf", "hole", "climb", Reading(20.0, 0.787)), "25.4"),
        (Addition(1, "mdf", "hole", "climb", Reading(20.0, float("nan"))), "nan"),
        (Addition(1, "mdf", "hole", "climb", Reading(-20.0, 19.9)), "more than 0"),
    ],
)
def test_what_makes_no_sense_is_refused(addition, word):
    with pytest.raises(SettingsError, match=word):
        with_readings(GOOD, [NEW, addition])


def test_a_spoiled_table_is_refused():
    with pytest.raises(TableError):
        with_readings(GOOD.replace("number = 1", "number ="), [NEW])


def test_a_groove_goes_into_any():
    text = with_readings(GOOD, [Addition(1, "mdf", "groove", "climb", Reading(20.0, 19.9))])
    assert open_table(text).conditions[1].cut == "any"


LENGTHS = st.integers(8_000, 60_000).map(lambda n: n / 1000)
NAMES = st.text(st.sampled_from(string.ascii_letters + ' #"\\[]{},=é'), max_size=12)
READINGS = st.builds(
    lambda p, off, note, date: Reading(p, diameter=round(p + off, 6), note=note, date=date),
    LENGTHS,
    st.integers(-300, 300).map(lambda n: n / 1000),
    NAMES,
    st.none() | st.just(DAY),
)
ADDITIONS = st.builds(
    Addition,
    st.just(1),
    st.sampled_from(["birch ply", "mdf", 'a "b" # c']),
    st.sampled_from(["hole", "boss"]),
    st.sampled_from(["climb", "conventional", "any"]),
    READINGS,
)


@settings(max_examples=80, deadline=None)
@given(st.lists(ADDITIONS, max_size=6), st.sampled_from(sorted(LAYOUTS)), st.booleans())
def test_adding_at_once_or_one_by_one_keeps_every_old_line(additions, name, crlf):
    """The old text is the new one without the lines that were put in, and all readings are there."""
    text = START + LAYOUTS[name][0]
    text = text.replace("\n", "\r\n") if crlf else text
    one_by_one = text
    for addition in additions:
        one_by_one = with_readings(one_by_one, [addition])
    for new in (with_readings(text, additions), one_by_one):
        rest = iter(new)
        assert all(character in rest for character in text), "an old character is gone or moved"
        count = sum(len(c.readings) for c in open_table(new).conditions)
        assert count == len(additions) + len(open_table(text).conditions[0].readings)

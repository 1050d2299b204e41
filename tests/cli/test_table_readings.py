"""`roundwright table add`, `import`, `export`, `show`, `plot` and `diagnose` on a table's file."""

import contextlib
import datetime
import json
import shutil
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from tempfile import TemporaryDirectory

import click
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from command import run, start
from roundwright.calibration import open_table
from source_tree import ROOT
from table_texts import CALIPER, GOOD, table_of

REPEATS = [(10.0, 9.90), (10.0, 9.91), (10.0, 9.89), (20.0, 19.85), (20.0, 19.86), (40.0, 39.80)]
MDF = ("--tool", 1, "--material", "mdf", "--side", "hole", "--cut", "climb")
PLY = ("--tool", "T1", "-m", "birch ply", "--side", "hole", "--cut", "climb")
TODAY = datetime.date.today().isoformat()


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A folder with t.toml (good) and r.toml (with repeats), the current one."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "t.toml").write_bytes(GOOD.encode())
    (tmp_path / "r.toml").write_bytes(table_of(REPEATS, limit=0.005).encode())
    return tmp_path


def add(*arguments, table="t.toml"):
    return run("table", "add", "-t", table, *arguments)


def test_add_puts_one_row_behind_the_last(here):
    done = add(*PLY, "--programmed", 20, "--x", "19.87mm", "--y", 19.89, "--instrument", "CALIPER")
    assert (done.status, done.out) == (0, b"")
    assert "t.toml: added 20, measured 19.88, to T1 / birch ply / hole / climb" in done.err
    row = f'  {{ programmed = 20.0, x = 19.87, y = 19.89, instrument = "caliper", date = {TODAY} }},\n'
    assert (here / "t.toml").read_text() == GOOD.removesuffix("]\n") + row + "]\n"


def test_add_takes_every_figure_a_date_and_a_note(here):
    figures = ("--x", "3/4in", "--y", 19.1, "--d45", 19.0, "--d135", 19.2)
    done = add(*PLY, "--programmed", "0.75in", *figures, "--date", "2026-10-03", "--note", "turned")
    assert done.status == 0
    row = (
        "  { programmed = 19.05, x = 19.05, y = 19.1, d45 = 19.0, d135 = 19.2, "
        'date = 2026-10-03, note = "turned" },'
    )
    assert (here / "t.toml").read_text().splitlines()[-2] == row


def test_add_begins_a_condition_and_says_so(here):
    done = add(*MDF, "--programmed", 20, "--diameter", 19.9)
    assert done.status == 0 and "T1 / mdf / hole / climb, begun new" in done.err
    text = (here / "t.toml").read_text()
    assert text.startswith(GOOD) and len(open_table(text).conditions) == 2


def test_add_says_that_any_no_longer_serves(here):
    (here / "t.toml").write_text(GOOD.replace('"climb"', '"any"'))
    done = add(*PLY, "--programmed", 20, "--diameter", 19.9)
    assert "T1 / birch ply / hole / any served it until now, and no longer does" in done.err


def test_add_uses_the_table_s_defaults(here):
    text = GOOD.replace("[[tool]]", '[defaults]\ntool = 1\nmaterial = "oak"\n[[tool]]')
    (here / "t.toml").write_text(text)
    assert add("--side", "groove", "--programmed", 20, "--x", 19.9).status == 0
    assert open_table((here / "t.toml").read_text()).conditions[1].label == "T1 / oak / groove / any"


def test_a_doubtful_reading_is_added_with_a_warning_where_nobody_can_be_asked(here):
    done = add(*PLY, "--programmed", 20, "--diameter", 20.2, table="r.toml")
    assert done.status == 0
    assert "warning: added all the same, but measure again: it measures 20.2 mm, where the other" in done.err
    assert "diameter = 20.2" in (here / "r.toml").read_text()
    checked = run("table", "check", "-t", "r.toml")
    assert "it measures 20.2" in checked.out.decode(), "and check goes on naming it"


@pytest.mark.parametrize(("answer", "status"), [(True, 0), (False, 1)])
def test_a_terminal_is_asked(here, monkeypatch, answer, status):
    asked = []
    monkeypatch.setattr("roundwright.cli.readings.at_terminal", lambda: True)
    monkeypatch.setattr(click, "confirm", lambda text, **_: asked.append(text) or answer)
    before = (here / "r.toml").read_text()
    done = add(*PLY, "--programmed", 20, "--diameter", 20.2, table="r.toml")
    assert done.status == status and len(asked) == 1 and "A doubtful reading" in asked[0]
    assert ((here / "r.toml").read_text() == before) == (not answer)
    assert answer or "nothing was added" in done.err


@pytest.mark.parametrize(
    ("arguments", "status", "word"),
    [
        ((*PLY, "--programmed", 20), 2, "--diameter"),
        ((*PLY, "--programmed", 20, "--x", 19, "--diameter", 19), 2, "not both"),
        ((*PLY, "--programmed", "abc", "--x", 19), 2, "not a length"),
        ((*PLY, "--programmed", -20, "--x", 19), 2, "above zero"),
        ((*PLY, "--programmed", 20, "--x", 19, "--date", "3.10.26"), 2, "no date"),
        (("--tool", 1, "-m", "mdf", "--side", "hole", "--programmed", 20, "--x", 19), 2, "--cut"),
        (("--side", "hole", "--cut", "climb", "--programmed", 20, "--x", 19), 1, "no tool is named"),
        ((*PLY, "--tool", 5, "--programmed", 20, "--x", 19), 1, "no tool 5"),
        ((*PLY, "--programmed", 20, "--x", "0.787"), 1, "25.4"),
        ((*PLY, "--programmed", 20, "--x", 19, "--instrument", "ruler"), 1, "no instrument ruler"),
    ],
)
def test_what_cannot_be_added_is_refused_and_nothing_changes(here, arguments, status, word):
    done = add(*arguments)
    assert done.status == status and word in done.err and done.out == b""
    assert (here / "t.toml").read_text() == GOOD
    assert sorted(p.name for p in here.iterdir()) == ["r.toml", "t.toml"]


def test_add_to_a_table_that_is_not_there_or_spoiled(here):
    assert add(*PLY, "--programmed", 20, "--x", 19, table="none.toml").status == 1
    (here / "t.toml").write_text(GOOD + "[")
    assert add(*PLY, "--programmed", 20, "--x", 19).status == 1
    assert (here / "t.toml").read_text() == GOOD + "["


def test_a_sheet_that_went_out_comes_in_without_a_change(here):
    for name in ("shop-router.toml", "shop-mill.toml"):
        shutil.copy(ROOT / "samples" / name, here / name)
        before = (here / name).read_bytes()
        assert run("table", "export", "-t", name, "-o", "r.csv").status == 0
        done = run("table", "import", "-t", name, "r.csv")
        assert done.status == 0 and "0 added" in done.err
        assert (here / name).read_bytes() == before
        printed = run("table", "export", "-t", name).out
        assert printed == (here / "r.csv").read_bytes()


def test_import_adds_what_is_new_and_says_what(here):
    sheet = "tool,material,side,cut,programmed,x,y,instrument,date\n"
    rows = (
        "1,birch ply,hole,climb,10,9.91,9.93,,\n"
        "1,birch ply,hole,climb,20,19.87,19.89,caliper,2026-10-05\n"
        "1,birch ply,hole,climb,30,29.87,29.89,caliper,2026-10-05\n"
        "1,mdf,boss,climb,1in,25.5mm,25.5,,\n"
    )
    (here / "r.csv").write_text(sheet + rows, encoding="utf-8")
    done = run("table", "import", "-t", "t.toml", "r.csv")
    assert done.status == 0 and done.out == b""
    assert done.err.splitlines() == [
        "t.toml: added 2 readings to T1 / birch ply / hole / climb",
        "t.toml: added 1 reading to T1 / mdf / boss / climb, begun new",
        "t.toml: 3 added, 1 was there already",
    ]
    again = run("table", "import", "-t", "t.toml", "r.csv")
    assert again.err.splitlines() == ["t.toml: 0 added, 4 were there already"]


def test_import_questions_row_by_row_and_keeps_them(here):
    (here / "r.csv").write_text(
        "tool,material,side,cut,programmed,diameter\n1,birch ply,hole,climb,20,20.2\n"
    )
    done = run("table", "import", "-t", "r.toml", "r.csv")
    assert done.status == 0 and "warning: r.csv:2: added, but measure again: it measures 20.2" in done.err


def test_a_wrong_row_adds_nothing(here):
    (here / "r.csv").write_text(
        "tool,material,side,cut,programmed,x\n1,mdf,hole,climb,20,19.9\n1,mdf,hole,climb,20,x\n"
    )
    done = run("table", "import", "-t", "t.toml", "r.csv")
    assert done.status == 1 and "r.csv:3" in done.err and "Nothing was added" in done.err
    assert (here / "t.toml").read_text() == GOOD
    assert run("table", "import", "-t", "t.toml", "none.csv").status == 1
    assert run("table", "export", "-t", "t.toml", "-o", "t.toml").status == 2


def test_show_tells_how_a_condition_improves(here):
    for day, programmed, measured in (("2026-10-01", 20, 19.9), ("2026-10-09", 20.1, 19.98)):
        add(*MDF, "--programmed", programmed, "--diameter", measured, "--date", day)
    text = run("table", "show", "-t", "t.toml").out.decode()
    rows = [line.split() for line in text.splitlines() if line.strip().startswith("2026-")]
    assert rows == [["2026-10-01", "1", "0.100", "-"], ["2026-10-09", "1", "0.120", "0.020"]]
    listing = json.loads(run("table", "show", "-t", "t.toml", "--format", "json").out)
    assert listing["conditions"][1]["progress"][1]["error_after"] == pytest.approx(0.02)


def test_diagnose_in_its_two_forms(here):
    shutil.copy(ROOT / "samples" / "shop-router.toml", here / "s.toml")
    text = run("diagnose", "-t", "s.toml")
    assert text.status == 0 and "scale X" in text.out.decode()
    listing = json.loads(run("diagnose", "-t", "s.toml", "--format", "json").out)
    assert listing["schema"] == "roundwright.diagnosis/1" and len(listing["conditions"]) == 5
    assert run("diagnose").status == 2
    assert run("diagnose", "-t", "none.toml").status == 1


@pytest.mark.parametrize("form", ["svg", "png"])
def test_plot_draws_every_condition_and_twice_the_same(here, form):
    text = (ROOT / "samples" / "shop-router.toml").read_text(encoding="utf-8")
    (here / "s.toml").write_text(text.replace('"mdf"', '"mdf at $5, \u677f"'), encoding="utf-8")
    done = run("table", "plot", "-t", "s.toml", "-o", f"a.{form}")
    assert done.status == 0 and done.out == b"" and done.err == f"Wrote a.{form}.\n"
    run("table", "plot", "-t", "s.toml", "-o", f"b.{form}")
    data = (here / f"a.{form}").read_bytes()
    assert data == (here / f"b.{form}").read_bytes()
    if form == "svg":
        assert ET.fromstring(data).tag.endswith("svg")
        drawn = data.decode()
        for comment in ("T1 / birch ply / hole / climb", "programmed diameter (mm)", "next cut, about 95 %"):
            assert comment in drawn
    else:
        assert data.startswith(b"\x89PNG")


def test_plot_refuses_other_forms_empty_tables_and_a_missing_library(here, monkeypatch):
    assert run("table", "plot", "-t", "t.toml", "-o", "a.pdf").status == 2
    (here / "e.toml").write_text(GOOD[: GOOD.index("[[condition]]")] + CALIPER.replace("caliper", "gauge"))
    assert "no readings to draw" in run("table", "plot", "-t", "e.toml", "-o", "a.svg").err
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    done = run("table", "plot", "-t", "t.toml", "-o", "a.svg")
    assert done.status == 1 and 'pip install "roundwright[plot]"' in done.err
    assert not (here / "a.svg").exists()


def test_a_process_of_its_own_adds_with_a_pipe_for_input(here):
    one = start("table", "add", "-t", "t.toml", *PLY, "--programmed", 20, "--x", 19.9, cwd=here)
    out, err = one.communicate(timeout=60)
    assert one.returncode == 0 and out == b"" and b"added 20" in err


SIZES = st.integers(8_000, 60_000).map(lambda n: n / 1000)
COMMANDS = st.lists(
    st.one_of(
        st.tuples(st.just("add"), st.sampled_from([PLY, MDF]), SIZES, st.integers(-200, 200)),
        st.tuples(st.sampled_from(["import again", "import new", "show", "check", "export", "diagnose"])),
    ),
    min_size=10,
    max_size=10,
)


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(COMMANDS, st.booleans(), st.booleans())
def test_ten_random_commands_leave_every_other_byte(commands, crlf, marked):
    """Every line of the file before stands in the file after, in its order; what is between are new rows."""
    text = (ROOT / "samples" / "shop-router.toml").read_text(encoding="utf-8")
    text += '\n[[condition]]  # cut once\ntool = 1\nmaterial = "oak"\nside = "hole"\ncut = "any"\n'
    text += "readings = [{ programmed = 22.10, x = 22.00 },]\n"
    before = (("\ufeff" if marked else "") + (text.replace("\n", "\r\n") if crlf else text)).encode()
    with TemporaryDirectory() as folder, contextlib.chdir(folder):
        Path("t.toml").write_bytes(before)
        added = sum(_done(command) for command in commands)
        after = Path("t.toml").read_bytes()
    rest = iter(after.splitlines(keepends=True))
    extra = []
    for line in before.splitlines(keepends=True):
        for new in rest:
            if new == line:
                break
            extra.append(new)
        else:
            raise AssertionError(f"gone or changed: {line!r}")
    extra += list(rest)
    rows = [line for line in extra if line.startswith(b"  { programmed = ")]
    assert len(rows) == added
    ends = b"\r\n" if crlf else b"\n"
    assert all(line.endswith(ends) for line in extra)
    assert added or after == before


def _done(command):
    """Carry one out; how many readings it added."""
    name, *rest = command
    if name == "add":
        where, programmed, off = rest
        done = add(*where, "--programmed", programmed, "--diameter", round(programmed + off / 1000, 3))
        assert done.status == 0, done.err
        return 1
    if name.startswith("import"):
        assert run("table", "export", "-t", "t.toml", "-o", "r.csv").status == 0
        if name == "import new":
            with Path("r.csv").open("a", encoding="utf-8") as sheet:
                sheet.write("1,mdf,boss,conventional,31.5,31.6,31.6,,,,caliper,2026-10-05,new\n")
        assert run("table", "import", "-t", "t.toml", "r.csv").status == 0
        return int(name == "import new")
    line = ("diagnose",) if name == "diagnose" else ("table", name)
    assert run(*line, "-t", "t.toml").status in (0, 1)
    return 0

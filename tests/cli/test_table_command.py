"""`roundwright table`: what the commands print, write and end with."""

import json

import pytest
from click.testing import CliRunner

from roundwright.calibration import open_table
from roundwright.cli import main
from table_texts import GOOD, table_of


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("ROUNDWRIGHT_TABLE", raising=False)

    def invoke(*arguments, **how):
        return CliRunner().invoke(main, ["table", *arguments], **how)

    return invoke


def test_new_writes_a_table_that_opens_and_is_named_after_its_file(run, tmp_path):
    done = run("new", "-o", "shop-router.toml", "--units", "in")
    assert done.exit_code == 0 and done.stdout == ""
    table = open_table((tmp_path / "shop-router.toml").read_text(encoding="utf-8"))
    assert (table.name, table.inch) == ("shop-router", True)


def test_new_goes_to_standard_output_without_a_file(run):
    for arguments in ([], ["-o", "-"]):
        done = run("new", "--name", "big mill", *arguments)
        assert done.exit_code == 0
        assert open_table(done.stdout).name == "big mill"


def test_new_never_writes_over_a_file(run, tmp_path):
    (tmp_path / "t.toml").write_text("mine")
    done = run("new", "-o", "t.toml")
    assert done.exit_code == 1
    assert "there is such a file already" in done.stderr and done.stdout == ""
    assert (tmp_path / "t.toml").read_text() == "mine"
    (tmp_path / "dangling.toml").symlink_to(tmp_path / "nowhere")
    assert run("new", "-o", "dangling.toml").exit_code == 1


@pytest.mark.parametrize("arguments", [["--units", "cm"], ["--name", " "], ["--name", "a\nb"], ["extra"]])
def test_new_with_wrong_usage(run, arguments):
    assert run("new", *arguments).exit_code == 2


def test_check_names_everything_with_its_line_and_ends_with_1(run, tmp_path):
    text = GOOD.replace("diameter = 6.0", "diameter = -6.0").replace("x = 9.91", "x = nan")
    (tmp_path / "t.toml").write_text(text)
    done = run("check", "-t", "t.toml")
    assert done.exit_code == 1
    rows = done.stdout.splitlines()
    assert rows[0].startswith("t.toml:8: wrong: tool 1, diameter: -6.0 must be more than 0")
    assert rows[1].startswith("t.toml:18: wrong: condition 1, readings 1, x: nan")
    assert rows[2] == "t.toml: 2 wrong, 0 doubtful"


def test_check_of_doubts_ends_with_0(run, tmp_path):
    (tmp_path / "t.toml").write_text(GOOD)
    done = run("check", "-t", "t.toml")
    assert done.exit_code == 0
    assert (
        "t.toml:12: doubtful: condition 1: T1 / birch ply / hole / climb: no diameter was cut" in done.stdout
    )
    assert "0 wrong" in done.stdout.splitlines()[-1]


def test_check_of_readings_that_turn_back_ends_with_1(run, tmp_path):
    (tmp_path / "t.toml").write_text(table_of([(10.0, 9.9), (10.2, 9.8)]))
    done = run("check", "-t", "t.toml")
    assert done.exit_code == 1 and "no larger" in done.stdout


def test_show_in_its_three_forms(run, tmp_path):
    (tmp_path / "t.toml").write_text(GOOD)
    text = run("show", "-t", "t.toml")
    assert text.exit_code == 0 and "T1 / birch ply / hole / climb" in text.stdout
    assert json.loads(run("show", "-t", "t.toml", "--format", "json").stdout)["table"]["file"] == "t.toml"
    assert (
        run("show", "-t", "t.toml", "--format", "csv")
        .stdout.splitlines()[1]
        .startswith("1,birch ply,hole,climb,10,1,")
    )


def test_the_environment_names_the_table(run, tmp_path):
    (tmp_path / "t.toml").write_text(GOOD)
    for command in ("show", "check"):
        assert run(command, env={"ROUNDWRIGHT_TABLE": "t.toml"}).exit_code == 0
        assert run(command).exit_code == 2


@pytest.mark.parametrize("command", ["show", "check"])
@pytest.mark.parametrize("data", [None, b"\xff\xfe\x00a\x00", b"a\xffb", b"PK\x03\x04\0\0", b"", b"a = "])
def test_what_is_no_table_is_refused_in_plain_words(run, tmp_path, command, data):
    if data is not None:
        (tmp_path / "t.toml").write_bytes(data)
    done = run(command, "-t", "t.toml")
    assert done.exit_code == 1
    assert "t.toml" in done.output and "Traceback" not in done.output
    assert done.exception is None or isinstance(done.exception, SystemExit)
    assert command == "check" or done.stdout == ""


def test_show_of_a_wrong_table_is_refused_and_prints_nothing(run, tmp_path):
    (tmp_path / "t.toml").write_text(GOOD.replace("number = 1", "nummer = 1").replace("tool = 1", "tool = 2"))
    done = run("show", "-t", "t.toml")
    assert done.exit_code == 1 and done.stdout == ""
    assert "t.toml:6: tool 1, nummer" in done.stderr and 'Did you mean "number"' in done.stderr

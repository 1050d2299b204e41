"""`roundwright correct`: what goes where, how it ends, and what is refused."""

from __future__ import annotations

import csv
import io
import json
import stat

import jsonschema
import pytest
from msgspec.structs import fields

import outcomes
from command import run
from roundwright import pipeline
from roundwright.settings import Settings
from roundwright.shared import shared_text

T = ("correct", "-t", "router.toml")


def files(folder):
    return sorted(path.name for path in folder.iterdir())


BEFORE = ["open.nc", "panel.nc", "router.toml"]


def refused(result, status, *words):
    """The run ended with the status and one message that holds the words; nothing came out."""
    assert result.status == status, result
    assert result.out == b""
    assert "Traceback" not in result.err
    for word in words:
        assert word in result.err


def test_a_dry_run_lists_on_standard_output_and_writes_nothing(shop):
    result = run(*T, "--dry-run", "panel.nc")
    assert (result.status, result.err) == (0, "")
    text = result.out.decode()
    assert "2 circular features: 2 corrected" in text
    assert "C1 hole   20.000" in text
    assert files(shop) == BEFORE


def test_a_dry_run_in_json_follows_the_schema(shop):
    result = run(*T, "-n", "--format", "json", "panel.nc")
    shown = json.loads(result.out)
    jsonschema.validate(shown, json.loads(shared_text("schemas", "roundwright.listing-1.json")))
    assert shown["table"] == {"name": "shop-router", "file": "router.toml", "material": "birch ply"}
    assert [f["status"] for f in shown["features"]] == ["corrected", "corrected"]
    assert shown["features"][0]["correction"]["corrected_diameter"] == pytest.approx(20.150754, abs=1e-6)


def test_a_dry_run_in_csv_has_a_row_a_feature(shop):
    result = run(*T, "-n", "--format", "csv", "panel.nc")
    rows = list(csv.DictReader(io.StringIO(result.out.decode(), newline="")))
    assert [row["id"] for row in rows] == ["C1", "C2"]


def test_a_dry_run_works_without_a_table(shop):
    result = run("correct", "-n", "--diameter", "1=6mm", "--format", "json", "panel.nc")
    assert result.status == 0
    assert {f["reason"] for f in json.loads(result.out)["features"]} == {"no-table"}


def test_file_pipe_and_in_place_give_the_same_bytes(shop):
    original = (shop / "panel.nc").read_bytes()
    piped = run(*T, given=original)
    dashed = run(*T, "-o", "-", "-", given=original)
    named = run(*T, "-o", "out.nc", "panel.nc")
    assert [r.status for r in (piped, dashed, named)] == [0, 0, 0]
    assert named.out == b""
    assert piped.out == dashed.out == (shop / "out.nc").read_bytes()
    assert piped.out != original
    assert run(*T, "--in-place", "panel.nc").status == 0
    assert (shop / "panel.nc").read_bytes() == piped.out
    assert (shop / "panel.nc.bak").read_bytes() == original


def test_the_listing_of_a_run_is_the_dry_run_s_on_standard_error(shop):
    listed = run(*T, "-n", "panel.nc").out.decode()
    result = run(*T, "-o", "out.nc", "panel.nc")
    assert listed.rstrip("\n") in result.err
    assert "Wrote out.nc. Run it in the air first" in result.err


def test_json_stands_alone_on_standard_error(shop):
    listed = json.loads(run(*T, "-n", "--format", "json", "panel.nc").out)
    result = run(*T, "--format", "json", "-o", "out.nc", "panel.nc")
    assert json.loads(result.err) == listed


def test_in_place_keeps_every_backup_and_the_permissions(shop):
    (shop / "panel.nc").chmod(0o640)
    (shop / "panel.nc.bak").write_bytes(b"older")
    run(*T, "--in-place", "panel.nc")
    assert (shop / "panel.nc.bak").read_bytes() == b"older"
    assert (shop / "panel.nc.bak2").exists()
    assert stat.S_IMODE((shop / "panel.nc").stat().st_mode) == 0o640


def test_a_corrected_program_is_refused_but_listed(shop):
    run(*T, "-o", "out.nc", "panel.nc")
    refused(run(*T, "out.nc"), 1, "out.nc", "corrected already", "--again")
    assert json.loads(run(*T, "-n", "--format", "json", "out.nc").out)["program"]["stamped"]
    assert run(*T, "--again", "out.nc").out


def test_without_stamp_no_line_is_added(shop):
    stamped, bare = run(*T, "panel.nc").out, run(*T, "--no-stamp", "panel.nc").out
    assert stamped.count(b"\n") == bare.count(b"\n") + 1
    assert b"roundwright" in stamped
    assert b"roundwright" not in bare


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("correct", "panel.nc"), "table new"),
        ((*T, "-n", "-o", "out.nc", "panel.nc"), "--dry-run"),
        ((*T, "-n", "--in-place", "panel.nc"), "--dry-run"),
        ((*T, "--in-place", "-o", "out.nc", "panel.nc"), "not both"),
        ((*T, "--in-place"), "PROGRAM"),
        ((*T, "-o", "panel.nc", "panel.nc"), "--in-place"),
        ((*T, "-o", "./panel.nc", "panel.nc"), "--in-place"),
        ((*T, "-o", "router.toml", "panel.nc"), "table"),
        ((*T, "--measured", "20=19.9", "panel.nc"), "--measured"),
        ((*T, "--limit", "0", "panel.nc"), "above zero"),
        ((*T, "--diameter", "6", "panel.nc"), "TOOL=DIAMETER"),
        ((*T, "--side", "round", "panel.nc"), "hole, boss or groove"),
        ((*T, "--side", "hole", "--side", "boss", "panel.nc"), "twice"),
        ((*T, "--tool", "1=2", "--tool", "1=3", "panel.nc"), "twice"),
        ((*T, "--only", "all", "panel.nc"), "length"),
        ((*T, "--format", "xml", "panel.nc"), "xml"),
        ((*T, "--colour", "panel.nc"), "--colour"),
        ((*T, "panel.nc", "open.nc"), "open.nc"),
    ],
)
def test_wrong_usage_ends_with_2_and_changes_nothing(shop, arguments, word):
    before = (shop / "panel.nc").read_bytes()
    refused(run(*arguments), 2, word)
    assert files(shop) == BEFORE
    assert (shop / "panel.nc").read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((*T, "missing.nc"), ["missing.nc", "no such file"]),
        (("correct", "-t", "missing.toml", "panel.nc"), ["missing.toml", "no such file"]),
        (("correct", "-t", "panel.nc", "panel.nc"), ["panel.nc:"]),
        ((*T, "."), ["directory"]),
        ((*T, "-o", "no/such/folder.nc", "panel.nc"), ["no/such/folder.nc", "no such file"]),
        ((*T, "-o", ".", "panel.nc"), ["directory"]),
        ((*T, "--skip", "C9", "panel.nc"), ["C9", "--dry-run"]),
        ((*T, "--only", "c9", "panel.nc"), ["C9", "--dry-run"]),
        ((*T, "--side", "C9=hole", "panel.nc"), ["C9", "--dry-run"]),
        ((*T, "--tool", "7", "panel.nc"), ["7"]),
    ],
)
def test_what_cannot_be_is_refused_with_1(shop, arguments, words):
    refused(run(*arguments), 1, *words)
    assert files(shop) == BEFORE


@pytest.mark.parametrize("data", [b"", "G21\nG1 X1\n".encode("utf-16")], ids=["empty", "utf-16"])
def test_what_is_no_program_is_refused(shop, data):
    refused(run(*T, given=data), 1, "standard input")


def test_strict_refuses_the_program_and_names_what_lacks(shop):
    refused(run(*T, "--strict", "open.nc"), 3, "C3 (side-unknown)", "--skip")
    refused(run(*T, "--strict", "-o", "out.nc", "open.nc"), 3)
    assert files(shop) == BEFORE
    assert run(*T, "--strict", "--skip", "C3", "open.nc").status == 0
    assert run(*T, "open.nc").status == 0
    dry = run(*T, "--strict", "-n", "open.nc")
    assert dry.status == 3
    assert b"3 circular features" in dry.out


def test_the_table_may_come_from_the_environment(shop):
    result = run("correct", "panel.nc", env={"ROUNDWRIGHT_TABLE": "router.toml"})
    assert result.out == run(*T, "panel.nc").out


def test_measured_circles_serve_for_a_table_and_the_text_to_keep_them_gives_the_same(shop):
    arguments = ("-m", "birch ply", "--no-stamp")
    first = run("correct", "--measured", "20=19.9", "--diameter", "1=6", *arguments, "panel.nc")
    assert first.status == 0
    assert "no uncertainty" in first.err
    text = first.err[first.err.index("schema =") : first.err.index("panel.nc: ")]
    (shop / "kept.toml").write_text(text, encoding="utf-8")
    second = run("correct", "-t", "kept.toml", *arguments, "panel.nc")
    assert second.status == 0, second.err
    assert first.out == second.out != (shop / "panel.nc").read_bytes()


def test_warnings_go_to_standard_error(shop, monkeypatch):
    made = outcomes.outcome(warnings=("mind the gap",))
    monkeypatch.setattr(pipeline, "run", lambda *_, **__: made)
    result = run(*T, "-n", "panel.nc")
    assert result.err == "roundwright: warning: mind the gap\n"
    assert b"mind the gap" not in result.out


def settings_of(monkeypatch, *arguments, program="panel.nc"):
    """The settings that a dry run hands to the rooms."""
    seen = []
    made = outcomes.outcome()

    def note(traced, table, settings, *, dry):
        seen.append(settings)
        return made

    monkeypatch.setattr(pipeline, "run", note)
    result = run("correct", "-n", *arguments, program)
    assert result.status == 0, result.err
    return seen[0]


def test_a_bare_length_does_not_have_the_program_read_twice(shop, monkeypatch):
    read, names = pipeline.read_program, []

    def noted(data, name, **how):
        names.append(name)
        return read(data, name, **how)

    monkeypatch.setattr(pipeline, "read_program", noted)
    result = run("correct", "-n", "--limit", "0.5", "panel.nc")
    assert result.status == 0, result.err
    assert names == ["panel.nc"]


def test_no_option_is_no_setting(shop, monkeypatch):
    assert settings_of(monkeypatch) == Settings()


def test_every_option_becomes_its_setting(shop, monkeypatch):
    typed = (
        "-m mdf --tool 1=2 --tool @2=upcut --tool 3 --diameter 1=1/4in --diameter upcut=6 "
        "--side c1=boss --side hole --cut climb --only c1 --skip 20.0 --arc-centres absolute --limit 0.5 "
        "--spread wall --no-stamp --again --measured 20=19.9 --measured 30=29.8"
    )
    settings = settings_of(monkeypatch, *typed.split())
    assert settings == Settings(
        material="mdf",
        measured=((20.0, 19.9), (30.0, 29.8)),
        measured_inch=False,
        tools={1: "2", "@2": "upcut", None: "3"},
        diameters={"1": 6.35, "upcut": 6.0},
        sides={"C1": "boss"},
        side="hole",
        cut="climb",
        only=("C1",),
        skip=("20.0",),
        arc_centres="absolute",
        limit=0.5,
        spread="wall",
        stamp=False,
        again=True,
    )
    assert {f.name for f in fields(Settings)} >= {"strict", "targets"}, "those two: see the tests of strict"


def test_lengths_without_a_unit_are_the_program_s(shop, monkeypatch):
    inches = (shop / "panel.nc").read_text().replace("G21", "G20")
    (shop / "inch.nc").write_text(inches)
    lengths = ("--diameter", "1=0.25", "--limit", "0.02", "--measured", "3/4=0.745")
    settings = settings_of(monkeypatch, *lengths, program="inch.nc")
    assert settings.diameters == {"1": 6.35}
    assert settings.limit == pytest.approx(0.508)
    assert (settings.measured, settings.measured_inch) == (((0.75, 0.745),), True)
    mixed = settings_of(monkeypatch, "--measured", "3/4in=0.745in", "--measured", "20mm=19.9mm")
    assert (mixed.measured, mixed.measured_inch) == (((19.05, 18.923), (20.0, 19.9)), False)


def test_a_program_in_two_units_wants_them_said(shop):
    both = (shop / "panel.nc").read_text().replace("M30", "G20\nG0 X1 Y1\nM30")
    (shop / "both.nc").write_text(both)
    refused(run(*T, "--limit", "0.5", "both.nc"), 1, "both.nc", "0.25in")
    assert run(*T, "--limit", "0.5mm", "both.nc").status == 0


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_what_a_shell_re_encoded_is_refused_with_the_cure(shop, encoding):
    """The usual shell of one system makes UTF-16 of what a command prints into a file."""
    text = (shop / "panel.nc").read_text().replace("\n", "\r\n").encode(encoding)
    (shop / "shell.nc").write_bytes(text)
    refused(run(*T, "shell.nc"), 1, "shell.nc: ", "UTF-16", "re-encoded", "-o", "plain text")
    refused(run(*T, "-n", given=text), 1, "standard input: ", "UTF-16", "-o")
    refused(run(*T, "--in-place", "shell.nc"), 1, "UTF-16")
    assert (shop / "shell.nc").read_bytes() == text


def test_a_stamped_program_is_refused_however_it_comes_and_stays_as_it_is(shop):
    run(*T, "-o", "out.nc", "panel.nc")
    stamped = (shop / "out.nc").read_bytes()
    for data in (stamped, stamped.replace(b"\n", b"\r\n"), b"\xef\xbb\xbf" + stamped, b"\n" + stamped):
        refused(
            run(*T, given=data), 1, "standard input: ", "corrected already", "original program", "--again"
        )
    refused(run(*T, "--in-place", "out.nc"), 1, "out.nc: ", "--again")
    refused(run(*T, "-o", "twice.nc", "out.nc"), 1, "--again")
    assert (shop / "out.nc").read_bytes() == stamped
    assert not (shop / "twice.nc").exists()
    twice = run(*T, "--again", "out.nc")
    assert twice.status == 0
    assert twice.out.count(b"(roundwright") == 2  # each correction says so
    refused(run(*T, given=twice.out), 1, "corrected already")


def test_without_its_stamp_a_corrected_program_looks_corrected(shop):
    once = run(*T, "--no-stamp", "panel.nc").out
    listed = json.loads(run(*T, "-n", "--format", "json", given=once).out)
    assert {f["reason"] for f in listed["features"]} == {"looks-corrected"}
    assert all("--again" in f["why"] for f in listed["features"])
    assert run(*T, given=once).out == once
    assert run(*T, "--again", given=once).out != once


@pytest.mark.parametrize("how", ["hard link", "symbolic link", "other spelling"])
def test_the_program_under_another_name_is_no_output(shop, how):
    target = shop / "same.nc"
    if how == "hard link":
        target.hardlink_to(shop / "panel.nc")
    elif how == "symbolic link":
        target.symlink_to(shop / "panel.nc")
    else:
        (shop / "sub").mkdir()
        target = shop / "sub" / ".." / "panel.nc"
    before = (shop / "panel.nc").read_bytes()
    refused(run(*T, "-o", target, "panel.nc"), 2, "--in-place")
    assert (shop / "panel.nc").read_bytes() == before


def test_a_refused_program_leaves_an_older_output_and_makes_no_backup(shop):
    (shop / "out.nc").write_bytes(b"(older)\n")
    (shop / "long.nc").write_bytes(b"G1 X1" + b" " * 70_000 + b"\n")
    refused(run(*T, "-o", "out.nc", "long.nc"), 1, "long.nc:1: ", "65,536 characters")
    refused(run(*T, "--in-place", "long.nc"), 1, "long.nc:1: ")
    assert (shop / "out.nc").read_bytes() == b"(older)\n"
    assert files(shop) == sorted([*BEFORE, "out.nc", "long.nc"])


def test_a_stamped_program_is_refused_before_anything_else_is_asked_of_it(shop):
    """Even one that can no longer be planned says that it is corrected, and not what else is the matter."""
    run(*T, "-o", "out.nc", "panel.nc")
    data = (shop / "out.nc").read_bytes() + b"G2 X57 Y40 I0 J0\n" * 3
    refused(run(*T, given=data), 1, "corrected already")
    refused(run(*T, "--tool", "7", given=data), 1, "corrected already")

"""Every block of code in the documents is run, in its order, and prints what stands there, to the letter."""

from __future__ import annotations

import datetime
import re
import shlex
import shutil
import sys
from math import hypot
from pathlib import Path

import pytest

from command import run
from source_tree import ROOT

DOCUMENTS = ("README.md", "DEVELOPERS.md", "samples/README.md", "samples/calibrate.md")
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$|((?:^ {4}\S[^\n]*\n)+)", re.MULTILINE | re.DOTALL)
#: what sets up an environment of its own: `.ci/run` runs the one, test_start below the commands of the other.
ELSEWHERE = {"python3 tests/run.py", "python3 samples/start.py"}
#: drawings and formulas, by their first lines.
DRAWN = ("bytes → read → trace", "D0   = D + c")
#: the answers typed in the README's session with `measure`: C1, then nothing, C5 with a slip, then nothing.
TYPED = ["", "", "10.02", "10.01", "", "", *[""] * 6, "35.8", "n", "34.98", "34.99", "", "", *[""] * 10, ""]


def text_of(document: str) -> str:
    return (ROOT / document).read_text(encoding="utf-8")


def blocks(document: str) -> list[tuple[str, str]]:
    """The kind and text of each block: `console`, `diff`, "" for a fence without a name, `indented`."""
    return [
        ("indented", re.sub(r"^ {4}", "", found[3], flags=re.MULTILINE)) if found[3] else (found[1], found[2])
        for found in BLOCK.finditer(text_of(document))
    ]


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A shop's folder as the documents see it: the samples, a table, a program."""
    shutil.copytree(ROOT / "samples", tmp_path / "samples")
    shutil.copy(ROOT / "samples" / "shop-router.toml", tmp_path / "router.toml")
    shutil.copy(ROOT / "samples" / "bearing-block.nc", tmp_path / "panel.nc")
    for name in ("drawings", "ready"):
        (tmp_path / name).mkdir()
    monkeypatch.chdir(tmp_path)
    return tmp_path


def matches(shown: str, printed: str) -> bool:
    """Whether a run printed what is shown; a line of three dots stands for any lines."""
    return re.fullmatch(r"(?:.*\n)*?".join(map(re.escape, shown.split("...\n"))), printed) is not None


def console(text: str) -> None:
    """A command and what it prints; a session of questions has no command of its own."""
    if not text.startswith("$ roundwright "):
        session(text)
        return
    command, _, shown = text.removeprefix("$ roundwright ").partition("\n")
    result = run(*shlex.split(command))
    assert result.status == 0, result.err
    printed = result.out.decode() + result.err
    assert matches(shown, printed), printed


def session(text: str) -> None:
    """The questions of `measure`: every line but the answers stands in what is said, in this order."""
    command = ("measure", "panel.json", "-t", "router.toml", "--cut-file", "panel-c.nc")
    said = run(*command, given="".join(f"{answer}\n" for answer in TYPED).encode()).err
    at = 0
    for line in text.splitlines():
        asked, colon, answer = re.sub(r"\d{4}-\d\d-\d\d", str(datetime.date.today()), line).partition(": ")
        shown = asked + colon if answer in TYPED else line
        if "Keep it?" in line:
            shown = line.removesuffix(" n")
        if line != "...":
            assert said.find(shown.rstrip(), at) >= 0, line
            at = said.find(shown.rstrip(), at)


def command_line(line: str, shop: Path) -> None:
    """A line that is to be typed."""
    program, *arguments = shlex.split(line)
    if program == "cp":
        shutil.copy(*arguments)
    elif program == "lint-imports" or line.startswith("pytest "):
        return  # test_import_contracts.py; this very run
    else:
        assert program == "roundwright", line
        (shop / arguments[0]).unlink(missing_ok=True)
        result = run(*arguments, given=b"\n" * 60)
        assert result.status == 0, (line, result.err)


def diff(text: str, shop: Path) -> None:
    """Lines that the corrected program has in place of the original's."""
    before = (shop / "samples" / "bearing-block.nc").read_text().splitlines()
    after = (shop / "bearing-block-c.nc").read_text().splitlines()
    for line in text.splitlines():
        found = line[1:] in before, line[1:] in after
        assert found == ((False, True) if line[0] == "+" else (True, False)), line


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_block_runs(shop, document):
    found = blocks(document)
    assert found
    for kind, text in found:
        if kind == "console":
            console(text)
        elif kind == "diff":
            diff(text, shop)
        elif kind == "indented":
            for line in text.splitlines():
                if line not in ELSEWHERE:
                    command_line(line, shop)
        else:
            assert text.startswith(DRAWN), text


def test_start_runs_the_readme_s_first_command(shop, monkeypatch, capfd):
    monkeypatch.syspath_prepend(str(shop / "samples"))
    import start

    monkeypatch.setattr(start, "HERE", shop)
    monkeypatch.setattr(start, "install", lambda interpreter, what: None)
    assert start.sample(sys.executable)
    assert "10 circular features: 10 corrected" in capfd.readouterr().out
    assert (shop / start.CORRECTED).is_file()


def test_the_worked_example_is_worked_out_right():
    """By hand, from the figures in the README's own table: nothing of the product is used."""
    part = text_of("README.md").partition("How that was worked out")[2].partition("A material that")[0]
    rows = re.findall(
        r"^\| (\d+) \| ([\d.]+), ([\d.]+) \| ([\d.]+) \| (-[\d.]+) \| (-[\d.]+)? ?\|$", part, re.M
    )
    assert len(rows) == 4
    errors: dict[float, list[float]] = {}
    for programmed, x, y, diameter, error, mean in rows:
        wide = (hypot(float(x), 0.3) + hypot(float(y), 0.3)) / 2
        errors.setdefault(float(programmed), []).append(wide - float(programmed))
        assert (diameter, error) == (f"{wide:.4f}", f"{wide - float(programmed):.4f}")
        if mean:
            both = errors[float(programmed)]
            assert mean == f"{sum(both) / len(both):.4f}"
    at_10, at_20 = (sum(errors[d]) / 2 for d in (10.0, 20.0))
    slope = (at_20 - at_10) / 10.0
    x = 10.0 - at_10 / (1.0 + slope)
    assert f"x - {-at_10:.4f} - {-slope:.5f}" in part
    assert f"10 + {-at_10:.4f} / (1 - {-slope:.5f}) = {x:.3f}" in part
    assert f"2 + {x - 10:.4f} / 2 = {2 + (x - 10) / 2:.3f}" in part
    table = (ROOT / "samples" / "shop-router.toml").read_text(encoding="utf-8")
    assert all(f"programmed = {p}.0, x = {a}, y = {b}" in table for p, a, b, *_ in rows)


def test_another_output_would_be_seen():
    assert matches("a\n...\nd\n", "a\nb\nc\n\nd\n") and matches("a\n", "a\n")
    assert not matches("a\n...\nd\n", "a\nb\ne\n") and not matches("a\n", "a\nb\n")
    assert [kind for kind, _ in blocks("README.md")].count("console") >= 4

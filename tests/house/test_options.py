"""The help, the README and the contract name the same commands and the same options, each way."""

from __future__ import annotations

import re
from collections.abc import Iterator

import click
import pytest

from command import commands_below
from source_tree import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
#: the binding promise to scripts; it lies beside the repository, not in it.
CONTRACT = ROOT.parent / "shared" / "design" / "contract.md"
COMMANDS = {path: one for path, one in commands_below() if not isinstance(one, click.Group)}
#: options that the README names once for all commands, and what the contract leaves to people's comfort.
EVERYWHERE = {"-h", "--help", "--version"}
COMFORT = {"-q", "--quiet", "-v", "--verbose"}
OPTION = re.compile(r"(?<![\w/.<-])(--?[a-zA-Z][\w-]*)")


def of_the_help(path: tuple[str, ...]) -> set[str]:
    options = (p for p in COMMANDS[path].params if isinstance(p, click.Option))
    return {name for option in options for name in (*option.opts, *option.secondary_opts)} - EVERYWHERE


def named(text: str) -> set[str]:
    """The options that stand in code quotes."""
    return {
        name for quoted in re.findall(r"`([^`\n]+)`", text) for name in OPTION.findall(quoted)
    } - EVERYWHERE


def section(text: str, head: str) -> str:
    """What stands under a headline."""
    found = re.search(rf"^## {head}.*?$(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    assert found, head
    return found[1]


def first_column(text: str) -> str:
    """The first cells of a table's rows that begin with an option."""
    rows = re.findall(r"^\| (`-.*?) (?<!\\)\| ", text, re.MULTILINE)
    assert rows
    return "\n".join(rows)


def of_the_readme(path: tuple[str, ...]) -> set[str]:
    """The options that the README's part on a command names."""
    coupon, measure = section(README, "Options of `coupon`").split("`roundwright measure RECORD`")
    tables = {
        ("correct",): section(README, "Options of `roundwright correct"),
        ("coupon",): coupon,
        ("measure",): measure,
        ("watch",): section(README, "A watched folder"),
    }
    if path in tables:
        return named(first_column(tables[path]))
    row = re.search(rf"^\| `roundwright {' '.join(path)}[ `].*$", README, re.MULTILINE)
    assert row, path
    each = set() if path == ("table", "new") else {"-t", "--table"}
    return named(row[0]) | each


def choices(path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    for param in COMMANDS[path].params:
        if isinstance(param.type, click.Choice):
            yield from ((param.opts[-1], str(choice)) for choice in param.type.choices)


@pytest.mark.parametrize("path", COMMANDS, ids=" ".join)
def test_help_and_readme_name_the_same_options(path):
    assert of_the_readme(path) == of_the_help(path)


@pytest.mark.parametrize("path", COMMANDS, ids=" ".join)
def test_the_readme_names_every_choice(path):
    rows = [line.replace("\\|", "|") for line in README.splitlines() if line.startswith("| ")]
    for option, choice in choices(path):
        assert any(f"`{option}" in row and re.search(rf"\b{choice}\b", row) for row in rows), (option, choice)


def test_the_readme_names_no_command_that_is_not_there():
    told = set(re.findall(r"`roundwright ((?:table )?[a-z]+)\b", README))
    assert told == {" ".join(path) for path in COMMANDS}


@pytest.mark.skipif(not CONTRACT.is_file(), reason="the contract is not here")
def test_the_contract_s_commands_and_options_are_there_and_no_others():
    text = CONTRACT.read_text(encoding="utf-8")
    rows = set(re.findall(r"^\| `roundwright ([a-z]+)", text, re.MULTILINE))
    assert rows == {path[0] for path in COMMANDS}
    assert named(section(text, "`correct`")) | {"--units"} == of_the_help(("correct",)) - COMFORT
    usages = section(text, "`coupon`, `measure`").splitlines()
    for name in ("coupon", "measure"):
        usage = next(line for line in usages if line.startswith(f"- `roundwright {name} "))
        assert named(usage) <= of_the_help((name,)), name
    for name in ("add", "check", "show", "plot"):
        quoted = re.findall(rf"`(?:roundwright )?table {name} ([^`]*)`", text)
        assert quoted and all(
            set(OPTION.findall(usage)) <= of_the_help(("table", name)) for usage in quoted
        ), name
    (diagnose,) = re.findall(r"`roundwright diagnose ([^`]*)`", text)
    assert set(OPTION.findall(diagnose)) <= of_the_help(("diagnose",))


def test_a_missing_option_would_be_seen():
    assert named("`-t`, `--table FILE` and --loose") == {"-t", "--table"}
    assert first_column("| `--one X` | like `--two` |\n") == "`--one X`"

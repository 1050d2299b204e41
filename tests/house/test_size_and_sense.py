"""Functions and modules stay small, what is public is documented, and every test can fail."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

from source_tree import ROOT, called, files_of_tests, functions, length, modules, tree_of

FUNCTION_LINES = 40
MODULE_LINES = 400
RAISING = {"raises", "warns", "fail"}


def test_functions_and_modules_stay_small():
    long = [
        f"{one.name}.{function.name}: {length(function)} lines"
        for one in modules()
        for function in functions(one.tree)
        if length(function) > FUNCTION_LINES
    ]
    long += [f"{one.name}: {one.lines} lines" for one in modules() if one.lines > MODULE_LINES]
    assert long == []


def test_modules_have_names_of_the_trade():
    names = {part for one in modules() for part in one.name.split(".")}
    assert not names & {"utils", "util", "helpers", "helper", "manager", "misc", "common", "base"}


@pytest.mark.parametrize("one", modules(), ids=lambda one: one.name or "face")
def test_what_is_public_is_documented_and_typed(one):
    assert ast.get_docstring(one.tree), "a module says its room in a sentence"
    for node in one.tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            assert ast.get_docstring(node), f"{one.name}.{node.name} says nothing"
        if isinstance(node, ast.FunctionDef):
            assert node.returns is not None, f"{one.name}.{node.name} has no type"


@cache
def checkers() -> set[str]:
    """The functions in the tests that assert, or call one that does."""
    bodies = {f.name: f for path in files_of_tests() for f in functions(tree_of(path))}
    found: set[str] = set()
    while True:
        more = {name for name, f in bodies.items() if name not in found and asserts(f, found)}
        if not more:
            return found
        found |= more


def asserts(function: ast.FunctionDef | ast.AsyncFunctionDef, known: set[str]) -> bool:
    """Whether something in it can fail the test."""
    if any(isinstance(node, ast.Assert) for node in ast.walk(function)):
        return True
    handed = {argument.arg for argument in function.args.args}  # a check that comes as a parameter
    return bool(set(called(function)) & (known | RAISING | handed))


@pytest.mark.parametrize("path", files_of_tests(), ids=lambda path: str(path.relative_to(ROOT / "tests")))
def test_every_test_asserts(path: Path):
    known = checkers()
    idle = [f.name for f in functions(tree_of(path)) if f.name.startswith("test_") and not asserts(f, known)]
    assert idle == []


def test_test_modules_have_names_of_their_own():
    names = [path.name for path in files_of_tests() if path.name.startswith("test_")]
    assert sorted(names) == sorted(set(names))


def test_an_idle_test_would_be_seen():
    idle = next(functions(ast.parse("def test_nothing():\n    x = compute()\n")))
    busy = next(functions(ast.parse("def test_much():\n    check_all(3)\n")))
    assert not asserts(idle, set())
    assert asserts(busy, {"check_all"})


def test_what_tests_share_lies_in_support():
    assert {path.name for path in (ROOT / "tests").glob("*.py")} == {"run.py", "conftest.py"}
    tested = [path.name for path in (ROOT / "tests" / "support").glob("test_*.py")]
    assert tested == []


def test_ci_runs_every_test_once():
    text = (ROOT / "tests" / "run.py").read_text(encoding="utf-8")
    parts = {
        target.id: ast.literal_eval(node.value)
        for node in ast.parse(text).body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name) and target.id in ("ROOMS", "LONG")
    }
    folder = ROOT / "tests"
    tested = {p.relative_to(folder).parts[0] for p in files_of_tests() if p.name.startswith("test_")}
    rooms, long = (set(parts[name].split()) for name in ("ROOMS", "LONG"))
    assert tested | {"whole/test_cases.py"} == rooms | long and not rooms & long

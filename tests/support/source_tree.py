"""The source as the house tests look at it: modules, their imports, their functions."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "roundwright"
PACKAGE = "roundwright"


@dataclass(frozen=True)
class Module:
    """One source file: `name` dotted, without the package's own."""

    name: str
    tree: ast.Module
    lines: int

    @property
    def room(self) -> str:
        """The first part of the name; "" for the package itself."""
        return self.name.partition(".")[0]


def module(name: str, text: str) -> Module:
    return Module(name, ast.parse(text), text.count("\n"))


@cache
def modules() -> list[Module]:
    """Every module of the package."""
    found = []
    for path in sorted(SOURCE.rglob("*.py")):
        parts = path.relative_to(SOURCE).with_suffix("").parts
        name = ".".join(part for part in parts if part != "__init__")
        found.append(module(name, path.read_text(encoding="utf-8")))
    return found


def files_of_tests() -> list[Path]:
    return sorted((ROOT / "tests").rglob("*.py"))


@cache
def tree_of(path: Path) -> ast.Module:
    """A file's tree; empty where its text is broken, which its own run will tell."""
    try:
        return ast.parse(path.read_text(encoding="utf-8"))
    except SyntaxError:
        return ast.Module([], [])


def imports(tree: ast.AST) -> Iterator[str]:
    """The package's modules that are imported anywhere in the tree, names as `Module.name`."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the rooms"
            base = node.module or ""
            if base == PACKAGE or base.startswith(PACKAGE + "."):
                inner = base.removeprefix(PACKAGE).removeprefix(".")
                yield from (f"{inner}.{name.name}".removeprefix(".") for name in node.names)
        elif isinstance(node, ast.Import):
            for name in node.names:
                if name.name.split(".")[0] == PACKAGE:
                    yield name.name.removeprefix(PACKAGE).removeprefix(".")


def functions(tree: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def length(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines from `def` to the last one."""
    return (function.end_lineno or function.lineno) - function.lineno + 1


def called(node: ast.AST) -> Iterator[str]:
    """The names of what is called in it: `f` for f(…), `m` for x.m(…)."""
    for call in ast.walk(node):
        if isinstance(call, ast.Call):
            if isinstance(call.func, ast.Name):
                yield call.func.id
            elif isinstance(call.func, ast.Attribute):
                yield call.func.attr

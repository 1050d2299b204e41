"""Each room knows only the rooms before it, and only two modules open files."""

from __future__ import annotations

import ast

import pytest

from source_tree import Module, called, imports, module, modules

GROUND = {"errors", "settings", "units"}
#: what each room may import beside itself and the ground.
LAW = {
    "read": {"memory"},
    "trace": {"read"},
    "find": {"read", "trace", "packed"},
    "plan": {"read", "trace", "find", "calibration", "packed"},
    "rewrite": {"read", "trace", "find", "plan"},
    "prove": {"read", "trace", "find", "plan"},
    "calibration": {"lazy"},
    "lazy": set(),
    "memory": set(),
    "packed": set(),
    "tooling": {"trace", "calibration"},
    "version": set(),
    "shared": set(),
    "pipeline": {
        *("read", "trace", "find", "plan", "rewrite", "prove", "calibration", "tooling", "shared", "version"),
        "memory",
    },
    "coupon": {"find", "plan", "calibration", "pipeline"},
    "report": {"read", "trace", "find", "plan", "calibration", "pipeline", "coupon", "version"},
    "cli": {"read", "trace", "calibration", "coupon", "report", "pipeline", "version", "shared"},
    "__main__": {"cli"},
    "": {"read", "trace", "find", "plan", "rewrite", "prove", "calibration", "pipeline", "version", "lazy"},
    **dict.fromkeys(GROUND, GROUND),
}
#: report and coupon read the products of the rooms, they call no room.
TYPES = {"read.program", "trace.moves", "find.feature", "plan.plan", "pipeline", "calibration", "coupon"}
READERS = {"report", "coupon"}
OPENERS = {"cli.streams", "shared"}
OPENING = {"open", "read_text", "read_bytes", "write_text", "write_bytes", "fdopen", "loadtxt", "savetxt"}


def broken(one: Module) -> list[str]:
    """The imports of a module that the law does not allow."""
    if one.room not in LAW:
        return [f"{one.name}: the law does not know this room"]
    allowed = LAW[one.room] | GROUND | {one.room}
    found = []
    for name in imports(one.tree):
        if name.partition(".")[0] not in allowed:
            found.append(f"{one.name} imports {name}")
        if one.room in READERS and not any(
            name.startswith(kind) for kind in (*TYPES, "report", *GROUND, "version")
        ):
            found.append(f"{one.name} imports {name}, which is no type")
    return found


def files_opened(one: Module) -> list[str]:
    """What a module calls that opens files."""
    if one.name in OPENERS:
        return []
    calls = [node.func for node in ast.walk(one.tree) if isinstance(node, ast.Call)]
    direct = {f.id for f in calls if isinstance(f, ast.Name)}
    direct |= {f.attr for f in calls if isinstance(f, ast.Attribute) and ast.unparse(f.value) != "streams"}
    return [f"{one.name} calls {name}" for name in sorted(direct & OPENING)]


def cycle(edges: dict[str, set[str]]) -> list[str]:
    """Modules that import one another in a ring, at import time; empty where there are none."""
    done: set[str] = set()

    def walk(name: str, path: list[str]) -> list[str]:
        if name in path:
            return [*path[path.index(name) :], name]
        if name in done:
            return []
        for other in sorted(edges.get(name, ())):
            ring = walk(other, [*path, name])
            if ring:
                return ring
        done.add(name)
        return []

    return next((ring for name in sorted(edges) if (ring := walk(name, []))), [])


def at_import_time(tree: ast.Module) -> ast.Module:
    """The tree without functions and without what only a type checker sees."""
    kept = [node for node in tree.body if not isinstance(node, ast.FunctionDef | ast.If)]
    return ast.Module(kept, [])


@pytest.mark.parametrize("one", modules(), ids=lambda one: one.name or "face")
def test_a_room_knows_only_the_rooms_before_it(one):
    assert broken(one) == []


@pytest.mark.parametrize("one", modules(), ids=lambda one: one.name or "face")
def test_only_two_modules_open_files(one):
    assert files_opened(one) == []


def test_only_the_pipeline_and_the_face_call_the_rewriter_and_the_prover():
    for one in modules():
        used = {name.partition(".")[0] for name in imports(one.tree)} - {one.room}
        if one.room not in ("pipeline", ""):
            assert not used & {"rewrite", "prove"}, one.name


def test_no_module_imports_itself_in_a_ring():
    known = {one.name for one in modules()}
    edges = {}
    for one in modules():
        named = set(imports(at_import_time(one.tree)))
        edges[one.name] = {name if name in known else name.rpartition(".")[0] for name in named if name} - {
            one.name
        }
    assert cycle(edges) == []


def test_no_room_prints_or_looks_at_its_surroundings():
    for one in modules():
        if one.room in ("cli", "shared", "version", "__main__"):
            continue
        assert "print" not in set(called(one.tree)), one.name
        statements = [node for node in ast.walk(one.tree) if isinstance(node, ast.Import)]
        plain = {alias.name for node in statements for alias in node.names}
        assert not plain & {"sys", "os", "time", "random", "subprocess"}, one.name


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("read.scan", "from roundwright.trace import Moves"),
        ("find.side", "from roundwright.calibration.table import Table"),
        ("prove.promise", "def f():\n    from roundwright.rewrite.edit import apply\n"),
        ("calibration.curve", "import roundwright.read.program"),
        ("report.text", "from roundwright.find.census import find_features"),
        ("coupon.record", "from roundwright.find.census import find_features"),
        ("attic", "import math"),
    ],
)
def test_the_law_can_be_broken(name, text):
    assert broken(module(name, text))


def test_an_opened_file_and_a_ring_of_imports_would_be_seen():
    assert files_opened(module("plan.limit", "from pathlib import Path\nx = Path('a').read_text()"))
    assert cycle({"a": {"b"}, "b": {"c"}, "c": {"a"}}) == ["a", "b", "c", "a"]

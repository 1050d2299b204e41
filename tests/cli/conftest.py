"""A folder with a program and its machine's table."""

from __future__ import annotations

import pytest

import command
import outcomes

HOLES = outcomes.HEAD + outcomes.pocket(50, 40, (2, 4.5, 7)) + outcomes.pocket(120.5, 40, (2.5, 5))
PROGRAM = HOLES + "M30\n"
OPEN = HOLES + outcomes.lap(300, 40, 30) + "M30\n"


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """The folder, as the current one: panel.nc, open.nc (one circle of unknown side), router.toml."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "panel.nc").write_bytes(PROGRAM.encode())
    (tmp_path / "open.nc").write_bytes(OPEN.encode())
    (tmp_path / "router.toml").write_text(command.TABLE, encoding="utf-8")
    return tmp_path

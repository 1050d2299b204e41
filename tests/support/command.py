"""Runs the command line, in this process or in one of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
from click.testing import CliRunner

import roundwright
from roundwright.cli import main

TABLE = """\
schema = "roundwright.table/1"
[machine]
name = "shop-router"
units = "mm"
[defaults]
material = "birch ply"
[[tool]]
number = 1
diameter = 6.0
[[condition]]
tool = 1
material = "birch ply"
side = "hole"
cut = "climb"
readings = [
  { programmed = 10.0, diameter = 9.9 },
  { programmed = 30.0, diameter = 29.8 },
]
"""


def commands_below(
    command: click.Command = main, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command from this one on down, with its path."""
    yield path, command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            below = command.get_command(context, name)
            assert below is not None
            yield from commands_below(below, (*path, name))


@dataclass(frozen=True)
class Run:
    """How a run ended and what it said."""

    status: int
    out: bytes
    err: str


def run(*arguments: Any, given: bytes | None = None, env: dict[str, str] | None = None) -> Run:
    """Run in this process; nothing but the exit may fly."""
    plain = {"ROUNDWRIGHT_TABLE": None, **(env or {})}
    result = CliRunner().invoke(main, [str(a) for a in arguments], input=given, env=plain)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return Run(result.exit_code, result.stdout_bytes, result.stderr)


def surroundings(**more: str) -> dict[str, str]:
    """The environment of a process that is to find this same package, whatever folder it runs in."""
    plain = {name: value for name, value in os.environ.items() if name != "ROUNDWRIGHT_TABLE"}
    return plain | {"PYTHONPATH": str(Path(roundwright.__file__).parents[1])} | more


def start(*arguments: Any, **how: Any) -> subprocess.Popen[bytes]:
    """Start a process of its own, its three streams pipes where nothing else is asked for."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:  # as a shell starts what runs in the background
        signal.signal(signal.SIGINT, signal.default_int_handler)
    env = surroundings(**how.pop("env", {}))
    streams = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.PIPE) | how
    command = [sys.executable, "-m", "roundwright", *(str(a) for a in arguments)]
    return subprocess.Popen(command, env=env, **streams)

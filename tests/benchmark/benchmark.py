"""What big programs cost: whole runs of `correct`, against `sed`, the start of two libraries, and pygcode.

    python tests/benchmark/benchmark.py [--runs 7] [--lines 10000,100000,1000000,5000000] [MIX…]

Prints a Markdown table of medians: processor time of user and system, since other work on the machine
stretches the clock, and the peak of memory. The partners are timed in the same run, in turn with `correct`:
a `sed` pass that changes nothing, written to a file; `python -c "import click, numpy"`; and pygcode's `Line`
on a sample of the same lines, parse alone, reckoned up. MIX takes those whose name holds it.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import islice
from math import cos, radians, sin
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
LINES = (10_000, 100_000, 1_000_000, 5_000_000)
#: lines that pygcode parses, for a whole program takes it minutes.
SAMPLE = 20_000
MIB = 1 << 20
HEAD = "G21 G90 G17\nT1 M6\nM3 S16000\nG0 Z5.\n"
#: the shop's table, with readings for the cutter of these programs.
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
cut = "any"
readings = [{ programmed = 10.0, diameter = 9.9 }, { programmed = 60.0, diameter = 59.8 }]
"""


class Cost(NamedTuple):
    """Processor seconds and peak bytes of one process."""

    seconds: float
    memory: int


def bore(x: float, y: float, radius: float, depth: float) -> Iterator[str]:
    """One pass of a bore in two halves, entered from its middle."""
    yield f"G0 X{x:.3f} Y{y:.3f}"
    yield f"G1 Z{-depth:.3f} F300"
    yield f"G1 X{x + radius:.3f} Y{y:.3f} F900"
    yield f"G3 X{x - radius:.3f} Y{y:.3f} I{-radius:.3f} J0."
    yield f"G3 X{x + radius:.3f} Y{y:.3f} I{radius:.3f} J0."
    yield f"G1 X{x:.3f} Y{y:.3f}"
    yield "G0 Z5."


def carving(lines: int) -> Iterator[str]:
    """A relief in short straight moves, line by line, and a few bores: 95 % of the lines and more."""
    for k in range(min(12, lines // 1000)):
        yield from bore(20.0 + 30 * k, -50.0, 7.0, 3.0)
    for k in range(lines):
        row, column = divmod(k, 2000)
        x = column / 2 if row % 2 == 0 else (1999 - column) / 2
        depth = 1 + 0.4 * sin(x / 9) * cos(row / 7)
        yield f"G1 X{x:.3f} Y{row * 0.4:.3f} Z{-depth:.3f}"


def panel(lines: int) -> Iterator[str]:
    """Bores in a grid, each in three depths."""
    for k in range(lines // 21 + 1):
        for depth in (2.0, 4.0, 6.0):
            yield from bore(20.0 + 25 * (k % 400), 20.0 + 25 * (k // 400), 7.0 + k % 3, depth)


def chorded(lines: int) -> Iterator[str]:
    """Bores in a grid whose circles are written as 120 chords."""
    for k in range(lines // 125 + 1):
        x, y = 20.0 + 45 * (k % 300), 20.0 + 45 * (k // 300)
        yield f"G0 X{x:.3f} Y{y:.3f}"
        yield "G1 Z-3. F300"
        for step in range(121):
            angle = radians(3 * step)
            yield f"G1 X{x + 14 * cos(angle):.3f} Y{y + 14 * sin(angle):.3f}"
        yield f"G1 X{x:.3f} Y{y:.3f}"
        yield "G0 Z5."


def numbered(lines: int) -> Iterator[str]:
    """The carving with line numbers, a comment on every tenth line."""
    for k, line in enumerate(carving(lines)):
        yield f"N{10 * k + 10} {line}" + (f" (pass {k // 2000 + 1})" if k % 10 == 0 else "")


MIXES: dict[str, tuple[Callable[[int], Iterator[str]], str]] = {
    "carving": (carving, "\n"),
    "panel": (panel, "\n"),
    "chorded circles": (chorded, "\n"),
    "numbered, CRLF, comments": (numbered, "\r\n"),
}


def write_program(path: Path, mix: str, lines: int) -> None:
    """A program of this mix and length."""
    make, end = MIXES[mix]
    with path.open("w", newline="") as file:
        file.write(HEAD.replace("\n", end))
        file.writelines(line + end for line in islice(make(lines), lines - 6))
        file.write(f"G0 Z5.{end}M30{end}")


def cost(command: list[str], output: Path | None = None) -> Cost:
    """What one process costs; its errors are shown, and end the benchmark."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    with (output or Path(os.devnull)).open("wb") as out, tempfile.TemporaryFile() as err:
        process = subprocess.Popen(command, stdout=out, stderr=err, env=environment)
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode:
            err.seek(0)
            raise SystemExit(f"{command}: {err.read().decode()}")
    scale = 1 if sys.platform == "darwin" else 1024
    return Cost(used.ru_utime + used.ru_stime, used.ru_maxrss * scale)


def parse_cost(path: Path) -> float:
    """Seconds that pygcode's `Line` takes a line of this program."""
    from pygcode import Line

    with path.open() as file:
        sample = [line.strip() for line in islice(file, SAMPLE)]
    begin = time.process_time()
    for line in sample:
        Line(line)
    return (time.process_time() - begin) / len(sample)


def row(folder: Path, mix: str, lines: int, runs: int) -> str:
    """One line of the table."""
    program, output, table = folder / "program.nc", folder / "corrected.nc", folder / "table.toml"
    write_program(program, mix, lines)
    table.write_text(TABLE)
    run = [sys.executable, "-m", "roundwright", "correct", str(program), "-t", str(table), "-o", str(output)]
    start = [sys.executable, "-c", "import click, numpy"]
    ours, seds, starts = [], [], []
    for _ in range(runs):
        ours.append(cost(run))
        seds.append(cost(["sed", "s/^NULL//", str(program)], folder / "null.nc").seconds)
        starts.append(cost(start).seconds)
    parse = parse_cost(program) * lines
    seconds = statistics.median(one.seconds for one in ours)
    memory, size = max(one.memory for one in ours), program.stat().st_size
    return (
        f"| {mix} | {lines:,} | {size / 1e6:.1f} | {seconds:.2f} | {seconds / lines * 1e6:.2f} "
        f"| {seconds / statistics.median(seds):.1f} | {seconds / statistics.median(starts):.1f} "
        f"| {parse / seconds:.0f} | {memory / MIB:.0f} | {max(0, memory - 60 * MIB) / size:.1f} |"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("--runs", type=int, default=7)
    parser.add_argument("--lines", default=",".join(map(str, LINES)))
    parser.add_argument("mix", nargs="*")
    options = parser.parse_args()
    print(
        "| mix | lines | MB | CPU s | µs a line | × `sed` | × start | pygcode × | MiB | (MiB − 60) / input |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory() as folder:
        for mix in MIXES:
            if not options.mix or any(part in mix for part in options.mix):
                for lines in map(int, options.lines.split(",")):
                    print(row(Path(folder), mix, lines, options.runs), flush=True)


if __name__ == "__main__":
    main()

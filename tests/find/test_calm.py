"""Where nobody looks for circles of chords there are none."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from roundwright.find import calm as room
from roundwright.find.calm import Calm, Stretches, calm_of
from roundwright.find.chord import find_chord_rings
from roundwright.read import read_program
from roundwright.trace import Moves, trace_moves
from strategies import programs

SAGITTA = 0.05
CASES = sorted((Path(__file__).parents[1] / "whole" / "cases").glob("*/program.*"))
HEAD = "G21 G90 G17\nT1 M6\nM3 S9000\nG0 X0 Y0 Z5\nG1 Z-1 F300\n"


def everywhere(moves: Moves) -> Calm:
    """Nothing taken for calm, nor cut."""
    whole = Stretches(np.array([0, len(moves)]), np.array([False]))
    return Calm(moves, dict.fromkeys(range(3), whole))


def rows_of(moves: Moves, calm: Calm) -> list[tuple[int, ...]]:
    return [ring.rows for ring in find_chord_rings(moves, np.zeros(len(moves), np.bool_), SAGITTA, calm)]


def texts() -> list[bytes]:
    written = [programs(random.Random(seed)).data for seed in range(40)]
    return [*written, *(case.read_bytes() for case in CASES)]


@pytest.mark.parametrize("size", [16, 50])
def test_the_same_circles_are_found_in_short_stretches(size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "_STRETCH", size)
    found = calm = 0
    for text in texts():
        moves = trace_moves(read_program(text))
        expected = rows_of(moves, everywhere(moves))
        stretches = calm_of(moves)
        assert rows_of(moves, stretches) == expected
        found += len(expected)
        calm += sum(int(part.calm.sum()) for part in stretches.stretches.values())
    assert found > 100 and calm > 50


def test_what_has_changed_is_looked_at_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "_STRETCH", 16)
    seen = 0
    for seed in range(20):
        draw = random.Random(seed)
        text = programs(random.Random(seed)).data
        moves = trace_moves(read_program(text))
        calm = calm_of(moves)
        end, start = moves.end.copy(), moves.start.copy()
        for _ in range(4):
            row = draw.randrange(len(moves) - 1)
            end[row, :2] += draw.choice((-700_000_000, 300_000, 50_000_000))
            start[row + 1] = end[row]
        after = replace(moves, start=start, end=end)
        expected = rows_of(after, everywhere(after))
        assert rows_of(after, calm) == expected
        seen += len(expected)
    assert seen > 30


def test_a_raster_is_calm_and_a_circle_in_it_is_not() -> None:
    lines = [f"X{x / 2:g} Y{y:g}" for y in range(40) for x in range(1000)[:: 1 if y % 2 == 0 else -1]]
    raster = trace_moves(read_program((HEAD + "\n".join(lines)).encode()))
    assert calm_of(raster).stretches[2].calm.all()
    around = np.radians(np.arange(0, 361, 10))
    circle = [f"X{100 + 9 * np.cos(a):.4f} Y{9 + 9 * np.sin(a):.4f}" for a in around]
    text = HEAD + "\n".join((*lines[:20_000], *circle, *lines[20_000:]))
    moves = trace_moves(read_program(text.encode()))
    calm = calm_of(moves)
    assert 0 < calm.stretches[2].calm.sum() < len(calm.stretches[2].calm)
    assert [len(rows) for rows in rows_of(moves, calm)] == [36]

"""What many circles cost: work is counted, not timed, and twice the program asks for about twice the work."""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np
import pytest

from hostile_programs import HOSTILE
from roundwright.find import Feature, find_features
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

SIX = Cutter("six", 6.0, 1)
#: twice the work, and some more for what grows with the logarithm or with blocks of moves.
TWICE = 2.5


def found(program: bytes, cutter: Cutter | None = SIX) -> tuple[Feature, ...]:
    moves = trace_moves(read_program(program))
    return find_features(moves, dict.fromkeys(range(len(moves.sections)), cutter), Machine(), Settings())


def calls_of(work: Callable[[], object]) -> int:
    """How many Python functions the work calls."""
    count = 0

    def note(frame: object, event: str, argument: object) -> None:
        nonlocal count
        count += event == "call"

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(before)
    return count


@pytest.mark.parametrize(
    "name",
    [
        "bores",
        "bores, each in a frame",
        "bores, each with a tool",
        "circles on one centre",
        "circles that overlap",
        "plunged circle in one place",
        "halves in R form",
        "small arcs",
        "chords in one place",
        "chords that grow",
        "chords that sink",
    ],
)
def test_twice_the_circles_ask_for_twice_the_calls(name):
    # with no cutter no surface is judged: what is counted is the finding of circles
    once, twice = (HOSTILE[name](size) for size in (24_000, 48_000))
    few, many = calls_of(lambda: found(once, None)), calls_of(lambda: found(twice, None))
    assert few <= many <= TWICE * few


@pytest.fixture
def distances(monkeypatch):
    """How many distances some work asks for: elements of np.hypot and np.sqrt."""
    elements = [0]

    def counted(real):
        def counts(a, *more):
            elements[0] += np.size(a)
            return real(a, *more)

        return counts

    def of(work: Callable[[int], object], size: int) -> int:
        elements[0] = 0
        work(size)
        return elements[0]

    for name in ("hypot", "sqrt"):
        monkeypatch.setattr(np, name, counted(getattr(np, name)))
    return of


def test_a_run_of_many_circles_is_not_looked_at_whole_for_each(distances):
    def work(size):
        assert len(found(HOSTILE["chords that grow"](size), None)) > size // 10_000

    once, twice = (distances(work, size) for size in (48_000, 96_000))
    assert twice <= TWICE * once


def test_a_wall_is_not_held_against_what_ends_above_it_nor_against_what_is_buried(distances):
    """Each turn is deeper than all within it: its inner edge stands, and hundreds of turns run about it."""
    make = HOSTILE["circles on one centre, each deeper"]
    once, twice = (distances(lambda size: found(make(size)), size) for size in (48_000, 96_000))
    assert twice <= TWICE * once


def test_the_cuts_about_a_crowd_of_rings_are_sorted_once(distances):
    """Each edge of each ring stands, and all cuts surround all the rings, most too far out or in."""
    rings = []

    def work(size):
        rings.extend(found(HOSTILE["rings apart on one centre"](size)))

    assert distances(work, 96_000) < 100 * len(rings)


def test_walls_among_many_circles_need_no_room_of_their_square():
    """What crosses an edge is noted where the edge stands, not for each of the rings that have none left."""
    features = found(HOSTILE["circles on one centre"](12_000))
    rings = [ring for feature in features for ring in (feature.wall, *feature.clearing)]
    assert len(rings) > 200
    assert sum(len(feature.crossed) for feature in features) < len(rings)

"""The chains beside rings as columns, held against a walk move by move."""

from __future__ import annotations

from functools import cache
from math import hypot, inf
from random import Random
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.find import lead
from roundwright.find.feature import Ring
from roundwright.find.lead import CUTTING, LONGEST_LEAD, leads_of, moves_in_plane
from roundwright.find.ring import SAME_DEPTH
from roundwright.read import read_program
from roundwright.trace import trace_moves
from roundwright.trace.moves import PLANE_AXES, Motion
from roundwright.units import GRAIN
from strategies import programs


@cache
def drawn(seed):
    return trace_moves(read_program(programs(Random(seed)).data, "drawn.nc"))


def ring_of(rows, moves, rise):
    """A circle that has these rows, and its top so far above the first of them."""
    normal = moves.states[int(moves.state[rows[0]])].normal
    x, y = (float(moves.start[rows[0], axis] * GRAIN) + 1.0 for axis in PLANE_AXES[normal])
    top = float(moves.end[rows[0], normal] * GRAIN) + rise
    return Ring(rows, (x, y), 1.0, "cw", (top, top), normal, 0, 0, 1, ("arc",), True, True)


def laps(rows):
    """First and last of each unbroken run."""
    firsts = [row for row in rows if row - 1 not in rows]
    return zip(firsts, [row for row in rows if row + 1 not in rows], strict=True)


def walked(moves, ring, row, step, taken, short):
    """The plain way: step by step from the ring outwards; None where there is no lead."""
    first, second = PLANE_AXES[ring.normal]
    rows, length, within = [], 0.0, 0.0
    at = row + step
    while 0 <= at < len(moves) and not taken[at] and int(moves.motion[at]) in CUTTING:
        begin, end = (place[at].tolist() for place in (moves.start, moves.end))
        lowest = min(begin[ring.normal], end[ring.normal]) * GRAIN
        if not moves_in_plane(moves, at, ring.normal) or lowest > ring.z[0] + SAME_DEPTH:
            break
        rows.append(at)
        length += hypot((end[first] - begin[first]) * GRAIN, (end[second] - begin[second]) * GRAIN)
        straight = int(moves.motion[at]) == Motion.LINE
        for x, y in ((place[first] * GRAIN, place[second] * GRAIN) for place in (begin, end)):
            within = max(within, hypot(x - ring.centre[0], y - ring.centre[1]) if straight else inf)
        at += step
        if len(rows) > LONGEST_LEAD and length > short:
            return None
    if not rows:
        return None
    mask = (1 << first) | (1 << second)
    known = all(not (int(moves.start_known[r]) ^ int(moves.end_known[r])) & mask for r in rows)
    place = (moves.start if step < 0 else moves.end)[rows[-1]].tolist()
    far = (place[first] * GRAIN, place[second] * GRAIN) if known else None
    return step, tuple(rows), far, not (0 <= at < len(moves) and taken[at]), within


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 25), st.data())
def test_the_chains_are_those_that_a_walk_finds(seed, data):
    moves = drawn(seed)
    places = st.sets(st.integers(0, len(moves) - 1), min_size=1, max_size=12)
    rise = st.sampled_from((-20.0, 0.0, 50.0))
    drawn_rings = data.draw(st.lists(st.tuples(places, rise), min_size=1, max_size=12))
    rings = [ring_of(tuple(sorted(rows)), moves, up) for rows, up in drawn_rings]
    short = data.draw(st.lists(st.sampled_from((0.0, 12.0, 200.0)), min_size=len(rings), max_size=len(rings)))
    taken = np.zeros(len(moves), np.bool_)
    taken[[row for ring in rings[::2] for row in ring.rows]] = True
    together = data.draw(st.sampled_from((3, lead._TOGETHER)))
    with patch.object(lead, "_TOGETHER", together):
        found = leads_of(moves, rings, short, taken)
    for ring, chains, most in zip(rings, found, short, strict=True):
        plain = [
            walked(moves, ring, row, step, taken, most)
            for lap in laps(ring.rows)
            for row, step in zip(lap, (-1, 1), strict=True)
        ]
        expected = [chain for chain in plain if chain is not None]
        assert [(c.step, c.rows, c.far, c.open_end) for c in chains] == [chain[:4] for chain in expected]
        assert [c.within for c in chains] == pytest.approx([chain[4] for chain in expected])

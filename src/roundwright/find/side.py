"""Hole or boss: each witness is a function; all that speak must agree."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from math import hypot, inf
from sys import intern

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from roundwright.find.feature import Ring
from roundwright.find.lead import Lead
from roundwright.find.ring import SAME_DEPTH
from roundwright.find.wall import Edges
from roundwright.settings import Cut, Settings, Side
from roundwright.trace.moves import PLANE_AXES, Motion, Moves
from roundwright.units import GRAIN, MICROMETRE

#: a plain number: an enumeration's members are slow to look up.
_LINE = int(Motion.LINE)
#: an edge of which less than this share survives is no wall.
QUARTER = 0.25
#: an edge of which less than this share survives has been cut through.
WHOLE = 0.995
#: of a cleared edge no more than this share may be left, else the other edge may be no wall but waste.
_TRACE = 0.05
#: a core thinner than this share of the cutter is a sliver, not a boss.
_SLIVER = 0.1
#: mm: a chain that ends no farther off the ring than this leads nowhere; rounding may have put it there.
NO_LEAD = 50 * MICROMETRE
#: said of a ring that has no inside left.
COVERED = "the cutter sweeps the whole inside"
#: why a chain may be no lead from a side; empty where nothing says so.
DoubtOf = Callable[[Lead, Side], str]


class Witness(Struct, frozen=True, gc=False):
    """What one piece of geometry says of a ring's side, in words a machinist uses.

    One with a `doubt` may contradict others, but says nothing alone.
    """

    side: Side
    words: str
    doubt: str = ""


#: what a lead says of a ring, by the way that it leads and the side that it comes from or goes to.
_LEADS: dict[tuple[int, Side], Witness] = {
    (-1, "hole"): Witness("hole", "lead-in from inside"),
    (-1, "boss"): Witness("boss", "lead-in from outside"),
    (1, "hole"): Witness("hole", "lead-out to the inside"),
    (1, "boss"): Witness("boss", "lead-out to the outside"),
}


def left_over(edges: Edges, ring: Ring, reach: float) -> tuple[bool, bool]:
    """Whether the outer and the inner edge of a ring are walls: at least a quarter of them survives."""
    core = edges.inner is not None and ring.radius - reach >= _SLIVER * 2 * reach
    return edges.outer >= QUARTER, core and (edges.inner or 0.0) >= QUARTER


def cleared(edges: Edges, ring: Ring, reach: float) -> Witness | None:
    """(a) Which side of the ring is cleared, by the cutter itself or by other cuts."""
    outer, inner = left_over(edges, ring, reach)
    whole = edges.inner is None or ring.radius - reach < _SLIVER * 2 * reach
    if outer and not inner and (whole or (edges.inner or 0.0) <= _TRACE):
        return Witness("hole", COVERED if whole else "inside cleared by other cuts")
    if inner and not outer and edges.outer <= _TRACE:
        return Witness("boss", "outside cleared by other cuts")
    return None


def compensated(moves: Moves, ring: Ring) -> Iterator[Witness]:
    """(b) The compensation side together with the turn."""
    for row in (ring.rows[0], ring.rows[-1]):
        side = moves.states[int(moves.state[row])].compensation
        if side == 40 or ring.turn == "both":
            return
        left, inner = side == 41, (side == 41) == (ring.turn == "ccw")
        turn = "counter-clockwise" if ring.turn == "ccw" else "clockwise"
        words = f"compensation {'left' if left else 'right'} of a {turn} path"
        yield Witness("hole" if inner else "boss", words)


def led(
    moves: Moves, ring: Ring, chains: Sequence[Lead], slack: float, short: float, doubt_of: DoubtOf | None
) -> list[Witness]:
    """(c), (d) Where leads come from and go to, and so where the cutter plunges; `short` as in `leads_of`.

    A chain that runs on both sides of the circle says both, and so settles nothing. Where one is in doubt,
    so are all from that side: a slot is left as it was entered.
    """
    witnesses: list[Witness] = []
    doubts: dict[Side, str] = {}
    flat_top, room = ring.forms == ("arc",), max(slack, NO_LEAD)
    for chain in chains:
        side = _far_side(chain, ring, room) if chain.open_end else None
        if side is None or _goes_round(moves, chain, ring, short / 4):
            continue
        if not flat_top and _travels(moves, chain, ring, short):
            continue
        if _LEADS[chain.step, side] not in witnesses:  # of many laps all tell the same
            witnesses.append(_LEADS[chain.step, side])
        if doubt_of and not doubts.get(side):
            doubts[side] = doubt_of(chain, side)
        if chain.within >= ring.radius + room / 2 and _crosses(moves, chain, ring, room):
            other: Side = "boss" if side == "hole" else "hole"
            way = "in" if chain.step < 0 else "out"
            witnesses.append(Witness(other, f"a lead-{way} that crosses the circle"))
    if not any(doubts.values()):
        return witnesses
    return [replace(one, doubt=doubts.get(one.side, "")) for one in witnesses]


def _travels(moves: Moves, chain: Lead, ring: Ring, short: float) -> bool:
    """Whether the chain may be travel at feed above the work rather than a lead.

    The top of a helix is no depth that anything is known to be cut at. What comes along up there is a lead
    only where it is short, and does not begin where the tool was drawn out of other work.
    """
    rows, n = list(chain.rows), ring.normal
    z = np.array([p[list(ring.rows), n] for p in (moves.start, moves.end)]) * GRAIN
    flat_top = z.min(axis=0).max() >= ring.z[0] - SAME_DEPTH
    if flat_top or min(moves.start[rows, n].min(), moves.end[rows, n].min()) * GRAIN < ring.z[0] - SAME_DEPTH:
        return False
    way = (moves.end[rows] - moves.start[rows])[:, list(PLANE_AXES[n])] * GRAIN
    beyond = rows[-1] + chain.step
    if np.hypot(*way.T).sum() > short or not 0 <= beyond < len(moves):
        return True
    return bool((moves.end[beyond, n] - moves.start[beyond, n]) * chain.step < 0)


def _far_side(chain: Lead, ring: Ring, room: float) -> Side | None:
    if chain.far is None:
        return None
    distance = hypot(chain.far[0] - ring.centre[0], chain.far[1] - ring.centre[1])
    if abs(distance - ring.radius) <= room:
        return None
    return "hole" if distance < ring.radius else "boss"


def _crosses(moves: Moves, chain: Lead, ring: Ring, room: float) -> bool:
    """Whether the chain runs inside the circle here and outside it there, by more than `room` (mm)."""
    axes, arcs = list(PLANE_AXES[ring.normal]), moves.arcs
    share = np.linspace(0.0, 1.0, 33)[:, None]
    off = []
    for row in chain.rows:
        begin, end = (p[row][axes] * GRAIN for p in (moves.start, moves.end))
        path = begin + share * (end - begin)
        if int(moves.motion[row]) != _LINE and moves.states[int(moves.state[row])].normal == ring.normal:
            k = int(np.searchsorted(arcs.row, row))
            out = begin - arcs.centre[k]
            angle = np.arctan2(out[1], out[0]) + share * arcs.sweep[k]
            path = arcs.centre[k] + np.hypot(*out) * np.hstack([np.cos(angle), np.sin(angle)])
        off.append(np.hypot(*(path - ring.centre).T) - ring.radius)
    return bool(np.max(off) > room and np.min(off) < -room)


def _goes_round(moves: Moves, chain: Lead, ring: Ring, reach: float) -> bool:
    """Whether the chain is another lap rather than a lead: more than half way round, and never far off."""
    if len(chain.rows) == 1 and chain.within < inf:
        return False  # no straight turns more than half way
    rows = list(chain.rows)
    axes = list(PLANE_AXES[ring.normal])
    first, second = axes
    (x, y), end = ring.centre, moves.end
    if any(
        abs(hypot(end[r, first] * GRAIN - x, end[r, second] * GRAIN - y) - ring.radius) > 2 * reach
        for r in rows
    ):
        return False
    begin, end = (p[rows][:, axes] * GRAIN - ring.centre for p in (moves.start, moves.end))
    turned = np.arctan2(begin[:, 0] * end[:, 1] - begin[:, 1] * end[:, 0], (begin * end).sum(axis=1))
    arc, is_arc = moves.arcs.at(np.array(rows))
    turned[is_arc] = moves.arcs.sweep[arc[is_arc]]
    off = np.abs(np.hypot(*end.T) - ring.radius)
    return bool(abs(turned.sum()) > np.pi and off.max() < reach)


class Verdict(Struct, frozen=True, gc=False):
    """The side and how it is known; `against` names both witnesses where they contradict each other.

    `as_said`: the path tells no side, it is what the caller says.
    """

    side: Side
    evidence: str
    against: str = ""
    as_said: bool = False


def judge(witnesses: Collection[Witness]) -> Verdict:
    """One side where all agree, unknown where none speaks or two disagree."""
    words = list(dict.fromkeys(w.words for w in witnesses))
    sides = {w.side for w in witnesses}
    if sides and all(w.doubt for w in witnesses):
        return Verdict("unknown", next(w.doubt for w in witnesses))
    if len(sides) == 1:
        return Verdict(next(iter(sides)), intern("; ".join(words)))  # of thousands all say the same
    if not sides:
        return Verdict("unknown", "nothing in the path tells hole from boss")
    hole = next(w.words for w in witnesses if w.side == "hole")
    boss = next(w.words for w in witnesses if w.side != "hole")
    return Verdict("unknown", "; ".join(words), f"{hole} says hole, but {boss} says boss")


def fill_silence(verdict: Verdict, ring: Ring, clockwise: bool, settings: Settings) -> Verdict:
    """Let what the caller says stand where the path says nothing; it never outvotes evidence."""
    if verdict.side != "unknown" or verdict.against:
        return verdict
    if settings.cut and ring.turn != "both":
        climbs_inside = (ring.turn == "ccw") == clockwise
        side: Side = "hole" if climbs_inside == (settings.cut == "climb") else "boss"
        return Verdict(side, f"nothing in the path tells; {settings.cut} cut taken as said", as_said=True)
    if settings.side:
        return Verdict(
            settings.side, f"nothing in the path tells; {settings.side} taken as said", as_said=True
        )
    return verdict


def cut_of(side: Side, turn: str, clockwise: bool) -> Cut:
    """Climb or conventional: a clockwise spindle climbs counter-clockwise in a hole, clockwise on a boss."""
    if side == "groove":
        return "both"
    if side == "unknown" or turn == "both":
        return "unknown"
    return "climb" if (side == "hole") == ((turn == "ccw") == clockwise) else "conventional"

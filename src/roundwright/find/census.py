"""The census: every circular feature of the program, numbered, with its side and what speaks against it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find.calm import Calm, calm_of
from roundwright.find.chord import find_chord_rings
from roundwright.find.decoy import Doubt, doubts_of, highest_rapids, is_taper, upside_down
from roundwright.find.entry import doubt_of_lead
from roundwright.find.feature import Feature, Ring
from roundwright.find.judgement import judged_rings
from roundwright.find.lead import Lead, leads_of
from roundwright.find.lens import doubt_of_lens, find_lenses
from roundwright.find.ring import SAME_DEPTH, find_rings, on_their_rings, turn_of
from roundwright.find.side import (
    QUARTER,
    WHOLE,
    Verdict,
    Witness,
    compensated,
    cut_of,
    fill_silence,
    judge,
    led,
)
from roundwright.find.stack import (
    Judged,
    clearing_homes,
    connected,
    finished,
    merge_circles,
    stacks_of,
    surfaces,
)
from roundwright.packed import Packed
from roundwright.settings import Cut, Cutter, Machine, Settings, Side
from roundwright.trace.moves import Moves
from roundwright.units import native

#: M3 and M4, which start the spindle.
_STARTS = frozenset((3, 4))
_TAPER = Doubt("taper", "its rings grow or shrink steadily with depth: a taper has no one size")


class Draft(Struct, frozen=True, gc=False):
    """A feature before it has a number."""

    wall: Judged
    clearing: tuple[Ring, ...]
    doubt: Doubt | None


class Asked(Struct, frozen=True, eq=False):
    """What a census is asked: of which moves, for which machine and settings.

    `sided` tells, feature by feature, whose leads were free of doubt before; `spindles` are the program's M
    words that start the spindle.
    """

    moves: Moves
    machine: Machine
    settings: Settings
    sided: Sequence[int]
    spindles: Collection[int]


def find_features(
    moves: Moves,
    cutters: Mapping[int, Cutter | None],
    machine: Machine,
    settings: Settings,
    calm: Calm | None = None,
    sided: Sequence[int] = (),
) -> Sequence[Feature]:
    """All circular features of a program, in the order of their first wall moves, as C1, C2, ….

    `cutters` gives the tool of each section by index, None where it is not known. `calm` may tell of moves
    that are mostly the same where no circles of chords can be, so that nobody looks there again, and `sided`,
    feature by feature, whose leads were free of doubt before a correction has made them longer or shorter.
    """
    rings = _all_rings(moves, machine, calm or calm_of(moves))
    taken = _taken(moves, rings)
    judged = judged_rings(rings, on_their_rings(moves, rings), cutters, machine)
    drafts = [draft for stack in stacks_of(rings) for draft in _drafts([judged[k] for k in stack])]
    del judged
    drafts += _lenses(moves, cutters, taken)
    drafts.sort(key=lambda draft: draft.wall.ring.rows[0])
    drafts = _doubted(drafts, moves, machine)
    chains = leads_of(moves, [d.wall.ring for d in drafts], [d.wall.short for d in drafts], taken)
    spindles = {state.spindle for state in moves.states} & _STARTS
    asked = Asked(moves, machine, settings, sided, spindles)
    drafts.reverse()  # of many, each is let go as it becomes a feature
    return Packed(Feature, (_feature(k, drafts.pop(), leads, asked) for k, leads in enumerate(chains)))


def _doubted(drafts: Sequence[Draft], moves: Moves, machine: Machine) -> list[Draft]:
    """The drafts with the first doubt about each: of its ring alone, of what is about it, of the program."""
    ceilings = highest_rapids(moves)
    doubts = doubts_of(moves, machine, [draft.wall for draft in drafts])
    return [
        replace(draft, doubt=doubt or draft.doubt or upside_down(draft.wall.ring, ceilings))
        for draft, doubt in zip(drafts, doubts, strict=True)
    ]


def _all_rings(moves: Moves, machine: Machine, calm: Calm) -> list[Ring]:
    """Rings of arcs, then those that only chords make or complete; what is one circle is one ring."""
    arcs = find_rings(moves)
    taken = _taken(moves, arcs)
    chords = find_chord_rings(on_their_rings(moves, arcs), taken, machine.chord_sagitta, calm)
    return merge_circles((*arcs, *chords))


def _taken(moves: Moves, rings: Sequence[Ring]) -> NDArray[np.bool_]:
    """Which moves (n,) belong to rings."""
    taken = np.zeros(len(moves), np.bool_)
    taken[[row for ring in rings for row in ring.rows]] = True
    return taken


def _lenses(moves: Moves, cutters: Mapping[int, Cutter | None], taken: NDArray[np.bool_]) -> Iterator[Draft]:
    """What was meant for a circle and is none: nothing is judged by it, and nothing moves with it."""
    for ring in find_lenses(moves, taken):
        one = Judged(ring, ring, cutters.get(ring.section))
        yield Draft(one, (), doubt_of_lens(moves, ring))


def _drafts(stack: Sequence[Judged]) -> list[Draft]:
    """The features of the rings round one centre."""
    if len(stack) == 1:  # as most are
        one = stack[0]
        return [Draft(one, (), None if one.wall else _cut_away(_most(one)))]
    drafts: list[Draft] = []
    for group in connected(finished(stack)):
        walls = surfaces(group)
        own = {id(wall) for wall in walls}
        rest = [one for one in group if id(one) not in own]
        clearing: dict[int, list[Ring]] = {}
        loose: list[Judged] = []
        for one, home in zip(rest, clearing_homes(rest, walls), strict=True):
            if home is None:
                loose.append(one)
            else:
                clearing.setdefault(home, []).append(one.ring)
        taper = _TAPER if is_taper([wall.ring for wall in walls]) else None
        drafts.extend(Draft(wall, tuple(clearing.get(k, ())), taper) for k, wall in enumerate(walls))
        drafts.extend(Draft(one, (), _cut_away(_most(one))) for one in loose)
    return drafts


def _cut_away(left: float) -> Doubt:
    return Doubt("cut-away", f"other cuts remove its surface ({left:.0%} of it survives)")


def _most(one: Judged) -> float:
    """What is left of the edge of which most is left."""
    return max(one.edges.outer, one.edges.inner or 0.0) if one.edges else 0.0


def _feature(place: int, draft: Draft, leads: Sequence[Lead], asked: Asked) -> Feature:
    name = f"C{place + 1}"
    one, ring, moves = draft.wall, draft.wall.ring, asked.moves
    clockwise = _clockwise(ring, asked)
    turn = _last_turn(moves, ring)
    if name in asked.settings.sides:
        verdict = Verdict(asked.settings.sides[name], "as you said for this feature")
    else:
        sure = place < len(asked.sided) and bool(asked.sided[place])
        verdict = _verdict(draft.wall, leads, asked, clockwise=clockwise, sure=sure)
    doubt = draft.doubt or _side_doubt(name, verdict) or _surface_doubt(one, verdict.side)
    rows = [row for r in (ring, *draft.clearing) for row in r.rows]
    survives = _survives(one, verdict.side)
    cut: Cut = cut_of(verdict.side, turn, clockwise)
    return Feature(
        id=name,
        side=verdict.side,
        evidence=verdict.evidence,
        wall=ring,
        clearing=draft.clearing,
        frame=moves.frames[ring.frame],
        cutter=one.cutter,
        diameter=_diameter(one, verdict.side),
        cut=cut,
        lines=(int(moves.line[min(rows)]), int(moves.line[max(rows)])),
        fault=doubt.fault if doubt else "",
        why=doubt.why if doubt else "",
        notes=_notes(moves, ring, survives),
        survives=survives,
        crossed=_crossed(one, verdict.side),
        as_said=verdict.as_said,
    )


def _verdict(one: Judged, leads: Sequence[Lead], asked: Asked, *, clockwise: bool, sure: bool) -> Verdict:
    """What the path tells of a side, and what is said where it tells nothing; `sure`: no lead is in doubt."""
    moves, ring, settings = asked.moves, one.ring, asked.settings
    witnesses: list[Witness] = [one.witness] if one.witness else []
    witnesses += compensated(moves, ring)
    climb = cut_of("boss", _last_turn(moves, ring), clockwise) == "climb"

    def doubt_of(chain: Lead, side: Side) -> str:
        return doubt_of_lead(moves, one, chain, side, climb=climb)

    witnesses += led(moves, ring, leads, 2 * ring.tolerance, one.short, None if sure else doubt_of)
    return fill_silence(judge(witnesses), ring, clockwise, settings)


def _side_doubt(name: str, verdict: Verdict) -> Doubt | None:
    if verdict.side != "unknown":
        return None
    what = verdict.against or verdict.evidence
    return Doubt("side-unknown", f"{what}; settle it with --side {name}=hole or --side {name}=boss")


def _surface_doubt(one: Judged, side: Side) -> Doubt | None:
    """A side whose surface is not there: other cuts took it, or the cutter is larger than the circle."""
    if one.edges is None or side not in ("hole", "boss"):
        return None
    if side == "boss" and one.path.radius <= one.reach:
        return Doubt("not-clean", "the cutter covers the middle of this circle, so no boss is left in it")
    left = _survives(one, side)
    return _cut_away(left) if left < QUARTER else None


def _clockwise(ring: Ring, asked: Asked) -> bool:
    """Where nothing has started the spindle, as in a subprogram, the program's one direction holds."""
    moves = asked.moves
    spindle = moves.states[int(moves.state[ring.rows[-1]])].spindle
    spindles = {spindle} if spindle in _STARTS else asked.spindles
    return 3 in spindles if len(spindles) == 1 else asked.machine.clockwise


def _last_turn(moves: Moves, ring: Ring) -> str:
    """The turn of the last wall pass at full depth."""
    if ring.turn != "both":
        return ring.turn
    n = ring.normal
    deep = [
        row
        for row in ring.rows
        if min(moves.start[row, n], moves.end[row, n]) * 1e-8 <= ring.z[1] + SAME_DEPTH
    ]
    return turn_of(moves, deep[-1], ring)


def _diameter(one: Judged, side: Side) -> float | None:
    if one.cutter is None or not one.cutter.cylindrical or side == "unknown":
        return None
    path = 2 * one.ring.radius
    if side == "groove" or one.contour:
        return path
    size = path + one.cutter.diameter if side == "hole" else path - one.cutter.diameter
    return size if size > 0 else None


def _survives(one: Judged, side: Side) -> float:
    if one.edges is None:
        return 1.0
    inner = 1.0 if one.edges.inner is None else one.edges.inner
    if side == "hole":
        return one.edges.outer
    return inner if side == "boss" else min(one.edges.outer, inner)


def _crossed(one: Judged, side: Side) -> tuple[int, ...]:
    if one.edges is None or side not in ("hole", "boss"):
        return ()
    return one.edges.across_outer if side == "hole" else one.edges.across_inner


def _notes(moves: Moves, ring: Ring, survives: float) -> tuple[str, ...]:
    notes = []
    if ring.over_flats is not None:
        inch = moves.states[int(moves.state[ring.rows[0]])].inch
        flats, corners = (native(2 * r, inch=inch) for r in (ring.over_flats, ring.radius))
        digits = 4 if inch else 3
        notes.append(f"chords: path {corners:.{digits}f} over the corners, {flats:.{digits}f} over the flats")
    if 0.0 < survives < WHOLE:
        notes.append(f"{survives:.0%} of its wall survives the other cuts")
    if ring.turn == "both":
        notes.append("passes run both ways; the last one at full depth counts")
    return tuple(notes)

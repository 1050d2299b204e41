"""Holds what a run finds and writes against the known truth of a generated program."""

import re
from dataclasses import dataclass, field
from math import hypot

from roundwright.calibration import open_table
from roundwright.find import find_features
from roundwright.pipeline import correct
from roundwright.read import read_program
from roundwright.settings import Settings
from roundwright.tooling import cutters_of
from roundwright.trace import trace_moves
from strategies import Generated

#: holes come out small and bosses large, by an amount that depends on the size, up to 0.4 mm.
TABLE = """schema = "roundwright.table/1"
[machine]
name = "trial"
units = "mm"
{machine}[defaults]
material = "birch ply"
{tools}{conditions}"""
TOOL = """[[tool]]
number = {n}
name = "cutter {n}"
diameter = {d}
"""
CONDITION = """[[condition]]
tool = {n}
material = "birch ply"
side = "{side}"
cut = "any"
readings = [
  {{ programmed = 2.0, diameter = {a} }},
  {{ programmed = 20.0, diameter = {b} }},
  {{ programmed = 320.0, diameter = {c} }},
]
"""


#: mm, at the table's three sizes.
SMALL = (-0.05, -0.2, 0.3)


def table_for(tools, errors=SMALL, machine=""):
    """A table that serves every circle; `errors` at 2, 20 and 320 mm, a boss the other way round."""
    named = "".join(TOOL.format(n=n, d=d) for n, d in tools.items())
    conditions = ""
    for n in tools:
        for side, sign in (("hole", 1), ("boss", -1)):
            a, b, c = (size + sign * e for size, e in zip((2.0, 20.0, 320.0), errors, strict=True))
            conditions += CONDITION.format(n=n, side=side, a=round(a, 6), b=round(b, 6), c=round(c, 6))
    return open_table(TABLE.format(machine=machine, tools=named, conditions=conditions), "trial.toml")


@dataclass
class Verdicts:
    """What went wrong, in words, and how much was seen."""

    wrong: list[str] = field(default_factory=list)
    features: int = 0
    corrected: int = 0
    left: dict[str, int] = field(default_factory=dict)
    smaller: bool = False  # holes of about 20 mm come out large, and are to be made smaller


def slack(g: Generated) -> float:
    """How far the written decimals leave a centre or radius open, mm."""
    return max(max(2e-3, 3 * 10.0**-d.decimals * d.k) for d in g.dialects)


#: the same the other way round: holes come out large.
LARGE = (0.05, 0.2, -0.3)


def judge(g: Generated, errors=SMALL, settings: Settings | None = None) -> Verdicts:
    """Run a generated program through the pipeline and compare."""
    v = Verdicts(smaller=errors[1] > 0)
    table = table_for(g.tools, errors, g.machine)
    settings = settings or Settings(again=True)
    out = correct(g.data, "generated.nc", table, settings)
    _compare(g, out.plan.corrections, v)
    assert out.output is not None
    _bytes_kept(g, out.output, v)
    _found_again(g, table, settings, out, v)
    return v


def _near(one, feature, reach: float) -> bool:
    away = hypot(*(f - p for f, p in zip(feature.wall.centre, one.centre, strict=True)))
    return away <= reach and feature.frame == one.frame


def _compare(g: Generated, corrections, v: Verdicts) -> None:
    normal = "XYZ".index(g.dialect.letters[2])
    upright = [c for c in corrections if c.feature.wall.normal != normal]
    left = [c for c in corrections if c not in upright]
    v.wrong += [f"false circle: {c.feature}" for c in upright if c.feature.fault != "unsupported-mode"]
    for truth in g.truths:
        match = [
            c
            for c in left
            if _near(truth, c.feature, slack(g))
            and any(abs(c.feature.wall.radius - r) <= slack(g) for r in (truth.path, truth.twin) if r)
        ]
        if truth.optional and not match:
            continue
        if len(match) != 1:
            v.wrong.append(f"missed: {truth} found {len(match)} times")
            continue
        left.remove(match[0])
        _agrees(g, truth, match[0], v)
    for zone in g.zones:
        inside = [c for c in left if _near(zone, c.feature, zone.reach)]
        left = [c for c in left if c not in inside]
        wrong = [c for c in inside if c.feature.fault not in zone.faults]
        v.wrong += [f"false circle: {zone} {c.feature}" for c in wrong]
        if zone.faults and not inside:
            v.wrong.append(f"not listed: {zone}")
    v.wrong += [f"false circle: {c.feature}" for c in left]


def _agrees(g: Generated, truth, correction, v: Verdicts) -> None:
    found = correction.feature
    v.features += 1
    side = truth.side or "unknown"
    if found.side != side and "" in truth.faults:
        kind = "wrong side" if found.side != "unknown" and truth.side else "side"
        v.wrong.append(f"{kind}: {truth} found as {found.side}: {found.evidence} {found.why}")
        return
    if found.fault not in truth.faults:
        v.wrong.append(f"fault {found.fault!r} ({found.why}): {truth}")
        return
    if truth.diameter is not None and abs(found.diameter - truth.diameter) > 2 * slack(g):
        v.wrong.append(f"diameter {found.diameter}: {truth}")
    if truth.side and truth.ccw is not None and found.cut != _cut(g, truth):
        v.wrong.append(f"cut {found.cut}: {truth}")
    if correction.status == "corrected":
        v.corrected += 1
    elif correction.reason != found.fault:
        v.left[correction.reason] = v.left.get(correction.reason, 0) + 1
        if g.dialect.centres == "r" and correction.reason == "unsupported-mode":
            return  # a steep R form that no number of decimals holds: rare, and counted by the caller
        if correction.reason in truth.reasons and (v.smaller or not truth.if_smaller):
            return
        v.wrong.append(f"left alone, {correction.reason} ({correction.why}): {truth}")


def _cut(g: Generated, truth) -> str:
    """A clockwise spindle climbs counter-clockwise in a hole, clockwise round a boss."""
    spindle = g.clockwise if g.dialect.clockwise is None else g.dialect.clockwise
    return "climb" if (truth.ccw == (truth.side == "hole")) == spindle else "conventional"


TOKEN = re.compile(rb"\(.*?\)|[A-Za-z]\s*[-+]?[\d.]*|\S")


def _bytes_kept(g: Generated, after: bytes, v: Verdicts) -> None:
    """Line by line: the same tokens in the same order, but for numbers of positions and words added."""
    letters = g.dialect.letters
    free = (letters[:2] + letters[3:] + "R").encode()
    free += free.lower()
    old, new = g.data.splitlines(keepends=True), after.splitlines(keepends=True)
    new = [line for line in new if b"roundwright" not in line]
    if len(old) != len(new):
        v.wrong.append(f"{len(old)} lines became {len(new)}")
        return
    for number, (a, b) in enumerate(zip(old, new, strict=True), start=1):
        if a != b and not _kept(a, b, free):
            v.wrong.append(f"line {number}: {a!r} became {b!r}")


def _kept(a: bytes, b: bytes, free: bytes) -> bool:
    if a[len(a.rstrip(b"\r\n")) :] != b[len(b.rstrip(b"\r\n")) :]:
        return False
    rest = iter(TOKEN.findall(b))
    for want in TOKEN.findall(a):
        for have in rest:
            same = have == want
            moved = have[:1] == want[:1] and want[:1] in free
            if same or moved:
                break
            if have[:1] not in free:
                return False
        else:
            return False
    return all(extra[:1] in free for extra in rest)


def _found_again(g: Generated, table, settings, out, v: Verdicts) -> None:
    """Finding on the output gives the planned diameters, the same centres, and no more and no fewer.

    What is left alone with a fault is not counted: coarsely written rings of a decoy, taken for one
    circle in a coarse program, are told apart where the output is written more finely.
    """
    moves = trace_moves(read_program(out.output, "again.nc"), settings.arc_centres)
    cutters = cutters_of(moves.sections, table, settings)
    fresh = [f for f in find_features(moves, cutters, table.machine, settings) if not f.fault]
    sound = [c for c in out.plan.corrections if not c.feature.fault]
    if len(fresh) != len(sound):
        v.wrong.append(f"{len(sound)} features became {len(fresh)}")
        return
    fine = 2 * (2.6e-3 if any(d.inch for d in g.dialects) else 1e-3) + 1e-9
    for c, new in zip(sound, fresh, strict=True):
        old = c.feature
        want = c.corrected if c.status == "corrected" else old.diameter
        if old.side != new.side:
            v.wrong.append(f"{old.id} {old.side} {old.fault} became {new.side} {new.fault} {new.why}")
        elif want is not None and abs(new.diameter - want) > (fine if c.status == "corrected" else 1e-6):
            v.wrong.append(f"{old.id} planned {want}, found {new.diameter}")
        elif hypot(*(p - q for p, q in zip(old.wall.centre, new.wall.centre, strict=True))) > fine / 2:
            v.wrong.append(f"{old.id} centre {old.wall.centre} became {new.wall.centre}")

"""Features that a generated program cuts, each drawn from a seeded `random.Random` and told as truths."""

import random
from dataclasses import replace
from itertools import pairwise
from math import dist, pi

from circle_features import Circle, Cutting, Truth, cut_circle, lap, lead_points, plunge_at
from program_writer import Writer


def splits(rng: random.Random, whole_turn: bool) -> tuple[float, ...]:
    """Shares of a turn: one, halves, quarters, thirds, any, or running on past the start."""
    kind = rng.choice(("full", "half", "quarter", "third", "any", "past"))
    if kind == "full" and whole_turn:
        return (1.0,)
    if kind in ("quarter", "third"):
        n = 4 if kind == "quarter" else 3
        return (1 / n,) * n
    if kind == "any":
        cuts = sorted(rng.uniform(0.06, 0.94) for _ in range(rng.randint(1, 5)))
        pieces = [b - a for a, b in zip([0.0, *cuts], [*cuts, 1.0], strict=True)]
        sure = whole_turn or not any(0.44 < p < 0.56 for p in pieces)  # near a half R leaves the centre open
        return tuple(pieces) if sure and min(pieces) > 0.04 else (0.4, 0.6)
    return (0.5, 0.5, rng.uniform(0.03, 0.15)) if kind == "past" else (0.5, 0.5)


def _size(rng: random.Random, low: float, high: float, k: float) -> float:
    """A path radius: round or not, in program units, from millimetres."""
    value = rng.uniform(low, high) * k
    return round(value, rng.choice((1, 2, 3))) if k == 1 else rng.choice((round(value * 64) / 64, value))


def _circle(rng: random.Random, w: Writer, at, path: float, side: str, tool: float, **more) -> Circle:
    r_form = w.dialect.centres == "r"
    choose = {
        "ccw": rng.random() < 0.5,
        "start": rng.choice((0.0, pi / 2, pi, -pi / 2, rng.uniform(-pi, pi))),
        "split": splits(rng, not r_form or more.get("form") == "turns"),
        "lead": "plunge",
        "spring": rng.random() < 0.25,
        "per_depth": rng.random() < 0.7,
    }
    choose |= more
    if choose.get("tabs") and sum(choose["split"]) > 1.001:
        choose["split"] = (0.5, 0.5)
    return Circle(at, path, side, tool, **choose)


def _compensated(rng: random.Random, c: Circle) -> Circle:
    """Compensation goes on and off in straight leads."""
    return replace(c, compensated=c.lead.startswith("straight") and rng.random() < 0.4)


def _offset(w: Writer, c: Circle) -> float:
    """The diameter that lies between path and wall: none where the path is the contour itself."""
    return 0.0 if c.compensated and w.contour else c.tool


def _kerf(w, at, tool, how, rng, side) -> list[Truth]:
    """Cut through on the ring: a lead from one side tells which it is, a plunge on the ring does not."""
    path = _size(rng, 0.8 * tool / how.k + 2, 45, how.k)
    lead = rng.choice(("plunge", "straight", "arc", "straight+arc"))
    c = _circle(rng, w, at, path, side, tool, lead=lead, tabs=rng.choice((0, 0, 0, 2, 3)))
    c = _compensated(rng, c)
    cut_circle(w, c, how)
    if lead == "plunge":
        return [Truth(at, path, None, tool, ("side-unknown",))]
    # plunged near the wall, the cutter would reach into it where the hole is made smaller
    far = lead_points(c, path, incoming=True)[0]
    near = side == "hole" and dist(far, at) + tool / 2 > path - 0.3 * how.k and not _offset(w, c)
    reasons = ("would-collide",) if near else ()
    return [Truth(at, path, side, _offset(w, c), ccw=c.ccw, reasons=reasons, if_smaller=True)]


def kerf_hole(w, at, tool, how, rng) -> list[Truth]:
    return _kerf(w, at, tool, how, rng, "hole")


def small_hole(w, at, tool, how, rng) -> list[Truth]:
    """The cutter covers the middle: it can only be a hole, however it is entered."""
    path = _size(rng, 0.15 * tool / how.k, 0.48 * tool / how.k, how.k)
    form = rng.choice(("flat", "helix", "turns"))
    split = {"split": (1.0,)} if form == "turns" else {}
    if form == "helix":
        split = {
            "split": rng.choice(((0.5, 0.5), (0.25,) * 4, (1.0,) if w.dialect.centres != "r" else (0.5, 0.5)))
        }
    c = _circle(rng, w, at, path, "hole", tool, form=form, lead=rng.choice(("plunge", "straight")), **split)
    cut_circle(w, c, how)
    return [Truth(at, path, "hole", tool, ccw=c.ccw)]


def helix_hole(w, at, tool, how, rng) -> list[Truth]:
    """Down in turns, with a flat closing turn; entered from inside."""
    path = _size(rng, 0.7 * tool / how.k + 1, 25, how.k)
    form = rng.choice(("helix", "turns"))
    split = (1.0,) if form == "turns" or w.dialect.centres != "r" else (0.5, 0.5)
    lead = rng.choice(("straight", "arc"))
    c = _circle(rng, w, at, path, "hole", tool, form=form, split=split, lead=lead)
    cut_circle(w, c, how)
    return [Truth(at, path, "hole", tool, ccw=c.ccw)]


def pocket_hole(w, at, tool, how, rng) -> list[Truth]:
    """Cleared by rings from the middle, with or without stock left for the wall."""
    path = _size(rng, 1.2 * tool / how.k, 45, how.k)
    stock = rng.choice((0.0, rng.uniform(0.1, 0.4) * how.k))
    rings = [0.4 * tool]
    while rings[-1] < path - stock:
        rings.append(rings[-1] + 0.8 * tool)
    rings = [r for r in rings if r < path - stock - 0.1 * tool] + [path - stock]
    lead = rng.choice(("plunge", "straight", "arc", "straight+arc"))
    c = _compensated(rng, _circle(rng, w, at, path, "hole", tool, rings=tuple(rings), lead=lead))
    if c.compensated and w.contour:
        c = replace(c, path=path + tool / 2)
    cut_circle(w, c, how)
    if not (stock == 0.0 and c.compensated and w.contour and w.unit * w.dialect.k >= 0.01):
        return [Truth(at, c.path, "hole", _offset(w, c), ccw=c.ccw)]
    # ring and wall on one surface, as path and as contour: rounded coarsely, either may cut a little deeper,
    # and does not show it any longer once they are corrected
    return [Truth(at, c.path, "hole", 0.0, ccw=c.ccw, reasons=("would-cut-air",), twin=path)]


def kerf_boss(w, at, tool, how, rng) -> list[Truth]:
    return _kerf(w, at, tool, how, rng, "boss")


def cleared_boss(w, at, tool, how, rng) -> list[Truth]:
    """Its outside cleared by rings: the outermost of them leaves the wall of a hole round it."""
    path = _size(rng, 0.8 * tool / how.k + 2, 25, how.k)
    stock = rng.choice((0.0, rng.uniform(0.1, 0.4) * how.k))
    outer = path + rng.uniform(0.7, 2.5) * tool
    n = int((outer - path - stock) / (0.8 * tool)) + 1
    rings = tuple(outer - (outer - path - stock) * i / n for i in range(n + 1))
    c = _circle(rng, w, at, path, "boss", tool, rings=rings, lead="plunge")
    cut_circle(w, c, how)
    return [Truth(at, path, "boss", tool, ccw=c.ccw), Truth(at, outer, "hole", tool, ccw=c.ccw)]


def boss_in_square(w, at, tool, how, rng) -> list[Truth]:
    """Its outside cleared by squares of straights and one ring."""
    path = _size(rng, 0.8 * tool / how.k + 2, 20, how.k)
    x, y = at
    z = how.depths[-1]
    half = path + 0.7 * tool + 0.4 * path
    plunge_at(w, how, (x + half, y + half), z)
    while half > path + 0.3 * tool:
        w.go(1, x + half, y + half, f=how.feed)
        for sx, sy in ((-1, 1), (-1, -1), (1, -1), (1, 1)):
            w.go(1, x + sx * half, y + sy * half)
        half -= 0.6 * tool
    w.go(0, z=how.safe)
    ccw = rng.random() < 0.5
    split = splits(rng, w.dialect.centres != "r")
    radius = path + 0.42 * path + 0.5 * tool
    while radius > path + 0.3 * tool:
        plunge_at(w, how, (x + radius, y), z)
        lap(w, Circle(at, radius, "boss", tool, ccw, 0.0, (0.5, 0.5)), radius, how)
        w.go(0, z=how.safe)
        radius -= 0.6 * tool
    c = _circle(rng, w, at, path, "boss", tool, split=split, lead=rng.choice(("plunge", "straight", "arc")))
    cut_circle(w, c, how)
    return [Truth(at, path, "boss", tool, ccw=c.ccw)]


def counterbore(w, at, tool, how, rng) -> list[Truth]:
    """A shallow wide hole over a deep narrow one."""
    wide, narrow = (
        _size(rng, 1.6 * tool / how.k, 30, how.k),
        _size(rng, 0.2 * tool / how.k, 0.36 * tool / how.k, how.k),
    )
    rings = [0.4 * tool]
    while rings[-1] + 0.8 * tool < wide - 0.1 * tool:
        rings.append(rings[-1] + 0.8 * tool)
    shallow = Cutting(how.k, (how.depths[0],), how.feed, how.safe)
    cut_circle(w, _circle(rng, w, at, wide, "hole", tool, rings=tuple(rings)), shallow)
    deep = Cutting(how.k, (how.depths[-1] - round(2 * how.k, w.dialect.decimals),), how.feed, how.safe)
    cut_circle(w, _circle(rng, w, at, narrow, "hole", tool), deep)
    # once moved, the seat's clearing ring may lie nearer to the narrow one than coarse decimals tell apart
    coarse = w.unit * w.dialect.k >= 0.01 and rings[0] - narrow < 0.2 * how.k
    reasons = ("would-cut-air",) if coarse else ()
    return [Truth(at, wide, "hole", tool), Truth(at, narrow, "hole", tool, reasons=reasons)]


def washer(w, at, tool, how, rng) -> list[Truth]:
    """A small hole, and the outside cut round it: two features, far enough apart not to clear each other."""
    small = _size(rng, 0.2 * tool / how.k, 0.45 * tool / how.k, how.k)
    outside = _size(rng, 1.7 * tool / how.k + 2, 40, how.k)
    cut_circle(w, _circle(rng, w, at, small, "hole", tool), how)
    lead = rng.choice(("straight", "arc", "straight+arc"))
    cut_circle(w, _circle(rng, w, at, outside, "boss", tool, lead=lead), how)
    return [Truth(at, small, "hole", tool), Truth(at, outside, "boss", tool)]


def roughed_kerf(w, at, tool, how, rng) -> list[Truth]:
    """Cut through in two kerfs that overlap: the slug or the waste beside the first is no feature."""
    side = rng.choice(("hole", "boss"))
    path = _size(rng, 0.8 * tool / how.k + 2, 40, how.k)
    rough = path + rng.uniform(0.25, 0.45) * min(how.k, tool / 3) * (-1 if side == "hole" else 1)
    ccw = rng.random() < 0.5
    leads = ("plunge", "straight", "arc")
    cut_circle(w, _circle(rng, w, at, rough, side, tool, ccw=ccw, lead=rng.choice(leads)), how)
    last = Cutting(how.k, how.depths[-1:], how.feed, how.safe)
    cut_circle(w, _circle(rng, w, at, path, side, tool, ccw=ccw, lead=rng.choice(leads)), last)
    scrap = Truth(at, rough, None, tool, ("side-unknown", "cut-away"), optional=True)
    return [Truth(at, path, side, tool, ccw=ccw), scrap]


def spiral_hole(w, at, tool, how, rng) -> list[Truth]:
    """Cleared by half circles that grow into the wall, at every depth."""
    path = _size(rng, 1.2 * tool / how.k, 30, how.k)
    halves = 2 * int(path / (0.8 * tool)) + rng.choice((1, 2))
    x, y = at
    reach = [path * k / halves for k in range(halves + 1)]
    ccw = rng.random() < 0.5
    ends = [x + r * (1 if (halves - k) % 2 == 0 else -1) for k, r in enumerate(reach)]
    c = _circle(rng, w, at, path, "hole", tool, ccw=ccw, start=0.0, split=(0.5, 0.5))
    chords = False
    for z in how.depths:
        plunge_at(w, how, at, z)
        for a, b in pairwise(ends):
            begun = len(w.lines)
            w.arc(ccw, (b, y), ((a + b) / 2, y), f=how.feed)
        chords |= len(w.lines) > begun + 1
        lap(w, c, path, how)
        w.go(1, x + 0.3 * path, f=how.feed)
        w.go(0, z=how.safe)
    # chords that come in along the wall stay, but for the last: a hole made smaller would be cut into by
    # them, or have them for part of its wall
    reasons = ("would-collide", "would-cut-air") if chords else ()
    return [Truth(at, path, "hole", tool, ccw=ccw, reasons=reasons, if_smaller=True)]


def rough_pocket(w, at, tool, how, rng):
    """The first tool's share of a hole that the second tool finishes; gives what is left to do."""
    path = _size(rng, 1.3 * tool / how.k, 35, how.k)  # of the first tool at the wall
    stock = rng.uniform(0.2, 0.5) * how.k
    rings = [0.4 * tool]
    while rings[-1] + 0.8 * tool < path - stock:
        rings.append(rings[-1] + 0.8 * tool)
    rough = _circle(rng, w, at, path - stock, "hole", tool, rings=tuple(rings))
    cut_circle(w, rough, how)

    def finish(w, tool2, rng) -> list[Truth]:
        s = 1 / w.dialect.k / how.k  # the units may have changed
        centre = (at[0] * s, at[1] * s)
        wall = (path + tool / 2) * s - tool2 / 2
        if wall < 0.1 * tool2:  # the second tool has no room in it
            return [Truth(centre, (path - stock) * s, "hole", tool * s, ccw=rough.ccw)]
        lead = rng.choice(("plunge", "straight", "arc"))
        last = Cutting(how.k * s, (how.depths[-1] * s,), how.feed, how.safe * s)
        c = _circle(rng, w, centre, wall, "hole", tool2, lead=lead)
        cut_circle(w, c, last)
        return [Truth(centre, wall, "hole", tool2, ccw=c.ccw)]

    return finish


FEATURES = (
    roughed_kerf,
    spiral_hole,
    kerf_hole,
    small_hole,
    helix_hole,
    pocket_hole,
    kerf_boss,
    cleared_boss,
    boss_in_square,
    counterbore,
    washer,
)

"""Where what a cutter sweeps may differ between a program and its correction: bands along walls and leads.

The library shapely (GEOS) does the geometry of areas; the path is read by `sweep.py`, which shares nothing
with the project.
"""

from dataclasses import dataclass
from math import hypot

import shapely

from roundwright.pipeline import Outcome
from sweep import Cut, swept

#: what a written circle may be off (mm): the promise, and half a unit of its written decimals.
RESOLUTION = {False: 0.001 + 0.0005, True: 0.0026 + 0.00127}
#: areas narrower than this are noise of the polygons, mm.
NOISE = 2e-4


@dataclass(frozen=True)
class Circle:
    """A corrected wall, as the listing says it: where, how deep, its path's radius before and its shift."""

    name: str
    frame: str
    centre: tuple[float, float]
    radius: float
    delta: float

    def carries(self, cut: Cut) -> bool:
        """Whether the move is an arc round this wall's centre, or a chord of its circle."""
        if cut.frame != self.frame:
            return False
        if cut.sweep:
            return hypot(cut.centre[0] - self.centre[0], cut.centre[1] - self.centre[1]) < 0.02
        flat = cut.start[:2] != cut.end[:2]
        return flat and all(abs(self.off(place) - self.radius) < 0.02 for place in (cut.start, cut.end))

    def off(self, place: tuple[float, ...]) -> float:
        """How far a place is from the wall's centre."""
        return hypot(place[0] - self.centre[0], place[1] - self.centre[1])


def circles_of(outcome: Outcome) -> list[Circle]:
    return [
        Circle(c.feature.id, c.feature.frame[1:], c.feature.wall.centre, c.feature.wall.radius, c.change / 2)
        for c in outcome.plan.corrections
        if c.status == "corrected"
    ]


def differ(a: Cut, b: Cut) -> bool:
    return max(abs(p - q) for p, q in zip((*a.start, *a.end), (*b.start, *b.end), strict=True)) > 1e-7


def home_of(k: int, before: list[Cut], circles: list[Circle]) -> list[Circle]:
    """The walls that a changed move belongs to: its own, or the nearest that it is joined to, either way."""
    own = [circle for circle in circles if circle.carries(before[k])]
    if own:
        return own
    homes = []
    for way in (-1, 1):
        at = k
        while joined(before, at, way):
            at += way
            near = [circle for circle in circles if circle.carries(before[at])]
            if near:
                homes += near
                break
    assert homes, f"a move changed that leads to no corrected circle: {before[k]}"
    return homes


def joined(cuts: list[Cut], at: int, way: int) -> bool:
    """Whether the move before (-1) or behind (1) ends or begins where this one begins or ends."""
    first, second = sorted((at, at + way))
    return first >= 0 and second < len(cuts) and cuts[first].end == cuts[second].start


def allowed(k: int, before: list[Cut], after: list[Cut], circles: list[Circle], reach: float, fine: float):
    """The band about a changed move's old edge in which the swept area may differ."""
    old, new = before[k], after[k]
    homes = home_of(k, before, circles)
    shift = max(abs(circle.delta) for circle in homes) + fine
    stays = hypot(new.centre[0] - old.centre[0], new.centre[1] - old.centre[1]) < 0.02
    if stays and any(circle.carries(old) for circle in homes):
        nearest = min(homes, key=lambda circle: abs(circle.radius - circle.off(old.start)))
        was, now = nearest.off(old.start), nearest.off(new.start)
        shift = abs(now - was) + fine
        assert shift <= abs(nearest.delta) * max(1.0, was / nearest.radius) + 2 * fine
    return swept(old, reach).boundary.buffer(shift + 2 * NOISE, quad_segs=32)


def check_areas(before: list[Cut], after: list[Cut], circles: list[Circle], radii, fine: float) -> int:
    """Assert that areas differ only where they may, at each depth; gives the number of moves that changed."""
    assert len(before) == len(after)
    changed = [k for k, (a, b) in enumerate(zip(before, after, strict=True)) if differ(a, b)]
    for a, b in zip(before, after, strict=True):
        assert (a.tool, a.frame, a.start[2], a.end[2]) == (b.tool, b.frame, b.start[2], b.end[2])
    bands = {k: allowed(k, before, after, circles, radii[before[k].tool], fine) for k in changed}
    frames = {cut.frame for cut in before}
    for frame in sorted(frames):
        for level in sorted({round(cut.end[2], 3) for cut in before if cut.frame == frame}):
            deep = [k for k, cut in enumerate(before) if cut.frame == frame and _deep(cut, level)]
            if not any(k in bands for k in deep):
                continue
            old, new = (
                shapely.union_all([swept(cuts[k], radii[cuts[k].tool]) for k in deep])
                for cuts in (before, after)
            )
            beyond = old.symmetric_difference(new).difference(
                shapely.union_all([bands[k] for k in deep if k in bands])
            )
            assert beyond.buffer(-NOISE).is_empty, (frame, level, beyond.area, beyond.centroid.wkt)
    return len(changed)


def _deep(cut: Cut, level: float) -> bool:
    return min(cut.start[2], cut.end[2]) <= level + 0.005


def check_moves(before: list[Cut], after: list[Cut], circles: list[Circle], radii, fine: float) -> int:
    """As `check_areas`, move by move, for longer programs; gives the number of moves that changed.

    Where what each changed move sweeps differs within its own band, so does all that is swept, at every
    depth. Else what is left over is held against what other moves sweep there, as deep.
    """
    assert len(before) == len(after)
    changed, seen = 0, set()
    for k, (a, b) in enumerate(zip(before, after, strict=True)):
        assert (a.tool, a.frame, a.start[2], a.end[2]) == (b.tool, b.frame, b.start[2], b.end[2])
        if not differ(a, b):
            continue
        changed += 1
        shape = _shape(a, b)
        if shape in seen:
            continue
        seen.add(shape)
        reach = radii[a.tool]
        beyond = swept(a, reach).symmetric_difference(swept(b, reach))
        beyond = beyond.difference(allowed(k, before, after, circles, reach, fine)).buffer(-NOISE)
        if not beyond.is_empty:
            beyond = _left_there(beyond, k, before, after, circles, radii, fine)
        assert beyond.is_empty, (a, b, beyond.area, beyond.centroid.wkt)
    return changed


def _left_there(
    place, k: int, before: list[Cut], after: list[Cut], circles: list[Circle], radii, fine: float
):
    """What of a place all moves as deep as move `k` still sweep otherwise than before, beyond their bands."""
    level, frame = min(before[k].start[2], before[k].end[2]), before[k].frame
    near: dict[tuple, int] = {}  # what is cut at several depths counts once
    for j, (a, b) in enumerate(zip(before, after, strict=True)):
        if a.frame == frame and _deep(a, level) and _reaches(a, b, place.bounds, radii[a.tool]):
            near.setdefault(_shape(a, b), j)
    old, new = (
        shapely.union_all([swept(cuts[j], radii[cuts[j].tool]) for j in near.values()])
        for cuts in (before, after)
    )
    beyond = old.symmetric_difference(new).intersection(place).buffer(-NOISE)
    for j in near.values():
        if beyond.is_empty:
            break
        if differ(before[j], after[j]):
            beyond = beyond.difference(allowed(j, before, after, circles, radii[before[j].tool], fine))
    return beyond.buffer(-NOISE)


def _shape(a: Cut, b: Cut) -> tuple:
    """What two moves look like from above."""
    return a.tool, a.start[:2], a.end[:2], a.sweep, b.start[:2], b.end[:2], b.sweep


def _reaches(a: Cut, b: Cut, bounds: tuple[float, ...], reach: float) -> bool:
    """Whether either of two moves may sweep into a box."""
    places = [p[:2] for p in (a.start, a.end, b.start, b.end)]
    wide = reach
    for cut in (a, b):
        if cut.sweep:
            places.append(cut.centre)
            wide = max(wide, reach + hypot(cut.start[0] - cut.centre[0], cut.start[1] - cut.centre[1]))
    x, y = zip(*places, strict=True)
    return (
        min(x) - wide <= bounds[2]
        and max(x) + wide >= bounds[0]
        and min(y) - wide <= bounds[3]
        and max(y) + wide >= bounds[1]
    )

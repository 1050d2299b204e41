"""Plates with circles close to one another and slots and contours beside them, drawn from a seed (mm)."""

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from math import cos, pi, sin

import shapely
from shapely.geometry import LineString, Point

TOOL = 6.0
REACH = TOOL / 2


@dataclass(frozen=True)
class Drawn:
    """A hole or boss as drawn: its centre, its diameter, and how deep it goes."""

    side: str
    centre: tuple[float, float]
    diameter: float
    depth: float


@dataclass
class Plate:
    """A program, the circles in it, and what else is cut."""

    lines: list[str] = field(default_factory=lambda: ["G21 G90 G17", "T1 M6", "M3 S12000", "G0 Z5"])
    circles: list[Drawn] = field(default_factory=list)
    taken: list[shapely.Geometry] = field(default_factory=list)  # what each circle, slot or contour removes
    others: list[shapely.Geometry] = field(default_factory=list)  # slots and contours

    @property
    def data(self) -> bytes:
        return "\n".join([*self.lines, "G0 Z5", "M30", ""]).encode()


def n(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".").replace("-0", "-0") or "0"


def at(x: float, y: float) -> str:
    return f"X{n(x)} Y{n(y)}"


def polar(centre: tuple[float, float], r: float, angle: float) -> tuple[float, float]:
    return round(centre[0] + r * cos(angle), 3), round(centre[1] + r * sin(angle), 3)


def lap(g: int, centre: tuple[float, float], start: tuple[float, float], pieces: int) -> list[str]:
    """Once round `centre` from `start` in one, two or four arcs."""
    x, y = start
    turn = (1 if g == 3 else -1) * 2 * pi / pieces
    lines = []
    for k in range(1, pieces + 1):
        dx, dy = start[0] - centre[0], start[1] - centre[1]
        c, s = (1, 0) if k == pieces else (cos(turn * k), sin(turn * k))
        nx, ny = round(centre[0] + dx * c - dy * s, 3), round(centre[1] + dx * s + dy * c, 3)
        lines.append(f"G{g} {at(nx, ny)} I{n(centre[0] - x)} J{n(centre[1] - y)}")
        x, y = nx, ny
    return lines


def levels(depth: float) -> list[float]:
    return [z for z in (-2.0, -4.0, -6.0) if z >= depth]


def hole(
    rng: random.Random, plate: Plate, centre: tuple[float, float], diameter: float, depth: float
) -> None:
    """Leads straight, by an arc or by both; perhaps two clearing rings, linked; perhaps a helix down."""
    rho, angle = diameter / 2 - REACH, rng.uniform(0, 2 * pi)
    g, pieces = rng.choice([2, 3]), rng.choice([1, 2, 4])
    start = polar(centre, rho, angle)
    lead = rng.choice(["straight", "arc", "helix"]) if rho > 2 else "straight"
    inner = [round(rho * s, 3) for s in (0.4, 0.7)] if rho > 6 and rng.random() < 0.6 else []
    plate.lines += [f"G0 {at(*centre)}", "G0 Z1"]
    if lead == "helix":
        plate.lines += [f"G1 {at(*start)} F900", "G1 Z0 F300"]
        x, y = start
        plate.lines += [
            f"G{g} {at(x, y)} Z{n(z)} I{n(centre[0] - x)} J{n(centre[1] - y)} F1200" for z in levels(depth)
        ]
        plate.lines += [*lap(g, centre, start, pieces), f"G1 {at(*centre)}", "G0 Z5"]
    else:
        for z in levels(depth):
            plate.lines += [f"G1 Z{n(z)} F300"]
            for r in inner:
                ring = polar(centre, r, angle)
                plate.lines += [f"G1 {at(*ring)} F1200", *lap(g, centre, ring, pieces)]
            plate.lines += [
                *_in(lead if not inner else "straight", g, centre, start),
                *lap(g, centre, start, pieces),
            ]
            plate.lines += [f"G1 {at(*centre)}"]
        plate.lines += ["G0 Z5"]
    plate.circles.append(Drawn("hole", centre, diameter, depth))
    plate.taken.append(Point(centre).buffer(diameter / 2, quad_segs=90))


def _in(lead: str, g: int, centre: tuple[float, float], start: tuple[float, float]) -> list[str]:
    """The lead into a hole: straight from the centre, or a quarter arc that is tangent to the ring."""
    if lead == "straight":
        return [f"G1 {at(*start)} F1200"]
    # the arc's centre lies on the radius, half way; its start a quarter turn before the contact
    dx, dy = (start[0] - centre[0]) / 2, (start[1] - centre[1]) / 2
    mid = (centre[0] + dx, centre[1] + dy)
    sign = -1 if g == 3 else 1
    x, y = round(mid[0] - sign * dy, 3), round(mid[1] + sign * dx, 3)
    return [f"G1 {at(x, y)} F1200", f"G{g} {at(*start)} I{n(mid[0] - x)} J{n(mid[1] - y)}"]


def boss(
    rng: random.Random, plate: Plate, centre: tuple[float, float], diameter: float, depth: float
) -> None:
    """A trench round a boss, entered from outside: straight, or by a quarter arc with the plunge on it."""
    rho, angle = diameter / 2 + REACH, rng.uniform(0, 2 * pi)
    g, pieces, lead = rng.choice([2, 3]), rng.choice([1, 2, 4]), rng.choice(["straight", "arc"])
    start, far = polar(centre, rho, angle), polar(centre, rho + 4, angle)
    into, out = f"G1 {at(*start)} F1200", f"G1 {at(*far)}"
    first, last = far, far
    if lead == "arc":  # about `far`, against the sense of the ring, so that it is tangent
        dx, dy = far[0] - start[0], far[1] - start[1]
        sign = 1 if g == 3 else -1
        first = (round(far[0] + sign * dy, 3), round(far[1] - sign * dx, 3))
        last = (round(far[0] - sign * dy, 3), round(far[1] + sign * dx, 3))
        into = f"G{5 - g} {at(*start)} I{n(far[0] - first[0])} J{n(far[1] - first[1])} F1200"
        out = f"G{5 - g} {at(*last)} I{n(far[0] - start[0])} J{n(far[1] - start[1])}"
    for z in levels(depth):
        plate.lines += [f"G0 {at(*first)}", "G0 Z1", f"G1 Z{n(z)} F300", into, *lap(g, centre, start, pieces)]
        plate.lines += [out, "G0 Z5"]
    plate.circles.append(Drawn("boss", centre, diameter, depth))
    ring = (
        Point(centre)
        .buffer(rho + REACH, quad_segs=90)
        .difference(Point(centre).buffer(diameter / 2, quad_segs=90))
    )
    leads = LineString([start, far]) if lead == "straight" else LineString(_quarters(far, first, start, last))
    plate.taken.append(ring.union(leads.buffer(REACH, quad_segs=90)))


def _quarters(centre, *points):
    """Corners along the quarter arcs through the points, the far ends in and out included."""
    found = []
    for a, b in pairwise(points):
        va, vb = ((p[0] - centre[0], p[1] - centre[1]) for p in (a, b))
        for k in range(31):
            c, s = cos(pi / 60 * k), sin(pi / 60 * k)
            found.append((centre[0] + va[0] * c + vb[0] * s, centre[1] + va[1] * c + vb[1] * s))
    return found


def run(plate: Plate, points: list[tuple[float, float]], depth: float) -> None:
    """A slot or a contour: straight moves one after the other."""
    plate.lines += [f"G0 {at(*points[0])}", "G0 Z1"]
    for z in levels(depth):
        plate.lines += [f"G1 Z{n(z)} F300", *(f"G1 {at(*p)} F1200" for p in points[1:])]
        points = points if points[0] == points[-1] else points[::-1]
    plate.lines += ["G0 Z5"]
    plate.taken.append(LineString(points).buffer(REACH))
    plate.others.append(plate.taken[-1])


def draw(seed: int, gaps: Callable[[random.Random], float]) -> Plate:
    """A plate of 2 to 8 circles; `gaps` gives how much material stands between neighbours."""
    rng = random.Random(seed)
    plate = Plate()
    _circle(rng, plate, (0.0, 0.0), rng.choice([8.0, 12.0, 20.0, 31.0]))
    for _ in range(rng.randint(1, 7)):
        _beside(rng, plate, gaps(rng))
    for _ in range(rng.randint(0, 3)):
        _slot_beside(rng, plate, gaps(rng))
    if rng.random() < 0.5:
        _contour(plate, gaps(rng))
    return plate


def _circle(rng: random.Random, plate: Plate, centre: tuple[float, float], diameter: float) -> None:
    depth = rng.choice([-2.0, -4.0, -6.0])
    (boss if rng.random() < 0.4 and diameter >= 12 else hole)(rng, plate, centre, diameter, depth)


def _beside(rng: random.Random, plate: Plate, gap: float) -> None:
    """One more circle, that much material away from one that stands; nothing where there is no room."""
    for _ in range(20):
        old, diameter = rng.choice(plate.circles), rng.choice([8.0, 10.0, 12.5, 18.0, 26.0])
        trial = Plate()
        outer = old.diameter / 2 + (TOOL if old.side == "boss" else 0.0)
        state = rng.getstate()
        _circle(rng, trial, (0.0, 0.0), diameter)
        own = trial.circles[0].diameter / 2 + (TOOL if trial.circles[0].side == "boss" else 0.0)
        centre = polar(old.centre, outer + own + gap, rng.uniform(0, 2 * pi))
        rng.setstate(state)
        trial = Plate()
        _circle(rng, trial, centre, diameter)
        if min(trial.taken[0].distance(other) for other in plate.taken) >= gap - 0.01:
            plate.lines += trial.lines[4:]
            plate.circles += trial.circles
            plate.taken += trial.taken
            return


def _slot_beside(rng: random.Random, plate: Plate, gap: float) -> None:
    """A slot along a circle, or ending before it."""
    for _ in range(20):
        old, angle, length = rng.choice(plate.circles), rng.uniform(0, 2 * pi), rng.uniform(5, 30)
        near = old.diameter / 2 + (TOOL if old.side == "boss" else 0.0) + REACH + gap
        x, y = polar(old.centre, near, angle)
        if rng.random() < 0.5:
            points = [(x, y), polar(old.centre, near + length, angle)]
        else:
            ux, uy = -sin(angle) * length / 2, cos(angle) * length / 2
            points = [(round(x - ux, 3), round(y - uy, 3)), (round(x + ux, 3), round(y + uy, 3))]
        band = LineString(points).buffer(REACH)
        if min(band.distance(other) for other in plate.taken) >= gap - 0.01:
            run(plate, points, rng.choice([-2.0, -4.0, -6.0]))
            return


def _contour(plate: Plate, gap: float) -> None:
    """A rectangle round everything."""
    x0, y0, x1, y1 = shapely.union_all(plate.taken).bounds
    far = REACH + gap
    x0, y0, x1, y1 = (round(v, 3) for v in (x0 - far, y0 - far, x1 + far, y1 + far))
    run(plate, [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)], -6.0)

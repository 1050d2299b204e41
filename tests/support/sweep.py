"""A plain interpreter of straight and circular moves, and what a cutter's disc sweeps along them.

It shares nothing with the project: it reads the words of a block with one regular expression and keeps
the modal state in a dict: G0-G3, G17-G19, G20/21, G54-G59, G81, G28, G30 and G53 (the place is given again
behind them), G52, G68/69, G92 and G10 (a frame of its own each), G90/91, G90.1/91.1, P turns, R form.
Blocks of control words and numbers in brackets or variables are passed over. Lengths in mm.
"""

import re
from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin, sqrt

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

_WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
#: largest distance between a polygon's edge and the true circle.
SAGITTA = 1e-4


@dataclass(frozen=True)
class Cut:
    """A cutting move: `sweep` is 0 where it is straight, positive counter-clockwise (radians)."""

    start: tuple[float, float, float]
    end: tuple[float, float, float]
    centre: tuple[float, float]
    sweep: float
    tool: int
    frame: str


def words_of(line: str) -> list[tuple[str, float]]:
    bare = re.sub(r"\([^)]*\)|;.*|\[.*?\]|^\s*(O|#|IF|WHILE).*", "", line.upper())
    return [(letter, float(text)) for letter, text in _WORD.findall(re.sub(r"\s", "", bare))]


def cuts_of(text: str) -> list[Cut]:
    """All feed moves of a program."""
    at = [0.0, 0.0, 0.0]
    state = {
        "motion": 0.0,
        "plane": 17.0,
        "unit": 1.0,
        "incremental": False,
        "absolute": False,
        "tool": 0,
        "frame": "54",
    }
    cuts: list[Cut] = []
    for line in text.splitlines():
        words = words_of(line)
        for letter, value in words:
            _set(state, letter, value)
        given = {letter: value * state["unit"] for letter, value in words if letter in "XYZIJR"}
        if ("M", 30.0) in words:
            break
        if _shifts(state, words, given, at):
            continue
        turns = next((value for letter, value in words if letter == "P"), 1.0)
        home = any(("G", code) in words for code in (28.0, 30.0, 53.0))
        if home or not given.keys() & set("XYZIJR"):
            continue
        start = tuple(at)
        for k, axis in enumerate("XYZ"):
            if axis in given:
                at[k] = given[axis] + (at[k] if state["incremental"] else 0.0)
        if state["motion"] == 81:
            cuts.append(Cut((at[0], at[1], at[2]), tuple(at), (0, 0), 0.0, state["tool"], state["frame"]))
            at[2] = start[2]
        elif state["motion"] in (1, 2, 3):
            cuts.append(_cut(state, start, tuple(at), given, turns))
    return cuts


def _shifts(state: dict, words: list[tuple[str, float]], given: dict, at: list[float]) -> bool:
    """Whether the block moves or turns the coordinates: then a frame of its own begins."""
    if not any(("G", code) in words for code in (10.0, 52.0, 68.0, 69.0, 92.0, 92.1)):
        return False
    offset, _, count = state["frame"].partition("+")
    state["frame"] = f"{offset}+{int(count or 0) + 1}"
    if ("G", 92.0) in words or ("L", 20.0) in words:
        for k, axis in enumerate("XYZ"):
            at[k] = given.get(axis, at[k])
    return True


def _set(state: dict, letter: str, value: float) -> None:
    if letter == "T":
        state["tool"] = int(value)
    if letter != "G":
        return
    if value in (0, 1, 2, 3, 80, 81):
        state["motion"] = value
    elif value in (17, 18, 19):
        state["plane"] = value
    elif value in (20, 21):
        state["unit"] = 25.4 if value == 20 else 1.0
    elif value in (90, 91):
        state["incremental"] = value == 91
    elif value in (90.1, 91.1):
        state["absolute"] = value == 90.1
    elif 54 <= value < 60:
        state["frame"] = f"{value:g}"
    elif value not in (4, 10, 28, 30, 40, 52, 53, 68, 69, 92, 92.1, 93, 94, 98):
        raise ValueError(f"G{value:g} is not read here")


def _cut(state: dict, start: tuple, end: tuple, given: dict, turns: float) -> Cut:
    tool, frame = state["tool"], state["frame"]
    if (
        state["motion"] == 1 or state["plane"] != 17
    ):  # seen from above, an arc in an upright plane is straight
        return Cut(start, end, (0.0, 0.0), 0.0, tool, frame)
    ccw = state["motion"] == 3
    if "R" in given:
        centre = _centre(start, end, given["R"], ccw)
    elif state["absolute"]:
        centre = given.get("I", 0.0), given.get("J", 0.0)
    else:
        centre = start[0] + given.get("I", 0.0), start[1] + given.get("J", 0.0)
    a, b = (atan2(p[1] - centre[1], p[0] - centre[0]) for p in (start, end))
    sweep = (b - a) % (2 * pi) if ccw else -((a - b) % (2 * pi))
    if hypot(start[0] - end[0], start[1] - end[1]) < 1e-9:
        sweep = 2 * pi if ccw else -2 * pi
    return Cut(start, end, centre, sweep + (turns - 1) * (2 * pi if ccw else -2 * pi), tool, frame)


def _centre(start: tuple, end: tuple, r: float, ccw: bool) -> tuple[float, float]:
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = hypot(dx, dy)
    height = sqrt(max(0.0, r * r - chord * chord / 4))
    side = 1.0 if ccw == (r > 0) else -1.0
    return (start[0] + end[0]) / 2 - side * height * dy / chord, (
        start[1] + end[1]
    ) / 2 + side * height * dx / chord


def disc(x: float, y: float, r: float) -> Polygon:
    return Point(x, y).buffer(r, quad_segs=_steps(pi / 2, r))


def _steps(angle: float, r: float) -> int:
    return max(8, int(np.ceil(abs(angle) / sqrt(8 * SAGITTA / r))))


def swept(cut: Cut, r: float) -> shapely.Geometry:
    """What a disc of radius r sweeps along one move, seen from above; corners lie on the true edge."""
    (x0, y0, _), (x1, y1, _) = cut.start, cut.end
    ends = [disc(x0, y0, r), disc(x1, y1, r)]
    if cut.sweep == 0.0:
        band = (
            LineString([(x0, y0), (x1, y1)]).buffer(r, cap_style="flat") if (x0, y0) != (x1, y1) else ends[0]
        )
        return shapely.unary_union([band, *ends])
    cx, cy = cut.centre
    begin, rho = atan2(y0 - cy, x0 - cx), (hypot(x0 - cx, y0 - cy) + hypot(x1 - cx, y1 - cy)) / 2
    sweep = max(-2 * pi, min(2 * pi, cut.sweep))
    angles = begin + np.linspace(0, sweep, _steps(sweep, rho + r) + 1)
    around = np.column_stack([np.cos(angles), np.sin(angles)])
    outer = around * (rho + r) + (cx, cy)
    if abs(sweep) >= 2 * pi - 1e-9:
        holes = [around * (rho - r) + (cx, cy)] if rho > r else []
        return Polygon(outer, holes)
    inner = around * max(rho - r, 0.0) + (cx, cy)
    return shapely.unary_union([shapely.make_valid(Polygon(np.concatenate([outer, inner[::-1]]))), *ends])


@dataclass(frozen=True)
class Wall:
    """What is left of a planned circle: its radius as measured at every degree where it stands.

    `stands` is the share of the circumference with an edge within `tolerance` of the planned radius;
    `off` the largest deviation there. `side` says on which side of it was cut.
    """

    stands: float
    off: float
    side: str


def measure(
    cuts: list[Cut],
    radii: dict[int, float],
    centre: tuple[float, float],
    diameter: float,
    bottom: float,
    frame: str,
    tolerance: float,
    window: float = 0.15,
) -> Wall:
    """Sweep every move that goes down to `bottom` and measure the edge round `centre` near `diameter`."""
    far = diameter / 2 + 1.0
    shapes = []
    for cut in dict.fromkeys(cuts):
        if cut.frame != frame or max(cut.start[2], cut.end[2]) > bottom + 0.005:
            if cut.frame != frame or cut.end[2] > bottom + 0.005 or cut.sweep:
                continue
            plunge = disc(cut.end[0], cut.end[1], radii[cut.tool])
            shapes.append(plunge)
            continue
        shapes.append(swept(cut, radii[cut.tool]))
    area = shapely.unary_union([s for s in shapes if s.distance(Point(centre)) < far])
    edge = shapely.segmentize(area.boundary, diameter / 2 * np.radians(0.7))  # straights, too, by degrees
    corners = shapely.get_coordinates(edge) - np.array(centre)
    r = np.hypot(corners[:, 0], corners[:, 1])
    near = np.abs(r - diameter / 2) <= window
    degree = np.floor(np.degrees(np.arctan2(corners[near, 1], corners[near, 0]))).astype(int) % 360
    worst = np.full(360, np.inf)
    for k in np.unique(degree):
        worst[k] = np.abs(r[near][degree == k] - diameter / 2).max()
    good = worst <= tolerance
    return Wall(
        float(good.mean()), float(worst[good].max(initial=0.0)), _side(area, centre, diameter / 2, good)
    )


def _side(area: shapely.Geometry, centre: tuple[float, float], radius: float, good: np.ndarray) -> str:
    angles = np.radians(np.flatnonzero(good) + 0.5)
    inside, outside = (
        shapely.contains_xy(area, centre[0] + rr * np.cos(angles), centre[1] + rr * np.sin(angles))
        for rr in (radius - 0.02, radius + 0.02)
    )
    if inside.all() and not outside.any():
        return "hole"
    return "boss" if outside.all() and not inside.any() else "mixed"


def lap(cx: float, cy: float, rho: float, at: float) -> tuple[float, float]:
    """A point on a circle at an angle."""
    return cx + rho * cos(at), cy + rho * sin(at)

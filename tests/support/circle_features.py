"""Holes and bosses as a shop's programs cut them, with what is true of them. Lengths in program units."""

from dataclasses import dataclass, replace
from math import cos, pi, sin, tau

from program_writer import Writer


@dataclass(frozen=True)
class Truth:
    """One circle that the program makes. `side` None: the path does not tell. Program units."""

    centre: tuple[float, float]
    path: float  # radius of the path
    side: str | None
    tool: float
    faults: tuple[str, ...] = ("",)  # the faults that it may be listed with
    optional: bool = False  # it may also be taken for clearing of another
    ccw: bool | None = None  # turn of the wall pass at full depth, where the cut is compared
    reasons: tuple[str, ...] = ()  # why it may be left alone
    if_smaller: bool = False  # only where its hole is made smaller may it be left alone
    twin: float | None = None  # radius of another ring on the same surface, which may be found in its stead
    frame: str = ""  # as it is labelled
    style: str = ""  # arcs, chords, mixed, and who drew it

    @property
    def diameter(self) -> float | None:
        if self.side is None:
            return None
        return 2 * self.path + (self.tool if self.side == "hole" else -self.tool)


@dataclass(frozen=True)
class Zone:
    """A decoy: nothing round it is a feature; what is listed there has one of these faults."""

    centre: tuple[float, float]
    reach: float
    faults: tuple[str, ...] = ()
    name: str = ""
    frame: str = ""
    style: str = ""


@dataclass(frozen=True)
class Cutting:
    """How a circle is cut: depths below zero, feeds; `k` turns millimetres into program units."""

    k: float
    depths: tuple[float, ...]
    feed: float
    safe: float
    plunge: float = 200


@dataclass(frozen=True)
class Circle:
    """A circle to be cut, its path known."""

    centre: tuple[float, float]
    path: float
    side: str  # hole or boss, what it is
    tool: float
    ccw: bool
    start: float  # angle, radians
    split: tuple[float, ...] = (1.0,)  # shares of a turn, may add up to more than one
    lead: str = "plunge"  # plunge, straight, arc, straight+arc
    rings: tuple[float, ...] = ()  # radii of clearing or roughing rings, in cutting order
    form: str = "flat"  # flat, helix, turns
    spring: bool = False
    tabs: int = 0
    per_depth: bool = True  # leads at every depth, else straight down on the ring
    compensated: bool = False  # the control keeps the cutter off the path


def polar(centre, radius, angle):
    return centre[0] + radius * cos(angle), centre[1] + radius * sin(angle)


def plunge_at(w: Writer, how: Cutting, point, z: float) -> None:
    w.go(0, z=how.safe)
    w.go(0, *point)
    w.go(1, z=z, f=how.plunge)


def lap(w: Writer, c: Circle, radius: float, how: Cutting, z_to=None) -> None:
    """Once round from where the tool stands; down to `z_to` where that is given."""
    z_from = w.at[2] * w.unit
    done = 0.0
    sign = 1 if c.ccw else -1
    for share in c.split:
        done += share
        end = polar(c.centre, radius, c.start + sign * tau * done)
        z = None if z_to is None else z_from + (z_to - z_from) * min(1.0, done / sum(c.split))
        w.arc(c.ccw, end, c.centre, z=z, f=how.feed)


def tabbed_lap(w: Writer, c: Circle, how: Cutting, z: float) -> None:
    """A lap of pieces, every second one over a holding tab: up, across, down."""
    sign = 1 if c.ccw else -1
    n = 2 * c.tabs
    for k in range(n):
        share = 1 / n + (0.6 if k % 2 == 0 else -0.6) / n
        done = (k // 2) * 2 / n + (share if k % 2 == 0 else 2 / n)
        up = z + 0.3 * abs(z)
        if k % 2:
            w.go(1, z=up, f=how.plunge)
        w.arc(c.ccw, polar(c.centre, c.path, c.start + sign * tau * done), c.centre, f=how.feed)
        if k % 2:
            w.go(1, z=z, f=how.plunge)


def lead_points(c: Circle, radius: float, incoming: bool):
    """Far end, corner and arc centre of a lead, each None where there is none; and the arc's turn."""
    inside = c.side == "hole"
    run = sum(c.split) * tau * (1 if c.ccw else -1)
    angle = c.start if incoming else c.start + run
    contact = polar(c.centre, radius, angle)
    toward = -1 if inside else 1  # radially, away from the wall
    arc_r = min(0.35 * radius, 0.8 * c.tool) if inside else 0.8 * c.tool
    length = min(0.5 * radius, 0.7 * c.tool) if inside else 0.9 * c.tool
    if c.lead == "straight":
        return polar(c.centre, radius + toward * length, angle), None, None, False
    middle = polar(c.centre, radius + toward * arc_r, angle)
    turn = c.ccw if inside else not c.ccw
    back = (-1 if incoming else 1) * (1 if turn else -1) * pi / 2
    out = angle if inside else angle + pi  # from the arc's centre to the contact
    corner = polar(middle, arc_r, out + back)
    if c.lead == "arc":
        return corner, None, middle, turn
    far = (
        corner[0] + toward * 0.3 * arc_r * cos(angle),
        corner[1] + toward * 0.3 * arc_r * sin(angle),
    )
    return far, (corner, contact), middle, turn


def enter(w: Writer, c: Circle, how: Cutting, z: float, radius: float) -> None:
    contact = polar(c.centre, radius, c.start)
    if c.lead == "plunge":
        plunge_at(w, how, contact, z)
        return
    far, corner, middle, turn = lead_points(c, radius, incoming=True)
    plunge_at(w, how, far, z)
    if c.compensated:
        left = c.ccw == (c.side == "hole")
        w.words = ("G41" if left else "G42", "D1")
    if corner:
        w.go(1, *corner[0], f=how.feed)
    if middle:
        w.arc(turn, contact, middle, f=how.feed)
    else:
        w.go(1, *contact, f=how.feed)


def leave(w: Writer, c: Circle, how: Cutting, radius: float) -> None:
    if c.lead != "plunge":
        far, corner, middle, turn = lead_points(c, radius, incoming=False)
        if middle:
            w.arc(turn, corner[0] if corner else far, middle, f=how.feed)
        w.words = ("G40",) if c.compensated else ()
        w.go(1, *far, f=how.feed)
    w.go(0, z=how.safe)


def cut_circle(w: Writer, c: Circle, how: Cutting) -> None:
    """Rings first, where there are any, then the wall."""
    if c.rings:
        clear(w, c, how)
        enter(w, c, how, how.depths[-1], c.path)
        lap(w, c, c.path, how)
    elif c.form in ("helix", "turns"):
        helix(w, c, how)
    elif c.per_depth or c.tabs:
        for z in how.depths:
            enter(w, c, how, z, c.path)
            if c.tabs and z == how.depths[-1]:
                tabbed_lap(w, c, how, z)
            else:
                lap(w, c, c.path, how)
            leave(w, c, how, c.path)
        return
    else:
        enter(w, c, how, how.depths[0], c.path)
        for z in how.depths:
            w.go(1, z=z, f=how.plunge)
            lap(w, c, c.path, how)
    if c.spring:
        lap(w, c, c.path, how)
    leave(w, c, how, c.path)


def clear(w: Writer, c: Circle, how: Cutting) -> None:
    """The rings at every depth, joined by straights along one radius."""
    c = replace(c, split=c.split if sum(c.split) < 1.001 else (0.5, 0.5))
    for z in how.depths:
        for k, radius in enumerate(c.rings):
            point = polar(c.centre, radius, c.start)
            if k == 0:
                plunge_at(w, how, point, z)
            else:
                w.go(1, *point, f=how.feed)
            lap(w, c, radius, how)
    w.go(0, z=how.safe)


def helix(w: Writer, c: Circle, how: Cutting) -> None:
    enter(w, c, how, 0.0, c.path)
    if c.form == "turns":
        top = polar(c.centre, c.path, c.start)
        w.arc(c.ccw, top, c.centre, z=how.depths[-1], f=how.feed, turns=len(how.depths))
        lap(w, c, c.path, how)
        return
    for z in how.depths:
        lap(w, c, c.path, how, z)
    lap(w, c, c.path, how)

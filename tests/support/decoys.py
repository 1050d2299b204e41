"""What only looks round, or must stay untouched: each draws itself round a centre and names its zone."""

from math import cos, pi, sin, tau

from circle_features import Circle, Cutting, Zone, lap, plunge_at, polar
from program_writer import Writer


def slot(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    r, half, turn = rng.uniform(1, 8) * how.k, rng.uniform(4, 12) * how.k, rng.random() < 0.5
    x, y = at
    s = 1 if turn else -1
    plunge_at(w, how, (x - half, y - s * r), how.depths[-1])
    w.go(1, x + half, f=how.feed)
    w.arc(turn, (x + half, y + s * r), (x + half, y), f=how.feed)
    w.go(1, x - half)
    w.arc(turn, (x - half, y - s * r), (x - half, y))
    w.go(0, z=how.safe)
    return Zone(at, 40 * how.k, name="slot")


def rounded_rectangle(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    r, a, b = (rng.uniform(*lim) * how.k for lim in ((2, 6), (8, 20), (8, 20)))
    x, y = at
    plunge_at(w, how, (x - a + r, y - b), how.depths[-1])
    corners = [(a - r, -b + r, 0), (a - r, b - r, 1), (-a + r, b - r, 2), (-a + r, -b + r, 3)]
    for cx, cy, k in corners:
        middle = (x + cx, y + cy)
        w.go(1, *polar(middle, r, (k - 1) * pi / 2), f=how.feed)
        w.arc(True, polar(middle, r, k * pi / 2), middle, f=how.feed)
    w.go(0, z=how.safe)
    return Zone(at, 40 * how.k, name="rounded rectangle")


def fillet(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    x, y = at
    r = rng.uniform(2, 10) * how.k
    plunge_at(w, how, (x - 2 * r, y), how.depths[-1])
    w.go(1, x, f=how.feed)
    w.arc(True, (x + r, y + r), (x, y + r), f=how.feed)
    w.go(1, y=y + 2 * r)
    w.go(0, z=how.safe)
    return Zone(at, 40 * how.k, name="fillet")


def polygon(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    n, r, turn = rng.randint(6, 11), rng.uniform(3, 20) * how.k, rng.uniform(0, tau)
    plunge_at(w, how, polar(at, r, turn), how.depths[-1])
    for k in range(1, n + 1):
        w.go(1, *polar(at, r, turn + k * tau / n), f=how.feed)
    w.go(0, z=how.safe)
    return Zone(at, 40 * how.k, name=f"{n}-gon")


def spiral(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    """Half circles that grow, each about its own centre."""
    step, n, turn = rng.uniform(1, 3) * how.k, rng.randint(4, 9), rng.random() < 0.5
    x, y = at
    plunge_at(w, how, at, how.depths[-1])
    here = 0.0
    for k in range(1, n + 1):
        there = (step * k / 2) * (1 if k % 2 else -1)
        w.arc(turn, (x + there, y), (x + (here + there) / 2, y), f=how.feed)
        here = there
    w.go(0, z=how.safe)
    return Zone(at, 40 * how.k, name="spiral")


def ellipse(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    a, b, n = rng.uniform(10, 20) * how.k, rng.uniform(5, 9) * how.k, rng.randint(24, 72)
    plunge_at(w, how, (at[0] + a, at[1]), how.depths[-1])
    for k in range(1, n + 1):
        w.go(1, at[0] + a * cos(k * tau / n), at[1] + b * sin(k * tau / n), f=how.feed)
    w.go(0, z=how.safe)
    return Zone(at, 40 * how.k, name="ellipse")


def three_quarters(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    r, a, ccw = rng.uniform(3, 20) * how.k, rng.uniform(0, tau), rng.random() < 0.5
    s = 1 if ccw else -1
    for z in how.depths:
        plunge_at(w, how, polar(at, r, a), z)
        w.arc(ccw, polar(at, r, a + s * pi / 2), at, f=how.feed)
        w.arc(ccw, polar(at, r, a + s * 3 * pi / 2), at, f=how.feed)
        w.go(0, z=how.safe)
    return Zone(at, 40 * how.k, name="three quarters")


def drilled(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    """A canned cycle: its R and, in other cycles, I J K are no arc words."""
    w.go(0, z=how.safe)
    w.go(0, *at)
    back, safe = w.whole(how.safe / 2), w.whole(how.safe)
    modes = ("G90", "G91") if w.dialect.incremental else ()
    w.block(*modes[:1], "G99", "G81", w.axis(2, how.depths[-1]), "R" + w.text(back), "F100")
    w.block("G80")
    w.block("G0", w.axis(2, how.safe))
    if modes:
        w.block("G91")
    w.at[2], w.motion, w.feed = safe, "G0", 100
    return Zone(at, 40 * how.k, name="drilled")


def thread(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    """A helix that goes up, entered and left through the middle, with no flat turn."""
    r = rng.uniform(3, 12) * how.k
    c = Circle(at, r, "hole", tool, rng.random() < 0.5, rng.uniform(0, tau), rng.choice([(1.0,), (0.5, 0.5)]))
    plunge_at(w, how, at, how.depths[-1])
    w.go(1, *polar(at, r, c.start), f=how.feed)
    for k in range(1, 4):
        lap(w, c, r, how, how.depths[-1] * (1 - k / 4))
    w.go(1, *at)
    w.go(0, z=how.safe)
    return Zone(at, 40 * how.k, ("thread",), "thread")


def taper(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    """Rings that shrink with depth, each deep one inside the last; the middle is cleared."""
    n, r, step = rng.randint(4, 7), rng.uniform(9, 14) * how.k, rng.uniform(0.2, 0.6) * how.k
    for k in range(n):
        radius, z = r - k * step, -(k + 1) * 0.8 * how.k
        c = Circle(at, radius, "hole", tool, True, 0.0, (0.5, 0.5))
        plunge_at(w, how, polar(at, radius, 0.0), z)
        lap(w, c, radius, how)
        w.go(0, z=how.safe)
    return Zone(at, 40 * how.k, ("taper",), "taper")


def square_pocket(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    """Full circles rough it out, straights finish it."""
    half = rng.uniform(6, 15) * how.k
    x, y = at
    z = how.depths[-1]
    radius = 0.4 * tool
    plunge_at(w, how, polar(at, radius, 0.0), z)
    while True:
        w.go(1, *polar(at, radius, 0.0), f=how.feed)
        lap(w, Circle(at, radius, "hole", tool, True, 0.0), radius, how)
        if radius >= half:
            break
        radius = min(half, radius + 0.8 * tool)
    step = half
    while step > 0:
        w.go(1, x + step, y + step, f=how.feed)
        for sx, sy in ((-1, 1), (-1, -1), (1, -1), (1, 1)):
            w.go(1, x + sx * step, y + sy * step)
        step -= 0.8 * tool
    w.go(0, z=how.safe)
    return Zone(at, 45 * how.k, ("cut-away",), "square pocket")


def two_minds(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    """A kerf entered from inside and left to the outside: it contradicts itself."""
    r, a = rng.uniform(15, 25) * how.k, rng.uniform(0, tau)
    c = Circle(at, r, "hole", tool, rng.random() < 0.5, a, (1.0,))
    plunge_at(w, how, polar(at, r - 4 * how.k, a), how.depths[-1])
    w.go(1, *polar(at, r, a), f=how.feed)
    lap(w, c, r, how)
    w.go(1, *polar(at, r + 4 * how.k, a))
    w.go(0, z=how.safe)
    return Zone(at, 45 * how.k, ("side-unknown",), "two minds")


def contrary(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    """A kerf whose compensation says one side and whose leads say the other."""
    r, a, ccw, hole = rng.uniform(15, 25) * how.k, rng.uniform(0, tau), rng.random() < 0.5, rng.random() < 0.5
    c = Circle(at, r, "hole", tool, ccw, a, (0.5, 0.5))
    far = polar(at, r + (4 if hole else -4) * how.k, a)
    plunge_at(w, how, far, how.depths[-1])
    w.words = ("G41" if ccw == hole else "G42", "D1")
    w.go(1, *polar(at, r, a), f=how.feed)
    lap(w, c, r, how)
    w.words = ("G40",)
    w.go(1, *far)
    w.go(0, z=how.safe)
    return Zone(at, 45 * how.k, ("side-unknown",), "contrary")


def upright(w: Writer, at, tool, how: Cutting, rng) -> Zone:
    """A circle in a plane that the spindle does not stand on."""
    home = w.dialect.plane
    plunge_at(w, how, at, how.depths[-1])
    w.plane(rng.choice([p for p in w.dialect.LETTERS if p != home]))
    here = tuple(v * w.unit for v in w.at[:2])
    w.arc(rng.random() < 0.5, here, (here[0] + 6 * how.k, here[1]), f=how.feed)
    w.plane(home)
    w.go(0, z=how.safe)
    return Zone(at, 0.0, name="upright")


DECOYS = (
    contrary,
    upright,
    slot,
    rounded_rectangle,
    fillet,
    polygon,
    spiral,
    ellipse,
    three_quarters,
    drilled,
    thread,
    taper,
    square_pocket,
    two_minds,
)

"""Whole programs with known truth, drawn from a seeded `random.Random`: the product of ways to cut a circle.

Every program holds every decoy. Not drawn: subprograms, expressions.
"""

import random
from dataclasses import dataclass, replace

from circle_features import Cutting, Truth, Zone
from decoys import DECOYS, fillet
from drawn_features import FEATURES, rough_pocket
from program_writer import Dialect, Writer
from switches import Here, anew, change_between, return_to

#: mm between the centres of neighbouring items; none reaches further than half of it.
PITCH = 130.0
COMMENTS = ("hole", "BOSS 20 mm", "G2 X5 Y5 I3 J0", "outside", "inside pocket", "T9 M6", "finish", "")


@dataclass(frozen=True)
class Generated:
    """A program and what is true of it. `tools` are diameters in mm by number; truths in mm."""

    data: bytes
    dialects: tuple[Dialect, ...]  # how its stretches are written, the first first
    machine: str  # lines of the table that it is made for
    clockwise: bool  # the spindle of that machine
    tools: dict[int, float]
    truths: tuple[Truth, ...]
    zones: tuple[Zone, ...]
    kinds: tuple[str, ...]  # what was drawn

    @property
    def dialect(self) -> Dialect:
        return self.dialects[0]


def dialects(rng: random.Random, incremental: bool = True) -> Dialect:
    inch = rng.random() < 0.35
    return Dialect(
        inch=inch,
        decimals=rng.choice((3, 4, 4, 5) if inch else (2, 3, 3, 4, 5)),
        trailing=rng.choice(("trimmed", "fixed", "point")),
        leading_zero=rng.random() < 0.8,
        newline=rng.choice(("\n", "\r\n")),
        lower=rng.random() < 0.15,
        numbered=rng.random() < 0.25,
        elide=rng.random() < 0.7,
        sticky=rng.random() < 0.6,
        blank=rng.choice((" ", " ", "", "  ")),
        incremental=incremental and rng.random() < 0.15,
        plane=rng.choice(("G17",) * 8 + ("G18", "G19")),
        centres=rng.choice(("incremental", "incremental", "absolute", "implied", "r")),
        clockwise=rng.choice((True, True, True, False, None)),
    )


@dataclass
class Draft:
    """A program in the making."""

    rng: random.Random
    w: Writer
    here: Here
    places: list[tuple[float, float]]
    truths: list[Truth]
    zones: list[Zone]
    kinds: list[str]

    def item(self, draw, tool: float):
        """Let an item draw itself at a free place; `tool` in mm."""
        w, rng = self.w, self.rng
        k = 1 / w.dialect.k
        place = self.places.pop()
        at = _centre(rng, place, w.dialect, k)
        if w.dialect.numbered or rng.random() < 0.3:
            w.comment(rng.choice(COMMENTS))
        style = rng.choice(("arcs", "arcs", "arcs", "chords", "mixed"))
        if draw is fillet and not self.zones:
            style = "arcs"  # that is where I J show how they are meant
        fine = rng.choice((12, 24, 60))
        w.chords = {"arcs": lambda: 0, "chords": lambda: fine, "mixed": lambda: rng.choice((0, fine))}[style]
        made = draw(w, at, tool * k, _cutting(rng, w.dialect, k), rng)
        w.chords = lambda: 0
        self.kinds += [style, f"{style} {draw.__name__}"]
        return made

    def keep(self, made) -> None:
        """Turn what an item says of itself into mm, in its frame."""
        k, frame, style = self.w.dialect.k, self.here.label, self.kinds[-1]
        for one in made if isinstance(made, list) else [made]:
            at = (one.centre[0] * k, one.centre[1] * k)
            if isinstance(one, Truth):
                self.truths.append(
                    replace(
                        one,
                        centre=at,
                        path=one.path * k,
                        tool=one.tool * k,
                        twin=one.twin and one.twin * k,
                        frame=frame,
                        style=style,
                    )
                )
            else:
                self.zones.append(replace(one, centre=at, reach=one.reach * k, frame=frame, style=style))


def programs(rng: random.Random, items: int = 6, incremental: bool = True) -> Generated:
    """A program of `items` features and all decoys on a grid, each tool in its own section."""
    first = dialects(rng, incremental)
    sizes = (6.35, 3.175, 9.525, 12.7) if first.inch else (6.0, 3.0, 3.175, 8.0, 10.0)
    tools = dict(enumerate(rng.sample(sizes, rng.choice((1, 1, 2))), start=1))
    places = [(i * PITCH, j * PITCH) for i in range(6) for j in range(5)]
    rng.shuffle(places)
    draft = Draft(rng, Writer(first), Here(), places, [], [], [])
    w = draft.w
    w.contour = rng.random() < 0.8
    machine, clockwise = _machine(rng, first.plane, w.contour)
    _head(w, rng)
    used, frames = {first: None}, {draft.here.label}
    shares = _shares(rng, first, items, len(tools))
    finishes, taken = [], set()
    for number, tool in tools.items():
        last = number == len(tools)
        _change(w, number, rng)
        draft.places = [place for place in draft.places if place not in taken]
        for home, finish in finishes:
            return_to(w, draft.here, home)
            draft.keep(finish(w, tool / w.dialect.k, rng))
        if not last:
            finishes.append((draft.here.label, draft.item(rough_pocket, tool)))
        for draw in shares[number - 1]:
            at = draft.places[-1]
            taken.add(at)
            draft.keep(draft.item(draw, tool))
            kind = change_between(w, draft.here, rng, shifts=last, incremental=incremental)
            used[w.dialect] = None
            draft.kinds.append(kind)
            if draft.here.label not in frames:
                frames.add(draft.here.label)
                draft.places.append(at)  # the same numbers in another frame
    _tail(w)
    data = w.program()
    return Generated(
        data,
        tuple(used),
        machine,
        clockwise,
        tools,
        tuple(draft.truths),
        tuple(draft.zones),
        tuple(draft.kinds),
    )


def _shares(rng: random.Random, first: Dialect, items: int, tools: int) -> list[list]:
    """What each tool cuts: every decoy once, and features."""
    draws = [*DECOYS, *(rng.choice(FEATURES) for _ in range(items))]
    rng.shuffle(draws)
    if first.centres == "implied":  # an open arc shows how I J are meant
        draws.remove(fillet)
        draws.insert(0, fillet)
    half = len(draws) // tools
    return [draws[k * half : (k + 1) * half if k + 1 < tools else None] for k in range(tools)]


def _machine(rng: random.Random, plane: str, contour: bool) -> tuple[str, bool]:
    """Lines of the table's [machine], and whether its spindle turns clockwise."""
    clockwise = rng.random() < 0.7
    lines = [] if clockwise else ['spindle = "counter-clockwise"']
    if plane != "G17":
        lines.append(f'spindle_axis = "{Dialect.LETTERS[plane][2]}"')
    if not contour:
        lines.append('compensation = "wear"')
    return "".join(line + "\n" for line in lines), clockwise


def _head(w: Writer, rng: random.Random) -> None:
    d = w.dialect
    if rng.random() < 0.5:
        w.lines.append("%")
    if rng.random() < 0.5:
        w.lines.append("O1234")
    w.comment("panel, bearing blocks; G2 I5 is no word here")
    w.block("G20" if d.inch else "G21", "G90", d.plane, "G40", "G80")
    if d.centres == "absolute":
        w.block("G90.1")
    elif rng.random() < 0.3 and d.centres == "incremental":
        w.block("G91.1")


def _change(w: Writer, number: int, rng: random.Random) -> None:
    if w.dialect.clockwise is not None:
        w.block("M5")
    w.block(*rng.choice(((f"T{number}", "M6"), ("M6", f"T{number}"))))
    if w.dialect.clockwise is not None:
        w.block("S12000", "M3" if w.dialect.clockwise else "M4")
    anew(w)


def _tail(w: Writer) -> None:
    if w.dialect.incremental:
        w.block("G90")
    w.block("M5")
    w.block("M30")


def _centre(rng: random.Random, place, dialect: Dialect, k: float):
    """On a round number or anywhere that the decimals can write."""
    digits = (
        rng.choice((0, 1, dialect.decimals)) if not dialect.inch else rng.choice((1, 3, dialect.decimals))
    )
    return tuple(round((p + rng.uniform(-8, 8)) * k, digits) for p in place)


def _cutting(rng: random.Random, dialect: Dialect, k: float) -> Cutting:
    depth, steps = rng.uniform(2, 12), rng.randint(1, 4)
    depths = tuple(round(-depth * k * n / steps, dialect.decimals) for n in range(1, steps + 1))
    return Cutting(k, depths, rng.choice((600, 900, 1200)), round(5 * k, dialect.decimals))

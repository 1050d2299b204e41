"""What changes between two features of a program: frame, units, distance mode, meaning of arc centres."""

import random
from dataclasses import dataclass, replace

from program_writer import Writer


@dataclass
class Here:
    """The frame in force: a work offset, and how often it was shifted."""

    offset: str = "G54"
    shifts: int = 0

    @property
    def label(self) -> str:
        return f"{self.offset}+{self.shifts}" if self.shifts else self.offset


def anew(w: Writer) -> None:
    """Say all three axes, for nobody knows any more where they are; then on in the mode that was."""
    w.block("G90", "G0", w.axis(0, 0), w.axis(1, 0), w.axis(2, 5 / w.dialect.k))
    w.motion, w.at, w.feed = "G0", [0, 0, w.whole(5 / w.dialect.k)], None
    if w.dialect.incremental:
        w.block("G91")


def return_to(w: Writer, here: Here, label: str) -> None:
    """Back to a work offset that was left."""
    if here.label != label:
        w.block(label)
        here.offset = label
        anew(w)


def change_between(w: Writer, here: Here, rng: random.Random, shifts: bool, incremental: bool) -> str:
    """Now and then one change, named; `shifts` allows frames that there is no way back from."""
    kind = rng.choice(("",) * 16 + ("frame", "frame", "units", "units", "distance", "centres"))
    if kind == "frame":
        _frame(w, here, rng, shifts)
    elif kind == "units":
        inch = not w.dialect.inch
        w.dialect = replace(w.dialect, inch=inch, decimals=rng.choice((3, 4, 5) if inch else (2, 3, 4)))
        w.block("G20" if inch else "G21")
        anew(w)
    elif kind == "distance" and incremental:
        w.dialect = replace(w.dialect, incremental=not w.dialect.incremental)
        w.block("G91" if w.dialect.incremental else "G90")
    elif kind == "centres" and w.dialect.centres in ("incremental", "absolute"):
        absolute = w.dialect.centres == "incremental"
        w.dialect = replace(w.dialect, centres="absolute" if absolute else "incremental")
        w.block("G90.1" if absolute else "G91.1")
    else:
        return ""
    return kind


def _frame(w: Writer, here: Here, rng: random.Random, shifts: bool) -> None:
    offsets = [o for o in ("G54", "G55", "G56", "G59", "G59.1") if o != here.offset]
    kind = rng.choice(("offset", "G92", "G52", "G68") if shifts else ("offset",))
    if kind == "offset":
        here.offset = rng.choice(offsets)
        w.block(here.offset)
    else:
        here.shifts += 1
        anew(w)  # a datum set where a correction would leave the tool elsewhere moves the rest
        x, y = (rng.choice((0, 3, 31.5, -20)) for _ in range(2))
        if kind == "G52" and x == y == 0:
            x = 3  # all zeros would end a local shift, not set one
        words = (w.axis(0, x), w.axis(1, y))
        w.block(kind, *words, *(("R37.5",) if kind == "G68" else ()))
    anew(w)

"""A second, plain tracer: block by block, exact fractions, no arrays. The oracle of the trace room's tests.

It follows NIST IR 6556 with the project's own rules for what cannot be known, and reads programs whose
every block is plain words (no expressions, no subprogram bodies).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from fractions import Fraction

from roundwright.read import Program, words_of
from roundwright.read.program import BLOCK_DELETE

COUNTS = 10**8
PLANES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}  # first, second, normal
CYCLES = (73, 76, 81, 82, 83, 84, 85, 86, 87, 88, 89)
NON_MODAL = (4, 10, 28, 30, 52, 53, 92, Fraction(921, 10), Fraction(922, 10), Fraction(923, 10))
PATHLESS = tuple(Fraction(n, 10) for n in (382, 383, 384, 385))


@dataclass
class Row:
    line: int
    motion: int
    start: tuple[int, ...]
    end: tuple[int, ...]
    start_known: int
    end_known: int
    inch: bool
    incremental: bool
    normal: int
    centre: tuple[float, float] | None = None
    radius: float = math.nan
    radius_end: float = math.nan
    sweep: float = math.nan


@dataclass
class Plain:
    """The machine; positions are whole counts of 1e-8 mm."""

    arcs_absolute: bool = False
    at: list[int] = field(default_factory=lambda: [0, 0, 0])
    known: list[bool] = field(default_factory=lambda: [False] * 3)
    motion: int = 6
    plane: int = 17
    inch: bool = False
    incremental: bool = False
    offset: Fraction = Fraction(54)
    rows: list[Row] = field(default_factory=list)

    def run(self, program: Program) -> list[Row]:
        for line in range(program.end_line):
            words = [(chr(word.letter), Fraction(word.value, COUNTS)) for word in words_of(program, line)]
            self.block(line, words, bool(program.flags[line] & BLOCK_DELETE))
            if any(letter == "M" and value in (2, 30) for letter, value in words):
                break
        return self.rows

    def counts(self, value: Fraction) -> int:
        """A length in counts of 1e-8 mm, to the nearest."""
        return math.floor(value * (Fraction(254, 10) if self.inch else 1) * COUNTS + Fraction(1, 2))

    def block(self, line: int, words: list[tuple[str, Fraction]], deletable: bool) -> None:
        codes = [value for letter, value in words if letter == "G"]
        one = dict(words)
        motions = [c for c in codes if c in (0, 1, 2, 3, *CYCLES, *PATHLESS)]
        repeated = any(sum(word[0] == c for word in words) > 1 for c in "XYZIJKR")
        doubled = len(set(motions)) > 1
        groups = (PLANES, (20, 21), (90, 91))
        vague = doubled or any(len({c for c in codes if c in group}) > 1 for group in groups)
        for letter, value in words:  # NIST IR 6556, table 8: all this before the motion
            if letter == "M" and value == 6:
                self.known = [False] * 3
        for code in codes:
            if code in PLANES:
                self.plane = int(code)
            elif code in (20, 21):
                self.inch = code == 20
            elif code in (90, 91):
                self.incremental = code == 91
        if any(code in (43, 49) for code in codes):
            self.known[2] = False
        for code in codes:
            if 54 <= code < 60 and code != self.offset:
                self.offset = code
                self.known = [False] * 3
        self.set_motion(codes, motions, doubled, deletable)
        axes = {i: one[c] for i, c in enumerate("XYZ") if c in one}
        if any(code in NON_MODAL and code not in (28, 30, 53) for code in codes):
            if 92 in codes:
                self.origin(axes, deletable)
            return
        circular = self.motion in (2, 3) and any(c in one for c in "IJKR")
        strays = any(code in (28, 30, 53) for code in codes)
        if not axes and not circular and not strays:
            return
        lost = set()
        if strays:
            lost = set(axes) or {0, 1, 2}
        elif repeated or vague or deletable or self.motion == 5:
            lost = set(axes)
        if self.motion == 4 and not strays:
            lost = lost | {PLANES[self.plane][2]}
            if self.incremental and ("K" in one or one.get("L", 1) < 1):
                lost = lost | set(axes)  # K may be a repeat; none at all may move or not
        other = strays or repeated or vague or deletable or self.motion >= 5
        if self.motion in (2, 3):
            centre = any("IJK"[axis] in one for axis in PLANES[self.plane][:2])
            turns = one.get("P", Fraction(1))
            other |= ("R" in one and centre) or "L" in one or turns < 1 or turns.denominator != 1
        self.move(line, 5 if other else self.motion, axes, lost, one)

    def set_motion(
        self, codes: list[Fraction], motions: list[Fraction], doubled: bool, deletable: bool
    ) -> None:
        new = self.motion
        if doubled:
            new = 8
        elif motions:
            new = 4 if motions[0] in CYCLES else 5 if motions[0] in PATHLESS else int(motions[0])
        elif 80 in codes:
            new = 7
        if deletable and new != self.motion:
            new = 8
        self.motion = new

    def origin(self, axes: dict[int, Fraction], deletable: bool) -> None:
        for axis, value in axes.items():
            if not deletable:
                self.at[axis], self.known[axis] = self.counts(value), True
        if deletable:
            self.known = [False] * 3

    def move(
        self, line: int, motion: int, axes: dict[int, Fraction], lost: set[int], one: dict[str, Fraction]
    ) -> None:
        start, was = tuple(self.at), list(self.known)
        repeat = int(one.get("L", Fraction(1))) if motion == 4 else 1
        for axis, value in axes.items():
            if axis in lost:
                continue
            if self.incremental:
                self.at[axis] += self.counts(value) * repeat
            else:
                self.at[axis], self.known[axis] = self.counts(value), True
        for axis in lost:
            self.known[axis] = False
        row = Row(
            line,
            motion,
            start,
            tuple(self.at),
            bits(was),
            bits(self.known),
            self.inch,
            self.incremental,
            PLANES[self.plane][2],
        )
        if motion in (2, 3) and "R" not in one:
            self.centre_form(row, one)
        self.rows.append(row)

    def centre_form(self, row: Row, one: dict[str, Fraction]) -> None:
        first, second, _ = PLANES[self.plane]
        letters = "IJK"[first], "IJK"[second]
        needed = all if self.arcs_absolute else any  # of an absolute centre nobody can tell a missing word
        if not needed(letter in one for letter in letters):
            return
        offset = [self.counts(one.get(letter, Fraction(0))) for letter in letters]
        start = [row.start[first], row.start[second]]
        end = [row.end[first], row.end[second]]
        centre = offset if self.arcs_absolute else [s + o for s, o in zip(start, offset, strict=True)]
        back = [complex(p[0] - centre[0], p[1] - centre[1]) / COUNTS for p in (start, end)]
        row.centre = (centre[0] / COUNTS, centre[1] / COUNTS)
        row.radius, row.radius_end = abs(back[0]), abs(back[1])
        sign = 1 if row.motion == 3 else -1
        angle = math.tau
        if start != end:
            angle = math.atan2(back[1].imag, back[1].real) - math.atan2(back[0].imag, back[0].real)
            angle = (sign * angle) % math.tau or math.tau
        row.sweep = sign * (angle + math.tau * (int(one.get("P", Fraction(1))) - 1))


def bits(known: list[bool]) -> int:
    return sum(1 << axis for axis, sure in enumerate(known) if sure)

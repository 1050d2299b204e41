"""Small corrected programs made by hand: old bytes, new bytes, the plan between them, and a finder.

The shop of the scenario makes a bearing-block panel: a bore that is corrected, another that is left.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from msgspec.structs import replace

from roundwright.find import Feature, Ring
from roundwright.plan.plan import ArcTarget, Correction, Decimals, Plan
from roundwright.prove import prove_program
from roundwright.read import read_program
from roundwright.settings import Cutter
from roundwright.trace import Moves, trace_moves

INCH = 25.4
STAMP = "roundwright: panel corrected for the shop router"


@dataclass(frozen=True)
class Pair:
    """A program before and after, and what was planned, by line (from 1) and in the program's unit."""

    name: str
    old: bytes
    new: bytes
    walls: Mapping[str, tuple[tuple[int, ...], tuple[float, float], float]]  # lines, centre, path radius
    growth: float  # of the path radius of C1
    ends: Mapping[int, tuple[float, float, float]]
    inch: bool = False
    stamp: str | None = None
    cutter: float = 6.0  # mm
    circles: Mapping[int, tuple[tuple[float, float], float]] = field(default_factory=dict)

    @property
    def scale(self) -> float:
        return INCH if self.inch else 1.0

    def moves(self) -> Moves:
        return trace_moves(read_program(self.old, self.name), "auto")

    def features(self) -> tuple[Feature, ...]:
        """The features as found on the old program."""
        moves = self.moves()
        return tuple(self._feature(moves, name) for name in self.walls)

    def _feature(self, moves: Moves, name: str) -> Feature:
        lines, centre, radius = self.walls[name]
        ring = Ring(
            rows=tuple(row_of(moves, line) for line in lines),
            centre=(centre[0] * self.scale, centre[1] * self.scale),
            radius=radius * self.scale,
            turn="ccw",
            z=(-3.0, -3.0),
            normal=2,
            frame=0,
            section=0,
            passes=1,
            forms=("arc",),
            flat=True,
            known=True,
        )
        cutter = Cutter("upcut", self.cutter, 1)
        return Feature(
            id=name,
            side="hole",
            evidence="lead-in from inside",
            wall=ring,
            clearing=(),
            frame="G54",
            cutter=cutter,
            diameter=2 * ring.radius + self.cutter,
            cut="climb",
            lines=(lines[0] - 1, lines[-1] - 1),
        )

    def plan(self) -> Plan:
        moves, found = self.moves(), self.features()
        change = 2 * self.growth * self.scale
        corrections = []
        arcs = {}
        for feature in found:
            if feature.id != "C1":
                corrections.append(Correction(feature, "left-alone", "no-calibration", "no readings"))
                continue
            assert feature.diameter is not None
            path = 2 * feature.wall.radius + change
            corrections.append(
                Correction(
                    feature,
                    "corrected",
                    change=change,
                    corrected=feature.diameter + change,
                    corrected_path=path,
                )
            )
            arcs = {row: ArcTarget(feature.wall.centre, path / 2, "C1") for row in feature.wall.rows}
        for line, (centre, radius) in self.circles.items():
            target = ArcTarget((centre[0] * self.scale, centre[1] * self.scale), radius * self.scale)
            arcs[row_of(moves, line)] = target
        ends = {
            row_of(moves, line): (place[0] * self.scale, place[1] * self.scale, place[2] * self.scale)
            for line, place in self.ends.items()
        }
        return Plan(tuple(corrections), ends, arcs, Decimals(3, 4, 6), self.stamp)

    def finder(self) -> Callable[[Moves], tuple[Feature, ...]]:
        """Measures the walls afresh on other moves."""
        found = self.features()

        def again(moves: Moves) -> tuple[Feature, ...]:
            return tuple(_measured(feature, moves) for feature in found)

        return again

    def prove(self, new: bytes | None = None, plan: Plan | None = None) -> None:
        prove_program(
            self.moves(),
            self.new if new is None else new,
            plan or self.plan(),
            arc_centres="auto",
            again=self.finder(),
            stamped=self.stamp is not None,
        )


def row_of(moves: Moves, line: int) -> int:
    """The move on a line, counted from 1."""
    return int(np.flatnonzero(moves.line == line - 1)[0])


def _measured(feature: Feature, moves: Moves) -> Feature:
    rows = list(feature.wall.rows)
    arc = np.searchsorted(moves.arcs.row, rows)
    if len(moves.arcs.row):
        radius = float(moves.arcs.radius[arc].mean())
        centre = moves.arcs.centre[arc].mean(axis=0)
    else:
        corners = moves.end[rows][:, :2] * 1e-8
        centre = corners.mean(axis=0)
        radius = float(np.hypot(*(corners - centre).T).mean())
    wall = replace(feature.wall, radius=radius, centre=(float(centre[0]), float(centre[1])))
    assert feature.cutter is not None
    return replace(feature, wall=wall, diameter=2 * radius + feature.cutter.diameter)


def changed(text: bytes, changes: Mapping[int, tuple[bytes, bytes]]) -> bytes:
    """The text with, on some lines (from 1), one piece replaced; the piece stands there exactly once."""
    lines = text.splitlines(keepends=True)
    for number, (old, new) in changes.items():
        assert lines[number - 1].count(old) == 1, (number, old)
        lines[number - 1] = lines[number - 1].replace(old, new)
    return b"".join(lines)


def summed(text: bytes) -> bytes:
    """Each line with its checksum: the exclusive or of its bytes; common practice, no source."""
    lines = []
    for line in text.splitlines():
        total = 0
        for byte in line:
            total ^= byte
        lines.append(line + b"*%d\n" % total)
    return b"".join(lines)


_PANEL = b"""%
O1001 (BEARING PANEL)
G21 G90 G17 G94
T1 M6
S16000 M3
G0 X50. Y40. Z5.
G1 Z-3. F400
G1 X57. F1800 (lead)
G3 X57. Y40. I-7. J0.
G3 X43. I-7. J0.
G3 X57. I7. J0.
G1 X50.
G4 P0.5
G0 Z5.
(second bore stays)
G0 X80. Y40.
G1 Z-3. F400
G1 X84.5 F1800
G2 I-4.5
G1 X80.
G0 Z5.
G0 X10. Y10.
G1 Z-3.
G1 X20.
G3 X25. Y15. J5.
G1 Y20.
G0 Z20.
G55
G0 X0 Y0
M5
M30
%
"""
_PANEL_NEW = changed(
    changed(
        _PANEL,
        {
            8: (b"X57.", b"X57.067"),
            9: (b"X57.", b"X57.067"),
            10: (b"X43.", b"X42.933"),
            11: (b"X57.", b"X57.067"),
        },
    ),
    {9: (b"I-7.", b"I-7.067"), 10: (b"I-7.", b"I-7.067"), 11: (b"I7.", b"I7.067")},
)

PANEL = Pair(
    "panel.nc",
    _PANEL,
    _PANEL_NEW.replace(b"G21 G90", b"(%s)\nG21 G90" % STAMP.encode(), 1),
    walls={"C1": ((9, 10, 11), (50.0, 40.0), 7.0), "C2": ((19,), (80.0, 40.0), 4.5)},
    growth=0.067,
    ends={8: (57.067, 40, -3), 9: (57.067, 40, -3), 10: (42.933, 40, -3), 11: (57.067, 40, -3)},
    stamp=STAMP,
)

INCH_HALVES = Pair(
    "halves.ngc",
    b"G20 G90 G17\r\nT2 M6\r\nM3 S12000\r\nG0 X1. Y1.\r\nZ.2\r\nG1 Z-.25 F20.\r\nX1.5 F60.\r\n"
    b"G3 X.5 R.5\r\nX1.5 R.5\r\nG1 X1.\r\nG0 Z.2\r\nM30\r\n",
    b"G20 G90 G17\r\nT2 M6\r\nM3 S12000\r\nG0 X1. Y1.\r\nZ.2\r\nG1 Z-.25 F20.\r\nX1.5025 F60.\r\n"
    b"G3 X.4975 R.5025\r\nX1.5025 R.5025\r\nG1 X1.\r\nG0 Z.2\r\nM30\r\n",
    walls={"C1": ((8, 9), (1.0, 1.0), 0.5)},
    growth=0.0025,
    ends={7: (1.5025, 1, -0.25), 8: (0.4975, 1, -0.25), 9: (1.5025, 1, -0.25)},
    inch=True,
)

INCREMENTAL = Pair(
    "relative.nc",
    b"G21 G90\nS9000 M3\nG0 X50 Y40 Z5\nG91\nG1 Z-8 F400\nG1 X7 F1800\nG3 X-14 I-7\nG3 X14 I7\nG1 X-7\n"
    b"G0 Z8\nG90\nG0 X0 Y0\nM30",
    b"G21 G90\nS9000 M3\nG0 X50 Y40 Z5\nG91\nG1 Z-8 F400\nG1 X7.067 F1800\nG3 X-14.134 I-7.067\n"
    b"G3 X14.134 I7.067\nG1 X-7.067\nG0 Z8\nG90\nG0 X0 Y0\nM30",
    walls={"C1": ((7, 8), (50.0, 40.0), 7.0)},
    growth=0.067,
    ends={6: (57.067, 40, -3), 7: (42.933, 40, -3), 8: (57.067, 40, -3)},
)

#: words that were left out have to be added; lower case; the bore starts at 3-4-5.
ADDED = Pair(
    "added.nc",
    b"g21 g90 g17\nm3 s9000\ng0 x50 y44\ng0 z5\ng1 z-3 f400\ng1 x53 f900\ng3 i-3 j-4\ng1 y40\ng0 z5\nm2\n",
    b"g21 g90 g17\nm3 s9000\ng0 x50 y44\ng0 z5\ng1 z-3 f400\ng1 x53.030 y44.040 f900\n"
    b"g3 i-3.030 j-4.040\ng1 x53.000 y40\ng0 z5\nm2\n",
    walls={"C1": ((7,), (50.0, 40.0), 5.0)},
    growth=0.05,
    ends={6: (53.03, 44.04, -3), 7: (53.03, 44.04, -3)},
)

_TIMED = (
    b"N1 G21 G90 G17\nN2 M3 S9000\nN3 G0 X50 Y40\nN4 G0 Z5\nN5 G1 Z-3 F400\nN6 G93\n"
    b"N7 G1 X57 F%s\nN8 G2 I-7 F%s\nN9 G1 X50 F%s\nN10 G94\nN11 G0 Z5\nN12 M30\n"
)
#: inverse time: the feed along the path stays; each line ends in a checksum.
TIMED = Pair(
    "timed.gcode",
    summed(_TIMED % (b"60", b"20", b"60")),
    summed(
        (_TIMED % (b"59.431", b"19.810", b"59.431")).replace(b"X57", b"X57.067").replace(b"I-7", b"I-7.067")
    ),
    walls={"C1": ((8,), (50.0, 40.0), 7.0)},
    growth=0.067,
    ends={7: (57.067, 40, -3), 8: (57.067, 40, -3)},
)

#: a byte order mark stays the first thing of all; what a control may act on in a comment becomes "-".
MARKED = Pair(
    "marked.nc",
    b"\xef\xbb\xbf" + INCH_HALVES.old,
    b"\xef\xbb\xbf; roundwright corrected - [5/8 in] for Joe-s mill\r\n" + INCH_HALVES.new,
    walls=INCH_HALVES.walls,
    growth=INCH_HALVES.growth,
    ends=INCH_HALVES.ends,
    inch=True,
    stamp="roundwright corrected @ (5/8 in) for Joe's mill",
)


def _chords(radius: float) -> bytes:
    corners = [
        (50 + radius * math.cos(k * math.pi / 12), 40 + radius * math.sin(k * math.pi / 12))
        for k in range(25)
    ]
    path = b"".join(b"X%.3f Y%.3f\n" % corner for corner in corners[1:])
    return b"G21 G90 G17\nM3 S9000\nG0 X50. Y40. Z5.\nG1 Z-3. F400\nX%.3f\n%sX50. Y40.\nG0 Z5.\nM30\n" % (
        corners[0][0],
        path,
    )


#: a bore in 24 chords.
CHORDS = Pair(
    "chords.nc",
    _chords(7.0),
    _chords(7.05),
    walls={"C1": (tuple(range(6, 30)), (50.0, 40.0), 7.0)},
    growth=0.05,
    ends={
        5 + k: (50 + 7.05 * math.cos(k * math.pi / 12), 40 + 7.05 * math.sin(k * math.pi / 12), -3.0)
        for k in range(25)
    },
)

PAIRS = (PANEL, INCH_HALVES, INCREMENTAL, ADDED, TIMED, MARKED, CHORDS)

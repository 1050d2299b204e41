"""Outcomes for tests of what is shown: a real program, read and searched; corrections made up by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from roundwright.calibration import measured_table
from roundwright.find import find_features
from roundwright.plan.plan import Correction, Decimals, Plan
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nT1 M6\nM3 S16000\nG0 Z5\n"


def lap(x: float, y: float, r: float, turn: str = "G3") -> str:
    """One full circle from its right-hand point, plunged there."""
    return f"G0 X{x + r} Y{y}\nG1 Z-3 F300\n{turn} X{x + r} Y{y} I{-r} J0 F900\nG0 Z5\n"


def pocket(x: float, y: float, radii: tuple[float, ...]) -> str:
    """A hole cleared ring by ring from its middle."""
    body = "".join(f"G1 X{x + r} Y{y} F900\nG3 X{x + r} Y{y} I{-r} J0\n" for r in radii)
    return f"G0 X{x} Y{y}\nG1 Z-3 F300\n{body}G1 X{x} Y{y}\nG0 Z5\n"


#: three cleared holes, a circle that may be anything, and blocks that cannot be read.
PROGRAM = (
    HEAD
    + pocket(50, 40, (2, 4.5, 7))
    + pocket(120.5, 40, (2.5, 5))
    + pocket(200, 40, (2, 4.5, 7))
    + lap(300, 40, 30)
    + "#1=5\n#2=6\nG1 X[#1] F900\nM30\n"
)


SIX = Cutter("six", 6.0, 1)


def outcome(program: str = PROGRAM, cutter: Cutter | None = SIX, **changes: Any) -> Any:
    """What a run with a table made of one reading gives, with whatever is to be different."""
    read = read_program(program.encode(), changes.pop("name", "folder/panel.nc"))
    moves = trace_moves(read)
    cutters = dict.fromkeys(range(len(moves.sections)), cutter)
    features = find_features(moves, cutters, Machine(), Settings())
    corrections = changes.pop("corrections", None)
    if corrections is None:
        corrections = tuple(corrected(f) if not f.fault else left(f) for f in features)
    else:
        corrections = tuple(make(f) for make, f in zip(corrections, features, strict=True))
    table = measured_table([(20.0, 19.866)], inch=False)
    run = {
        "program": read,
        "moves": moves,
        "plan": Plan(corrections, {}, {}, Decimals(3, 4, 6), None),
        "output": None,
        "table": table,
        "material": "birch ply",
        "warnings": (),
        "stamped": False,
    }
    return SimpleNamespace(**run | changes)


def corrected(feature: Any, change: float = 0.134, uncertainty: float | None = 0.041) -> Correction:
    """The feature made larger."""
    return Correction(
        feature,
        "corrected",
        change=change,
        corrected=feature.diameter + change,
        corrected_path=2 * feature.wall.radius + change,
        expected_error=-change,
        uncertainty=uncertainty,
        condition="T1 / birch ply / hole / climb",
        basis="between 10 and 25",
    )


def on_size(feature: Any) -> Correction:
    """The feature as it is, for it is right."""
    made = corrected(feature, 0.0)
    return Correction(**{name: getattr(made, name) for name in made.__slots__} | {"status": "on-size"})


def left(feature: Any, reason: Any = None, why: str = "") -> Correction:
    """The feature left alone, for its own fault where no other reason is given."""
    return Correction(feature, "left-alone", reason or feature.fault, why or feature.why or "for a test")


def skipped(feature: Any) -> Correction:
    """The feature left alone because somebody asked for it."""
    return left(feature, "skipped", "you asked to leave it")

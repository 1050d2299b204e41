"""Mode: whether I J K are increments from the start or absolute, judged by whether the radii agree."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.errors import Place, ProgramError
from roundwright.read.program import Program
from roundwright.settings import ArcCentres
from roundwright.trace.block import Lines
from roundwright.trace.row import where

_CURE = "Say how they are meant with --arc-centres incremental or absolute"


class Witness(Struct, frozen=True, eq=False):
    """Arcs in centre form that no word decides (m,): line, and which readings make the radii agree.

    `unsigned`: neither does, but some choice of signs would. `negative`: a centre word has a minus.
    """

    line: Lines
    incremental: NDArray[np.bool_]
    absolute: NDArray[np.bool_]
    unsigned: NDArray[np.bool_]
    negative: NDArray[np.bool_]


class Verdict(Struct, frozen=True):
    """How undecided centres are read, and a sentence that says why.

    `unsigned`: they are written without signs, so that a full circle has no centre; `odd`: some arcs look
    so. `default`: no arc tells.
    """

    absolute: bool
    said: str
    warnings: tuple[str, ...] = ()
    unsigned: bool = False
    odd: bool = False
    default: bool = False


def judge(program: Program, witness: Witness, option: ArcCentres, *, decided: int, arcs: int) -> Verdict:
    """Decide how I J K are meant where no G90.1 or G91.1 says it.

    `decided` counts the arcs that a word decides, `arcs` those in centre form. Raises ProgramError
    where some arcs agree only as increments and others only as absolute centres.
    """
    if not arcs:
        return Verdict(False, "no arc has I, J or K")
    if not len(witness.line):
        return Verdict(False, "I J K as the program says (G90.1 or G91.1)")
    also = "; the others as the program says" if decided else ""
    if option != "auto":
        return Verdict(option == "absolute", f"I J K taken as {option}, as asked{also}")
    only_incremental = witness.line[witness.incremental & ~witness.absolute]
    only_absolute = witness.line[witness.absolute & ~witness.incremental]
    if len(only_incremental) and len(only_absolute):
        raise ProgramError(
            "arcs contradict each other: the radii agree only with I J K from the start in line "
            f"{only_incremental[0] + 1}, only with absolute I J K in line {only_absolute[0] + 1}",
            place=Place(program.name, int(max(only_incremental[0], only_absolute[0])) + 1),
            cure=_CURE,
        )
    odd = bool(witness.unsigned.any())
    unsigned = bool(np.count_nonzero(witness.unsigned) > 1 and not witness.negative.any())
    warnings = _unsigned(witness, whole=unsigned)
    if len(only_absolute):
        said = f"I J K taken as absolute: {len(only_absolute)} arcs agree only so{also}"
        return Verdict(True, said, warnings, unsigned, odd)
    if len(only_incremental):
        said = f"I J K taken from the start: {len(only_incremental)} arcs agree only so{also}"
        return Verdict(False, said, warnings, unsigned, odd)
    said = f"I J K taken from the start by default; no arc can tell{also}"
    return Verdict(False, said, warnings, unsigned, odd, default=True)


def _unsigned(witness: Witness, *, whole: bool) -> tuple[str, ...]:
    """A warning where arcs agree only if I J K had other signs; `whole`: the program has none at all."""
    lines = witness.line[witness.unsigned]
    if not len(lines):
        return ()
    if not whole:
        return (f"{where(lines)}: the radii agree only if I J K had other signs; these arcs are left alone",)
    return (
        f"{where(lines)}: I J K seem to be written without signs, which is not read; "
        "these arcs are left alone, and so are full circles; post the program with signed centres",
    )


def refuse_doubtful_default(program: Program, line: Lines, hits: NDArray[np.bool_]) -> None:
    """Ask how centres are meant where full circles (m,) on `line` look absolute by where the path goes.

    `hits` (m, 2) tells whether the path goes to the centre near the circle, taken from the start and taken as
    absolute. Raises ProgramError where most do so only as absolute, and none does from the start.
    """
    absolute = hits[:, 1] & ~hits[:, 0]
    if hits[:, 0].any() or 2 * np.count_nonzero(absolute) <= len(line):
        return
    raise ProgramError(
        "no arc's radii tell how I J K are meant, and only as absolute are the centres where the tool goes",
        place=Place(program.name, int(line[absolute][0]) + 1),
        cure=_CURE,
    )

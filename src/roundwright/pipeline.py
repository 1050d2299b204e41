"""The map: read, trace, find, plan, rewrite, prove, in this order, and the types between them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from roundwright.errors import CannotWrite, NotFoundAgain, Place, ProgramError
from roundwright.find import Feature, calm_of, find_features, free_of_doubt
from roundwright.memory import give_back
from roundwright.plan import Obstacle, Plan, Request, Writing, plan_corrections
from roundwright.plan.clash import Census
from roundwright.plan.planner import MOST
from roundwright.prove import prove_program
from roundwright.read import Program, Source, comments, read_program
from roundwright.rewrite import find_stamp, rewrite_program
from roundwright.settings import ArcCentres, Cutter, Machine, Settings
from roundwright.shared import shared_text
from roundwright.tooling import STATING, cutters_of, doubted
from roundwright.trace import Moves, trace_moves
from roundwright.units import GRAIN, PER_UNIT
from roundwright.version import __version__

if TYPE_CHECKING:
    from roundwright.calibration import Fits, Table

#: a program whose heights are all within so many units of zero, and whose positions within so many, may be in
#: inches: clearances are commonly 3 to 20 mm or 0.1 to 2 in. Common practice, no source.
_LOW, _WIDE = 2.5, 100.0
_UNLIKE = "written with the program's decimals its rings would be taken for something else"


class Outcome(Struct, frozen=True):
    """What a run found, planned and, unless it was a dry run, wrote.

    `output` is the proven corrected program, None in a dry run. `stamped` tells that the input says
    it is corrected already.
    """

    program: Source
    moves: Moves
    plan: Plan
    output: bytes | None
    table: Table | None
    material: str | None
    warnings: tuple[str, ...]
    stamped: bool


def correct(data: bytes, name: str, table: Table | None, settings: Settings) -> Outcome:
    """Correct a finished program. The output is proven against the plan before it is returned.

    Raises ProgramError, SettingsError, TableError or ProofError; nothing is written then.
    """
    traced = read_and_trace(data, name, table, settings.arc_centres, twice=settings.again)
    return run(traced, table, settings)


def list_features(data: bytes, name: str, table: Table | None, settings: Settings) -> Outcome:
    """The dry run: all that `correct` does, the proof included, but no program comes out."""
    traced = read_and_trace(data, name, table, settings.arc_centres, twice=True)
    return run(traced, table, settings, dry=True)


class Traced(Struct, frozen=True, eq=False):
    """A program that has been followed, and whether it says that it is corrected already."""

    moves: Moves
    stamped: bool


def read_and_trace(
    data: bytes, name: str, table: Table | None, arc_centres: ArcCentres, *, twice: bool
) -> Traced:
    """The first two rooms: the moves. The program's words are not kept: they take most of the space.

    Raises ProgramError; a program that is stamped as corrected is refused unless `twice`, before all else.
    """
    program = read_program(data, name, apart=True)
    stamped = _stamped(program, twice=twice)
    moves = trace_moves(program, arc_centres)
    if table:
        _insist_on_units(program, moves, table)
    return Traced(moves, stamped)


def run(traced: Traced, table: Table | None, settings: Settings, *, dry: bool = False) -> Outcome:
    """The other rooms: what `correct` and `list_features` do with a traced program."""
    moves = traced.moves
    inch = moves.inch
    table = table or _first_day(settings, inch)
    machine = table.machine if table else Machine()
    settings = _with_defaults(settings, table)
    census = _census(moves, cutters_of(moves.sections, table, settings), machine, settings)
    request = Request(table, settings.material, settings, inch, _fits() if settings.targets else None)
    stamp = _stamp(table, settings.material) if settings.stamp else None
    most = machine.decimals if machine.decimals is not None else MOST

    def plan_again(barred: Sequence[Obstacle]) -> Plan:
        """A plan without what is barred; the features are found for it, and not kept: they take much room."""
        return plan_corrections(moves, census(moves, ()), request, census, Writing(most, stamp), barred)

    plan, output = _proven(moves, census, plan_again, settings)
    return Outcome(
        program=moves.program,
        moves=moves,
        plan=plan,
        output=None if dry else output,
        table=table,
        material=settings.material,
        warnings=(*moves.warnings, *plan.warnings),
        stamped=traced.stamped,
    )


def _census(
    moves: Moves, cutters: Mapping[int, Cutter | None], machine: Machine, settings: Settings
) -> Census:
    """The finder for these moves and for what becomes of them; it gives back what others have let go."""
    sections = doubted(moves.sections, cutters, comments(moves.program, STATING), settings)
    calm, size = calm_of(moves), len(moves.program.data)

    def census(moves: Moves, sided: Sequence[int]) -> Sequence[Feature]:
        give_back(size)
        features = find_features(replace(moves, sections=sections), cutters, machine, settings, calm, sided)
        give_back(size)
        return features

    return census


def _stamped(program: Source, *, twice: bool) -> bool:
    """Whether the program says that it is corrected; refused unless `twice`, before all else."""
    stamped = find_stamp(program) is not None
    if stamped and not twice:
        raise ProgramError(
            "the program says that it is corrected already",
            place=Place(program.name),
            cure="Correct the original program instead; --again overrides",
        )
    return stamped


def _insist_on_units(program: Program, moves: Moves, table: Table) -> None:
    """Units that nobody says are taken for millimetres, unless the table or the figures speak for inches."""
    units = np.isin(program.value, np.array([20, 21, 70, 71, 700, 710]) * PER_UNIT)
    if (units & (program.letter == ord("G"))).any():
        return
    if table.inch:
        why = "the table is in inches"
    elif _looks_like_inches(moves, "XYZ".index(table.machine.spindle_axis)):
        why = f"its heights, all within {_LOW:g}, look like inches"
    else:
        return
    raise ProgramError(
        f"the program does not say its units, and {why}",
        place=Place(program.name),
        cure="Put G20 (inch) or G21 (mm) at the top of the program",
    )


def _looks_like_inches(moves: Moves, normal: int) -> bool:
    """Whether a program with arcs stays lower above the work and in it than a tool in millimetres would."""
    at = moves.end * GRAIN
    known = (moves.end_known[:, None] & np.array([1, 2, 4])) != 0
    height = at[known[:, normal], normal]
    most = np.abs(at[known]).max(initial=0.0)
    low = len(height) > 1 and height.min() < height.max() and np.abs(height).max() <= _LOW
    return bool(low and most <= _WIDE and len(moves.arcs.row))


def _proven(
    moves: Moves, census: Census, plan_again: Callable[[Sequence[Obstacle]], Plan], settings: Settings
) -> tuple[Plan, bytes]:
    """Plan, write and prove; what would not be found again as it is written is left alone."""
    barred: list[Obstacle] = []
    while True:
        plan, output = _written(moves, plan_again, barred)
        give_back(len(output))
        sided = free_of_doubt(c.feature for c in plan.corrections)
        again, asked = partial(census, sided=sided), settings.arc_centres
        try:
            prove_program(moves, output, plan, arc_centres=asked, again=again, stamped=settings.stamp)
        except NotFoundAgain as refusal:
            if not refusal.features:
                raise
            barred += [Obstacle(feature, "would-cut-air", _UNLIKE) for feature in refusal.features]
        else:
            return plan, output


def _written(
    moves: Moves, plan_again: Callable[[Sequence[Obstacle]], Plan], barred: list[Obstacle]
) -> tuple[Plan, bytes]:
    """Plan and write; what cannot be written with the control's decimals is left alone, and barred."""
    while True:
        plan = plan_again(barred)
        try:
            return plan, rewrite_program(moves, plan)
        except CannotWrite as failure:
            culprits = _culprits(plan, failure.rows) or _culprits(plan, [row + 1 for row in failure.rows])
            if not culprits:
                failure.place = Place(moves.program.name)
                raise
            for feature in culprits:
                barred.append(
                    Obstacle(feature, "unsupported-mode", failure.about(set(plan.touched[feature])))
                )


def _culprits(plan: Plan, failed: Collection[int]) -> list[str]:
    """The features whose correction changes one of the rows; the row before a ring ends where it begins."""
    rows = set(failed)
    return [feature for feature, touched in plan.touched.items() if not rows.isdisjoint(touched)]


def _first_day(settings: Settings, inch: bool) -> Table | None:
    """The readings of the command line as a table, for a machine that has none yet."""
    if not settings.measured:
        return None
    from roundwright.calibration import measured_table

    return measured_table(
        settings.measured, inch=inch if settings.measured_inch is None else settings.measured_inch
    )


def _fits() -> Fits:
    """The published tables of tolerances that the product carries."""
    from roundwright.calibration import fits_from

    names = ("iso-286-tolerances.csv", "iso-286-deviations.csv")
    return fits_from(*(shared_text("published", name) for name in names))


def _with_defaults(settings: Settings, table: Table | None) -> Settings:
    if table is None:
        return settings
    defaults = table.defaults
    return replace(
        settings,
        material=settings.material or defaults.material,
        side=settings.side or defaults.side,
        cut=settings.cut or defaults.cut,
    )


def _stamp(table: Table | None, material: str | None) -> str:
    parts = [f"roundwright {__version__}: circles corrected", table.name if table else "", material or ""]
    text = ", ".join(part for part in parts if part)
    return "".join(c if " " <= c <= "~" and c not in "()" else "-" for c in text)

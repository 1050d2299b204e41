"""What a table's readings amount to, condition by condition: for `table show` and `table check`."""

from __future__ import annotations

from msgspec import Struct

from roundwright.calibration.curve import Curve, curve_of
from roundwright.calibration.solve import Solution, Unsolved, solve
from roundwright.calibration.table import Condition, Table


class Step(Struct, frozen=True):
    """One programmed diameter of a condition, mm: its readings, and what a target of that size gets.

    `correction` is None, and `why` says why, where nothing can be programmed for it; `uncertainty` is None
    where it cannot be told.
    """

    diameter: float
    readings: int
    measured: float
    error: float
    correction: float | None
    uncertainty: float | None
    why: str = ""


class Summary(Struct, frozen=True):
    """A condition with its curve and steps. `serves` are the smallest and largest target, mm.

    `no_uncertainty` says why there is none, `note` what it leaves out; `kept` readings don't count.
    """

    condition: Condition
    curve: Curve
    steps: tuple[Step, ...]
    serves: tuple[float, float] | None
    no_uncertainty: str
    note: str

    @property
    def kept(self) -> int:
        """How many readings don't count, being of an older bit."""
        return self.curve.kept


def overview(table: Table) -> tuple[Summary, ...]:
    """Every condition of the table, in its order."""
    return tuple(_summary(condition, table) for condition in table.conditions)


def _summary(condition: Condition, table: Table) -> Summary:
    curve = curve_of(condition, table)
    reach = table.limits.reach
    answers = [solve(curve, node.diameter, reach) for node in curve.nodes]
    steps = tuple(
        Step(node.diameter, node.n, node.diameter + node.error, node.error, *_given(answer, node.diameter))
        for node, answer in zip(curve.nodes, answers, strict=True)
    )
    solved = [answer for answer in answers if isinstance(answer, Solution)]
    return Summary(
        condition,
        curve,
        steps,
        curve.serves(reach) if curve.nodes else None,
        next((answer.why_no_uncertainty for answer in solved if answer.why_no_uncertainty), ""),
        next((answer.note for answer in solved if answer.note), ""),
    )


def _given(answer: Solution | Unsolved, target: float) -> tuple[float | None, float | None, str]:
    if isinstance(answer, Unsolved):
        return None, None, answer.why
    return answer.programmed - target, answer.uncertainty, answer.why_no_uncertainty

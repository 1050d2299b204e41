"""Promise: the features are found again on the new program, with the planned diameters."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from roundwright.errors import NotFoundAgain
from roundwright.find.feature import Feature
from roundwright.plan.plan import Correction
from roundwright.prove.case import LEAST_INCH, LEAST_MM, TOLERANCE_INCH, TOLERANCE_MM, Case
from roundwright.units import INCH

PROMISE = "found again"


def found_again(case: Case) -> None:
    """The same features in the same order, each with the diameter that the plan gives it."""
    again = case.again(case.new)
    expected = case.plan.corrections
    pairs = zip(expected, again, strict=False)
    if len(again) != len(expected) or any(c.feature.id != f.id for c, f in pairs):
        what = f"expected the features {_ids(c.feature for c in expected)}, found {_ids(again)}"
        refusal = case.broken(PROMISE, what, _first_line(expected, again))
        raise NotFoundAgain(refusal, _suspects(expected, again))
    faults = list(_faults(case, expected, again))
    if faults:
        first, what = faults[0]
        row = first.feature.wall.rows[0]
        refusal = case.broken_at(PROMISE, f"{first.feature.id}: {what}", row)
        raise NotFoundAgain(refusal, tuple(c.feature.id for c, _ in faults if c.status == "corrected"))


def _faults(
    case: Case, expected: Sequence[Correction], again: Sequence[Feature]
) -> Iterator[tuple[Correction, str]]:
    """What is not found as planned, all of it at once: to plan again for each would take a run for each."""
    for correction, feature in zip(expected, again, strict=True):
        state = case.old.states[int(case.old.state[correction.feature.wall.rows[0]])]
        fault = mismatch(correction, feature, room(state.inch, case.old.finest))
        if fault:
            yield correction, fault


def _suspects(expected: Sequence[Correction], again: Sequence[Feature]) -> tuple[str, ...]:
    """The corrected features whose walls are not found again, or whose rings are found as other walls."""
    walls = {one.feature.wall.rows[-1] for one in expected}
    found = {row for feature in again for row in feature.wall.rows}
    strange = {row for f in again if walls.isdisjoint(f.wall.rows) for row in f.wall.rows}
    return tuple(
        one.feature.id
        for one in expected
        if one.status == "corrected"
        and (
            one.feature.wall.rows[-1] not in found
            or not all(strange.isdisjoint(ring.rows) for ring in (one.feature.wall, *one.feature.clearing))
        )
    )


def room(inch: bool, finest: int) -> float:
    """How far a diameter that is found again may be off, mm: twice the radius's tolerance, and a unit."""
    if inch:
        return 2 * TOLERANCE_INCH + INCH * 10.0 ** -max(finest, LEAST_INCH)
    return 2 * TOLERANCE_MM + 10.0 ** -max(finest, LEAST_MM)


def mismatch(correction: Correction, found: Feature, most: float) -> str:
    """What is not as planned with a feature that was found again; empty where all is."""
    was = correction.feature
    corrected = correction.status == "corrected"
    if found.side != was.side:
        return f"expected a {was.side}, found a {found.side}"
    if was.wall.rows[-1] not in found.wall.rows:  # a lead beside the ring may have joined it or left
        return "its wall is now left by other moves"
    if found.wall.normal != was.wall.normal or found.frame != was.frame:
        return "its plane or work offset is another"
    off = max(abs(a - b) for a, b in zip(found.wall.centre, was.wall.centre, strict=True))
    if off > most:
        return f"its centre has moved by {off:.4f} mm"
    if corrected and found.fault:
        return f"it could not be corrected a second time: {found.why}"
    planned = correction.corrected if corrected else was.diameter
    if planned is None or found.diameter is None:
        return "" if planned is found.diameter else "its diameter is known in one program only"
    if abs(found.diameter - planned) > most:
        return f"expected the diameter {planned:.4f} mm, found {found.diameter:.4f} mm"
    return ""


def _ids(features: Iterable[Feature]) -> str:
    return " ".join(feature.id for feature in features) or "none"


def _first_line(expected: Sequence[Correction], again: Sequence[Feature]) -> int:
    """The line where the two lists part."""
    for one, two in zip(expected, again, strict=False):
        if one.feature.wall.rows != two.wall.rows:
            return one.feature.lines[0]
    return expected[min(len(again), len(expected) - 1)].feature.lines[0] if expected else 0

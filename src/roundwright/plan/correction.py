"""One feature's correction: skipped or doubtful, looked up, solved, within its limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from roundwright.calibration import Condition, Curve, Solution, Table, Unsolved, curve_of, solve
from roundwright.find import Feature
from roundwright.plan.plan import Correction, Reason
from roundwright.settings import Settings
from roundwright.units import INCH, MICROMETRE, native, parse_length

#: a correction smaller than this changes nothing that can be written.
_NOTHING = 0.1 * MICROMETRE


@dataclass(frozen=True, slots=True)
class Request:
    """What the corrections of one run are worked out from. `inch`: the program's units, for words."""

    table: Table | None
    material: str | None
    settings: Settings
    inch: bool

    def length(self, value: float) -> str:
        """A length in the program's units, for a sentence."""
        text = f"{native(value, inch=self.inch):.{4 if self.inch else 3}f}"
        return f"{text} {'in' if self.inch else 'mm'}"


def left_alone(feature: Feature, reason: Reason, why: str) -> Correction:
    """The feature stays as it is."""
    return Correction(feature, "left-alone", reason, why)


def correct_features(features: Sequence[Feature], request: Request) -> list[Correction]:
    """The correction that the table gives each feature, or the first reason to leave it alone."""
    curves: dict[str, Curve] = {}  # one for each condition, not one for each of a thousand features
    return [_correct(feature, request, curves) for feature in features]


def _correct(feature: Feature, request: Request, curves: dict[str, Curve]) -> Correction:
    if not _wanted(feature, request):
        return left_alone(feature, "skipped", "you asked to leave it")
    if feature.fault:
        return left_alone(feature, feature.fault, feature.why)
    table = request.table
    if table is None:
        return left_alone(feature, "no-table", "name the machine's table with --table, or say --measured P=M")
    condition = _condition(feature, table, request)
    if condition is None:
        return left_alone(feature, "no-calibration", _missing(feature, request))
    assert feature.diameter is not None
    if condition.label not in curves:
        curves[condition.label] = curve_of(condition, table)
    answer = solve(curves[condition.label], feature.diameter, table.limits.reach)
    if isinstance(answer, Unsolved):
        return replace(left_alone(feature, answer.reason, answer.why), condition=condition.label)
    return _within_limits(feature, condition, answer, table, request)


def _wanted(feature: Feature, request: Request) -> bool:
    settings = request.settings
    if settings.only and not any(_named(feature, key, request) for key in settings.only):
        return False
    return not any(_named(feature, key, request) for key in settings.skip)


def _named(feature: Feature, key: str, request: Request) -> bool:
    """Whether the key is the feature's id or its programmed diameter, within 5 µm (5e-4 in)."""
    if key.strip().upper().startswith("C"):
        return key.strip().upper() == feature.id
    if feature.diameter is None:
        return False
    slack = 5 * MICROMETRE * (INCH / 2 if request.inch else 1)
    return abs(parse_length(key, inch=request.inch) - feature.diameter) <= slack


def _condition(feature: Feature, table: Table, request: Request) -> Condition | None:
    cutter = feature.cutter
    assert cutter is not None
    key = cutter.number if cutter.number is not None else cutter.name
    return table.condition(key, request.material, feature.side, feature.cut)


def _missing(feature: Feature, request: Request) -> str:
    if request.settings.measured:
        return f"what you measured were holes; a {feature.side} needs readings of its own, in a table"
    if request.material is None:
        return "no material is named: say --material NAME, or set the table's default"
    cutter = feature.cutter
    tool = f"T{cutter.number}" if cutter and cutter.number is not None else cutter.name if cutter else "?"
    wanted = f"{tool} / {request.material} / {feature.side} / {feature.cut}"
    return f"the table has no readings for {wanted}: cut a test piece and add them"


def _within_limits(
    feature: Feature, condition: Condition, answer: Solution, table: Table, request: Request
) -> Correction:
    assert feature.diameter is not None
    change = answer.programmed - feature.diameter
    path = 2 * feature.wall.radius + change
    correction = Correction(
        feature,
        "corrected",
        change=change,
        corrected=answer.programmed,
        corrected_path=path,
        expected_error=answer.expected_error,
        uncertainty=answer.uncertainty,
        condition=condition.label,
        basis=answer.basis,
    )
    limit = request.settings.limit if request.settings.limit is not None else table.limits.correction
    if abs(change) > limit:
        why = f"it would change by {request.length(change)}, the limit is {request.length(limit)}; "
        return refused(correction, "over-limit", why + "look at the readings, or raise --limit")
    if abs(change) <= max(table.limits.deadband, _NOTHING):
        return replace(correction, status="on-size")
    if path <= 2 * MICROMETRE:
        return refused(correction, "would-vanish", "the path would shrink to nothing")
    return correction


def refused(correction: Correction, reason: Reason, why: str) -> Correction:
    """The same correction, worked out but not made."""
    return replace(correction, status="left-alone", reason=reason, why=why)


def looks_corrected(correction: Correction) -> bool:
    """Whether the feature has most likely been corrected by hand already.

    Its programmed diameter is odd while the diameter less this table's correction is a round size:
    a tenth of a millimetre or a 64th of an inch, within 5 µm.
    """
    if correction.change is None or correction.feature.diameter is None:
        return False
    diameter = correction.feature.diameter
    return not _round(diameter) and _round(diameter - correction.change)


def _round(diameter: float) -> bool:
    return any(abs(diameter - step * round(diameter / step)) <= 5 * MICROMETRE for step in (0.1, INCH / 64))


def hold_back_corrected(
    corrections: Sequence[Correction], finest_unit: float, *, again: bool
) -> tuple[list[Correction], list[str]]:
    """Leave features alone that somebody has corrected by hand, where the program shows it; else warn.

    `finest_unit` is the program's finest written step in mm; over 5 µm it is too coarse to tell.
    """
    live = [c for c in corrections if c.status == "corrected"]
    suspects = [c for c in live if looks_corrected(c)]
    if not suspects or again or finest_unit > 5 * MICROMETRE:
        return list(corrections), []
    if len(suspects) < len(live):
        names = ", ".join(c.feature.id for c in suspects)
        return list(corrections), [
            f"{names}: odd sizes that look corrected by hand already; check the drawing"
        ]
    why = "its size looks corrected by hand already; if it is not, say --again"
    return [refused(c, "looks-corrected", why) if c in suspects else c for c in corrections], []

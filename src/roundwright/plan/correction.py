"""One feature's correction: skipped or doubtful, looked up, solved, within its limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from roundwright.calibration import Condition, Curve, Solution, Table, Unsolved, curve_of, solve
from roundwright.find import Feature
from roundwright.packed import Packed
from roundwright.plan.plan import Correction, Reason, Target
from roundwright.plan.request import Request, named
from roundwright.plan.target import judged, targets_of
from roundwright.units import INCH, MICROMETRE

#: a correction smaller than this changes nothing that can be written.
_NOTHING = 0.1 * MICROMETRE


class _Answers(Struct, eq=False):
    """What a table has answered: asked once for all of a thousand features that ask the same."""

    table: Table
    material: str | None
    conditions: dict[tuple[str | int, str, str], Condition | None] = field(default_factory=dict)
    curves: dict[str, Curve] = field(default_factory=dict)
    solutions: dict[tuple[str, float], Solution | Unsolved] = field(default_factory=dict)

    def condition(self, feature: Feature) -> Condition | None:
        """The condition that serves a feature."""
        cutter = feature.cutter
        assert cutter is not None
        key = cutter.number if cutter.number is not None else cutter.name
        asked = key, feature.side, feature.cut
        if asked not in self.conditions:
            self.conditions[asked] = self.table.condition(key, self.material, feature.side, feature.cut)
        return self.conditions[asked]

    def solution(self, condition: Condition, wanted: float) -> Solution | Unsolved:
        """What to program for a diameter, mm."""
        name = condition.label
        if name not in self.curves:
            self.curves[name] = curve_of(condition, self.table)
        if (name, wanted) not in self.solutions:
            self.solutions[name, wanted] = solve(self.curves[name], wanted, self.table.limits.reach)
        return self.solutions[name, wanted]


def left_alone(feature: Feature, reason: Reason, why: str) -> Correction:
    """The feature stays as it is."""
    return Correction(feature, "left-alone", reason, why)


def correct_features(features: Sequence[Feature], request: Request) -> Sequence[Correction]:
    """The correction that the table gives each feature, or the first reason to leave it alone.

    Raises SettingsError where a target cannot be meant.
    """
    answers = _Answers(request.table, request.material) if request.table else None
    targets = targets_of(features, request)
    return Packed(Correction, (_correct(feature, request, answers, targets) for feature in features))


def _correct(
    feature: Feature, request: Request, answers: _Answers | None, targets: Mapping[str, Target]
) -> Correction:
    target = targets.get(feature.id)
    correction = _looked_up(feature, request, answers, target)
    return correction if target is None else replace(correction, target=target)


def _looked_up(
    feature: Feature, request: Request, answers: _Answers | None, target: Target | None
) -> Correction:
    if not _wanted(feature, request):
        return left_alone(feature, "skipped", "you asked to leave it")
    if feature.fault:
        return left_alone(feature, feature.fault, feature.why)
    if answers is None:
        return left_alone(feature, "no-table", "name the machine's table with --table, or say --measured P=M")
    condition = answers.condition(feature)
    if condition is None:
        return left_alone(feature, "no-calibration", _missing(feature, request))
    assert feature.diameter is not None
    wanted = feature.diameter if target is None else target.diameter
    answer = answers.solution(condition, wanted)
    if isinstance(answer, Unsolved):
        return replace(left_alone(feature, answer.reason, answer.why), condition=condition.label)
    return _within_limits(feature, condition, answer, answers.table, request, target)


def _wanted(feature: Feature, request: Request) -> bool:
    settings = request.settings
    if settings.only and not any(named(feature, key, request) for key in settings.only):
        return False
    return not any(named(feature, key, request) for key in settings.skip)


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
    feature: Feature,
    condition: Condition,
    answer: Solution,
    table: Table,
    request: Request,
    target: Target | None,
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
        target=target,
    )
    limit = request.settings.limit if request.settings.limit is not None else table.limits.correction
    if abs(change) > limit:
        why = f"it would change by {request.length(change)}, the limit is {request.length(limit)}; "
        return refused(correction, "over-limit", why + "look at the readings, or raise --limit")
    deadband = table.limits.deadband if target is None else 0.0  # who names a size wants that size
    if abs(change) <= max(deadband, _NOTHING):
        return judged(replace(correction, status="on-size"), answer, condition)
    if path <= 2 * MICROMETRE:
        return refused(correction, "would-vanish", "the path would shrink to nothing")
    return judged(correction, answer, condition)


def refused(correction: Correction, reason: Reason, why: str) -> Correction:
    """The same correction, worked out but not made."""
    return replace(correction, status="left-alone", reason=reason, why=why, probability=None, doubt="")


def looks_corrected(correction: Correction) -> bool:
    """Whether the feature has most likely been corrected by hand already.

    Its programmed diameter is odd while the diameter less this table's correction is a round size:
    a tenth of a millimetre or a 64th of an inch, within 5 µm. What a target adds is no correction.
    """
    if correction.change is None or correction.feature.diameter is None:
        return False
    diameter, change, target = correction.feature.diameter, correction.change, correction.target
    if target is not None:
        change -= target.diameter - diameter
    return not _round(diameter) and _round(diameter - change)


def _round(diameter: float) -> bool:
    return any(abs(diameter - step * round(diameter / step)) <= 5 * MICROMETRE for step in (0.1, INCH / 64))


def hold_back_corrected(
    corrections: Sequence[Correction], finest_unit: float, *, again: bool
) -> tuple[Sequence[Correction], list[str]]:
    """Leave features alone that somebody has corrected by hand, where the program shows it; else warn.

    `finest_unit` is the program's finest written step in mm; over 5 µm it is too coarse to tell. Where a
    diameter is asked for it does not matter what the programmed one was made from.
    """
    live, suspects = 0, list[Correction]()
    for one in corrections:
        if one.status == "corrected" and (one.target is None or one.target.fit):
            live += 1
            if looks_corrected(one):
                suspects.append(one)
    if not suspects or again or finest_unit > 5 * MICROMETRE:
        return corrections, []
    if len(suspects) < live:
        names = ", ".join(c.feature.id for c in suspects)
        return corrections, [f"{names}: odd sizes that look corrected by hand already; check the drawing"]
    why, held = (
        "its size looks corrected by hand already; if it is not, say --again",
        {c.feature.id for c in suspects},
    )
    left = (refused(c, "looks-corrected", why) if c.feature.id in held else c for c in corrections)
    return Packed(Correction, left), []

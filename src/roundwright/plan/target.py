"""What features are to come out as, where somebody asked for another size or a tolerance."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from roundwright.calibration import Condition, Solution, ovality_at, share_in_tolerance
from roundwright.errors import SettingsError
from roundwright.find import Feature
from roundwright.plan.plan import Correction, Target
from roundwright.plan.request import Request, named
from roundwright.units import parse_length

#: a nominal size is known to a micrometre: a program's last decimals are rounding.
_NOMINAL_DIGITS = 3
_SHOWN = 8
_SIDES = {"hole": "hole", "boss": "shaft"}


def targets_of(features: Sequence[Feature], request: Request) -> dict[str, Target]:
    """What was asked for, by feature id; one asked for by id comes before one asked for by diameter.

    A class in capitals is for holes, one in small letters for bosses: of the features of a diameter it takes
    those. Features with a fault get none, they are left alone. Raises SettingsError where a key names
    nothing, a value makes no sense, or two keys differ.
    """
    by_size: dict[str, Target] = {}
    by_id: dict[str, Target] = {}
    for key, value in ((key.strip(), value.strip()) for key, value in request.settings.targets.items()):
        for feature in _meant(features, key, value, request):
            if feature.fault:
                continue
            target = _target(feature, value, request)
            found = by_id if key[:1].isalpha() else by_size
            if found.setdefault(feature.id, target) != target:
                raise SettingsError(f"{feature.id} has two targets", cure="Give it one --target")
    return by_size | by_id


def judged(correction: Correction, answer: Solution, condition: Condition) -> Correction:
    """The same correction with how likely it lies within its target's limits, where it has any."""
    target = correction.target
    if target is None or target.lower is None or target.upper is None:
        return correction
    ovality = ovality_at(condition.used, answer.programmed)
    if answer.standard is None or answer.freedom is None:
        return replace(correction, ovality=ovality, doubt=answer.why_no_uncertainty)
    doubts = [answer.note] if answer.note else []
    if ovality is None:
        doubts.append("no reading has both x and y, so it is taken for round")
    share = share_in_tolerance(
        answer.programmed + answer.expected_error,
        (target.lower, target.upper),
        ovality or 0.0,
        answer.standard,
        answer.freedom,
    )
    return replace(correction, ovality=ovality, probability=share, doubt="; ".join(doubts))


def _meant(features: Sequence[Feature], key: str, value: str, request: Request) -> list[Feature]:
    """The features that a key names. Raises SettingsError where it names none."""
    side = _side_of(value, request)
    if key[:1].isalpha():
        meant = [feature for feature in features if feature.id == key.upper()]
    else:
        meant = [
            f for f in features if named(f, key, request) and (side is None or f.side in (side, "unknown"))
        ]
    if not meant:
        kind = f"{side} of this diameter" if side and not key[:1].isalpha() else "such feature"
        raise SettingsError(
            f"--target {key}={value}: the program has no {kind}", cure=_all(features, request)
        )
    return meant


def _side_of(value: str, request: Request) -> str | None:
    """The side that a tolerance class is for; None where the value is a length. Raises SettingsError."""
    if not value[:1].isalpha():
        if parse_length(value, inch=request.inch) <= 0.0:
            raise SettingsError(f"{value} is no diameter to aim at", cure="Give one above zero")
        return None
    assert request.fits is not None, "who asks for a class hands the tables in"
    letter, _ = request.fits.parts_of(value)
    return "hole" if letter.isupper() else "boss"


def _target(feature: Feature, value: str, request: Request) -> Target:
    side = _side_of(value, request)
    if side is None:
        return Target(parse_length(value, inch=request.inch))
    if side != feature.side:
        other = value.swapcase() if feature.side in _SIDES else "the diameter that you want"
        raise SettingsError(
            f"{feature.id} is a {feature.side}, {value} is a tolerance of {_SIDES[side]}s",
            cure=f"Write {other}",
        )
    assert request.fits is not None and feature.diameter is not None
    nominal = round(feature.diameter, _NOMINAL_DIGITS)
    lower, upper = request.fits.limits_of(nominal, value)
    return Target((lower + upper) / 2, lower, upper, value, nominal)


def _all(features: Sequence[Feature], request: Request) -> str:
    """What there is instead, for a sentence."""
    if not features:
        return "It has no circular feature at all"
    shown = ", ".join(
        f"{f.id} ({f.side if f.diameter is None else f'{f.side} {request.length(f.diameter)}'})"
        for f in features[:_SHOWN]
    )
    more = f" and {len(features) - _SHOWN} more" if len(features) > _SHOWN else ""
    return f"It has {shown}{more}"

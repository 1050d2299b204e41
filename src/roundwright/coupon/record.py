"""The record of a program that is to be cut: which circles it has and what was programmed for each."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from hashlib import sha256
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import asdict, fields

from roundwright.coupon.layout import Layout
from roundwright.coupon.program import written_diameter
from roundwright.errors import Place, RoundwrightError

if TYPE_CHECKING:
    from roundwright.calibration import Table
    from roundwright.pipeline import Outcome
    from roundwright.plan.plan import Correction, WallFeed

SCHEMA = "roundwright.record/1"
FIGURES = ("x", "y", "d45", "d135", "diameter")
SIDES = ("hole", "boss", "groove")
CUTS = ("climb", "conventional", "both", "unknown")
_DIGITS = 6  # of a millimetre
_HASH = re.compile(r"[0-9a-f]{64}")
_CURE = "Take the record as roundwright wrote it"


class Recorded(Struct, frozen=True):
    """One circle. Lengths in mm; `centre` in its plane's two axes, None where it is not known.

    `original` is its diameter in the original program, `programmed` in the corrected one, `target` what it is
    to measure. `feed` (mm/min) and `speed` (1/min) are those of the wall pass, None where not known. The
    figures are None until somebody fills them in; `tool` is a number or a name.
    """

    id: str
    side: str
    cut: str
    tool: int | str
    material: str | None
    centre: tuple[float, float] | None
    target: float
    original: float
    programmed: float
    feed: float | None = None
    speed: float | None = None
    x: float | None = None
    y: float | None = None
    d45: float | None = None
    d135: float | None = None
    diameter: float | None = None


class Record(Struct, frozen=True):
    """What `measure` must know. `corrected` is the corrected program's SHA-256, None where there is none."""

    program: str
    units: str
    original: str
    corrected: str | None
    table: str | None
    file: str | None
    features: tuple[Recorded, ...]


def coupon_record(layout: Layout, program: bytes, name: str, table: Table) -> Record:
    """The record of a coupon: what is programmed differs from what was asked for by rounding alone."""
    recipe = layout.recipe
    features = tuple(
        Recorded(
            spot.id,
            spot.side,
            spot.cut,
            recipe.tool.key,
            recipe.material,
            (_round(spot.centre[0]), _round(spot.centre[1])),
            _round(spot.diameter),
            _round(written_diameter(recipe, spot)),
            _round(written_diameter(recipe, spot)),
            _round(recipe.feed),
            _round(recipe.speed),
        )
        for spot in layout.spots
    )
    units = "in" if recipe.inch else "mm"
    return Record(
        PurePath(name).name,
        units,
        sha256(program).hexdigest(),
        None,
        table.name,
        PurePath(table.file).name,
        features,
    )


def job_record(outcome: Outcome) -> Record:
    """The record of a corrected program: every circle whose side and tool are known, corrected or not.

    A circle that is none, by its fault (a taper, a thread, one cut away), has no diameter to measure.
    """
    table = outcome.table
    named = table is not None and bool(table.tools)
    return Record(
        PurePath(outcome.program.name).name,
        "in" if outcome.moves.inch else "mm",
        sha256(outcome.program.data).hexdigest(),
        None if outcome.output is None else sha256(outcome.output).hexdigest(),
        table.name if table is not None and named else None,
        PurePath(table.file).name if table is not None and named else None,
        tuple(
            _recorded(correction, outcome.material, outcome.plan.feeds.get(correction.feature.id))
            for correction in outcome.plan.corrections
            if _measurable(correction)
        ),
    )


def _measurable(correction: Correction) -> bool:
    feature = correction.feature
    known = feature.side in SIDES and feature.cutter is not None and feature.diameter is not None
    return known and not feature.fault


def _recorded(correction: Correction, material: str | None, wall: WallFeed | None) -> Recorded:
    feature = correction.feature
    assert feature.cutter is not None and feature.diameter is not None
    cutter = feature.cutter
    original = _round(feature.diameter)
    changed = correction.status == "corrected" and correction.corrected is not None
    x, y = feature.wall.centre
    return Recorded(
        feature.id,
        feature.side,
        feature.cut,
        cutter.name if cutter.number is None else cutter.number,
        material,
        (_round(x), _round(y)) if feature.wall.known else None,
        original if correction.target is None else _round(correction.target.diameter),
        original,
        _round(correction.corrected) if changed and correction.corrected is not None else original,
        None if wall is None or not wall.programmed else _round(wall.programmed),
        None if wall is None or not wall.speed else _round(wall.speed),
    )


def record_json(record: Record) -> str:
    """The record as JSON `roundwright.record/1`, in ASCII."""
    table = None if record.table is None else {"name": record.table, "file": record.file}
    program = {
        "name": record.program,
        "units": record.units,
        "sha256": record.original,
        "corrected_sha256": record.corrected,
    }
    features = [asdict(feature) for feature in record.features]
    whole = {"schema": SCHEMA, "program": program, "table": table, "features": features}
    return json.dumps(whole, indent=2, allow_nan=False) + "\n"


def read_record(text: str, name: str) -> Record:
    """A record from its JSON; `name` is the file's, for messages. Raises RoundwrightError."""
    place = Place(name)
    try:
        whole = json.loads(text)
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", None)
        raise RoundwrightError("this is no valid JSON", place=Place(name, line), cure=_CURE) from error
    if not isinstance(whole, dict) or whole.get("schema") != SCHEMA:
        what = f"this is no record that can be read here ({SCHEMA})"
        raise RoundwrightError(what, place=place, cure=_CURE)
    try:
        return _record(whole)
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        what = f"the record lacks {error}" if isinstance(error, KeyError) else f"in the record {error}"
        raise RoundwrightError(what, place=place, cure=_CURE) from error


def _record(whole: Mapping[str, Any]) -> Record:
    """Raises KeyError, TypeError, ValueError or OverflowError with what is wrong."""
    program, table = _mapping(whole["program"], "program"), whole["table"]
    table = {} if table is None else _mapping(table, "table")
    features = whole["features"]
    if not isinstance(features, list):
        raise TypeError("'features' is no list")
    read = tuple(_feature(_mapping(feature, "a feature")) for feature in features)
    ids = [feature.id for feature in read]
    twice = next((one for one in ids if ids.count(one) > 1), None)
    if twice is not None:
        raise ValueError(f"{twice} stands twice")
    corrected = program["corrected_sha256"]
    return Record(
        _text(program["name"], "name"),
        _one_of(program["units"], ("mm", "in"), "units"),
        _sum(program["sha256"]),
        None if corrected is None else _sum(corrected),
        None if not table else _text(table["name"], "table"),
        None if not table or table["file"] is None else _text(table["file"], "file"),
        read,
    )


def _feature(values: Mapping[str, Any]) -> Recorded:
    known = {field.name for field in fields(Recorded)}
    odd = next((key for key in values if key not in known), None)
    if odd is not None:
        raise ValueError(f"the key {odd!r} is not known")
    tool, material, centre = values["tool"], values["material"], values["centre"]
    if isinstance(tool, bool) or not isinstance(tool, int | str):
        raise TypeError(f"{tool!r} is no tool")
    return Recorded(
        _text(values["id"], "id"),
        _one_of(values["side"], SIDES, "side"),
        _one_of(values["cut"], CUTS, "cut"),
        tool,
        None if material is None else _text(material, "material"),
        None if centre is None else _pair(centre),
        _length(values["target"]),
        _length(values["original"]),
        _length(values["programmed"]),
        *(None if values.get(key) is None else _length(values[key]) for key in ("feed", "speed", *FIGURES)),
    )


def _mapping(value: Any, what: str) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise TypeError(f"{what} is no object")
    return value


def _text(value: Any, what: str) -> str:
    if not isinstance(value, str) or not value or not value.isprintable():
        raise TypeError(f"{what} is no line of text")
    return value


def _one_of(value: Any, words: tuple[str, ...], what: str) -> str:
    if value not in words:
        raise ValueError(f"{what} is none of {', '.join(words)}")
    return str(value)


def _sum(value: Any) -> str:
    if not isinstance(value, str) or not _HASH.fullmatch(value):
        raise ValueError("a SHA-256 is spoiled")
    return value


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TypeError(f"{value!r} is no number")
    return float(value)


def _pair(value: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise TypeError("a centre is no pair of numbers")
    return _number(value[0]), _number(value[1])


def _length(value: Any) -> float:
    length = _number(value)
    if not 0.0 < length < 1e9:
        raise ValueError(f"{value!r} is no length")
    return length


def _round(length: float) -> float:
    return round(length, _DIGITS) + 0.0  # no -0.0

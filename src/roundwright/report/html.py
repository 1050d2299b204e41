"""The report of a run: one HTML file to look at before the machine starts, which needs nothing else."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from hashlib import sha256
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from msgspec import Struct

from roundwright.plan.plan import Correction
from roundwright.report.curve_view import FIELD, CurveView, Spot, curve_views
from roundwright.report.listing import unread_ranges
from roundwright.report.plan_view import PlanView, plan_views
from roundwright.report.ruler import Ruler
from roundwright.report.text import Units, aim_text, count, notes_of, tool_name, verdict
from roundwright.units import native
from roundwright.version import __version__

if TYPE_CHECKING:
    from roundwright.pipeline import Outcome

#: a status in words; the sign that goes with it is drawn by the template.
STATUS = {"corrected": "corrected", "on-size": "on size", "left-alone": "left alone"}
_NAMED = 60  # ids in one line of text; the table has them all
#: smaller letters, as a share of the picture, are shown when somebody zooms in.
_LEGIBLE = 1 / 130
#: the table's columns: name, key of a row, classes: numbers, and what is hidden where the page is narrow.
_COLUMNS = (
    ("Circle", "id", ""),
    ("Status", "word", ""),
    ("Side", "side", ""),
    ("Diameter", "diameter", "n"),
    ("Change", "change", "n"),
    ("New", "new", "n wide"),
    ("Next cut", "within", "n wide"),
    ("X", "x", "n wide"),
    ("Y", "y", "n wide"),
    ("Tool", "tool", "wider"),
    ("Cut", "cut", "wider"),
    ("Lines", "lines", "wider"),
)
_SIGN = 1.4  # what the sign before a status takes beyond what letters are narrower than digits, in digits
_Facts = list[tuple[str, str]]


class Files(Struct, frozen=True):
    """What the report cannot know of the run: where the program went, and the table's fingerprint."""

    output: str | None = None
    table_sha256: str | None = None


NO_FILES = Files()


def report_html(outcome: Outcome, files: Files = NO_FILES, units: Units | None = None) -> str:
    """The report as HTML; in the program's units where none are asked for."""
    ruler = Ruler(outcome.moves.inch if units is None else units == "in")
    curves = curve_views(outcome, ruler)
    order = {label: number for number, label in enumerate(curves)}
    views = plan_views(outcome)
    corrections = outcome.plan.corrections
    rows = [_row(correction, outcome, ruler) for correction in corrections]
    page = {
        "title": PurePath(outcome.program.name).name,
        "job": _job(outcome, ruler),
        "verdict": verdict(corrections),
        "cautions": _cautions(outcome),
        "counts": [(key, STATUS[key], sum(c.status == key for c in corrections)) for key in STATUS],
        "unit": ruler.unit,
        "mm_per_unit": round(1 / native(1.0, inch=ruler.inch), 4),
        "plans": [_plan(view, corrections, outcome, ruler) for view in views],
        "columns": _columns(rows),
        "rows": rows,
        "curves": [_curve(view, corrections, ruler) for view, _ in curves.values()],
        "field": FIELD,
        "left": _left(corrections),
        "unread": [_unread(block) for block in unread_ranges(outcome.program.unread)],
        "arc_centres": outcome.moves.arc_centres,
        "written": outcome.output is not None,
        "prints": _fingerprints(outcome, files),
        "version": __version__,
        "facts": _json({c.feature.id: _facts(c, outcome, ruler, curves, order) for c in corrections}),
    }
    return _templates().get_template("report.html").render(page)


@cache
def _templates() -> Environment:
    loader = PackageLoader("roundwright.report")
    return Environment(
        loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )


def _json(value: Any) -> Markup:
    """JSON that no text in it can end the element of: it stands in a script."""
    text = json.dumps(value, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026"))


def _job(outcome: Outcome, ruler: Ruler) -> str:
    table = outcome.table
    parts = [
        count(outcome.program.lines, "line"),
        "no table" if table is None else f"table {table.name}",
        *([outcome.material] if outcome.material and table is not None else []),
        "lengths in inches" if ruler.inch else "lengths in mm",
    ]
    return ", ".join(parts)


def _cautions(outcome: Outcome) -> list[str]:
    """What to mind before anything else, most urgent first; that it must run in the air stands above."""
    corrections = outcome.plan.corrections
    found = ["This program says that it is corrected already: cut it only once."] if outcome.stamped else []
    left = sum(c.status == "left-alone" for c in corrections)
    if left:
        found.append(f"{count(left, 'circle')} left alone, still at the programmed size: see below why.")
    bare = sum(c.status == "corrected" and c.uncertainty is None for c in corrections)
    if bare:
        found.append(
            f"{count(bare, 'circle')} corrected from readings that don't tell how far the next cut may stray."
        )
    unread = unread_ranges(outcome.program.unread)
    if unread:
        found.append(f"{count(len(unread), 'stretch', 'es')} of the program could not be read: see below.")
    return [*found, *(warning[:1].upper() + warning[1:] for warning in outcome.warnings)]


def _plan(
    view: PlanView, corrections: Sequence[Correction], outcome: Outcome, ruler: Ruler
) -> dict[str, Any]:
    by_id = {c.feature.id: c for c in corrections}
    unit = max(view.width, view.height)
    return {
        "view": view,
        "many": len(outcome.moves.frames) > 1,
        "side": unit,
        "far": any(mark.letters < _LEGIBLE * unit for mark in view.marks[-1:]),
        "titles": {mark.id: _brief(by_id[mark.id], ruler) for mark in view.marks},
        "note": (
            f"Many moves: {view.track.shown} of {view.track.moves} are drawn, every circle among them."
            if view.track.thinned
            else ""
        ),
    }


def _brief(correction: Correction, ruler: Ruler) -> str:
    """One feature in a line."""
    feature = correction.feature
    side = "side unknown" if feature.side == "unknown" else feature.side
    size = f"path {ruler(2 * feature.wall.radius)}" if feature.diameter is None else ruler(feature.diameter)
    text = f"{feature.id}, {side}, {size} {ruler.unit}"
    if correction.status == "corrected":
        text += f", becomes {ruler(correction.corrected)} ({ruler(correction.change, '+')})"
    reason = f": {correction.reason}" if correction.reason else ""
    return f"{text}, {STATUS[correction.status]}{reason}"


def _row(correction: Correction, outcome: Outcome, ruler: Ruler) -> dict[str, str]:
    feature, wall = correction.feature, correction.feature.wall
    applied = correction.status == "corrected"
    x, y = (ruler(value) for value in wall.centre) if wall.known else ("-", "-")
    first, last = (line + 1 for line in feature.lines)
    return {
        "id": feature.id,
        "status": correction.status,
        "word": STATUS[correction.status],
        "side": feature.side if feature.side != "unknown" else "?",
        "diameter": ruler(feature.diameter),
        "change": ruler(correction.change, "+") if applied else "-",
        "new": ruler(correction.corrected) if applied else "-",
        "within": f"±{ruler(correction.uncertainty)}"
        if correction.status != "left-alone" and correction.uncertainty is not None
        else "-",
        "x": x,
        "y": y,
        "tool": tool_name(correction, outcome),
        "cut": feature.cut if feature.cut != "unknown" else "?",
        "lines": str(first) if first == last else f"{first} to {last}",
    }


def _columns(rows: list[dict[str, str]]) -> list[dict[str, Any]]:
    """Name and classes of each column, and how many digits wide it is, so that no figures run together."""
    columns = []
    for name, key, kind in _COLUMNS:
        longest = max((len(row[key]) for row in rows), default=0) + (_SIGN if key == "word" else 0.0)
        columns.append({"name": name, "kind": kind, "long": round(max(longest, len(name)) + 0.5, 1)})
    return columns


def _curve(view: CurveView, corrections: Sequence[Correction], ruler: Ruler) -> dict[str, Any]:
    """A condition's picture, with what its features get, those of one base joined."""
    bases: dict[str, list[str]] = {}
    for correction in corrections:
        if correction.condition == view.label and correction.status != "left-alone":
            bases.setdefault(f"{correction.basis or 'readings'}; {_spread(correction, ruler)}", []).append(
                correction.feature.id
            )
    return {"view": view, "bases": [(_ids(ids), base) for base, ids in bases.items()]}


def _spread(correction: Correction, ruler: Ruler) -> str:
    if correction.uncertainty is None:
        return "how far the next cut may stray is not known"
    return f"next cut within ±{ruler(correction.uncertainty)} {ruler.unit} (about 95 %)"


def _ids(ids: list[str]) -> str:
    more = f" and {len(ids) - _NAMED} more" if len(ids) > _NAMED else ""
    return " ".join(ids[:_NAMED]) + more


def _left(corrections: Sequence[Correction]) -> list[tuple[str, str, str]]:
    """Features left alone for one reason, joined: their ids, the reason, what would settle it."""
    groups: dict[tuple[str, str], list[str]] = {}
    for correction in corrections:
        if correction.status == "left-alone":
            groups.setdefault((correction.reason or "", correction.why), []).append(correction.feature.id)
    return [(_ids(ids), reason, why) for (reason, why), ids in groups.items()]


def _unread(block: dict[str, Any]) -> str:
    first, last = block["lines"]
    where = f"line {first}" if first == last else f"lines {first} to {last}"
    return f"{where} ({block['reason']})"


def _fingerprints(outcome: Outcome, files: Files) -> list[tuple[str, str, str]]:
    """What went in and came out: what it is, its name, its SHA-256."""
    program = outcome.program
    prints = [("program as read", PurePath(program.name).name, sha256(program.data).hexdigest())]
    if outcome.output is not None:
        name = PurePath(files.output).name if files.output else "standard output"
        prints.append(("corrected program", name, sha256(outcome.output).hexdigest()))
    if outcome.table is not None and files.table_sha256 is not None:
        prints.append(("calibration table", PurePath(outcome.table.file).name, files.table_sha256))
    return prints


def _facts(
    correction: Correction,
    outcome: Outcome,
    ruler: Ruler,
    curves: dict[str, tuple[CurveView, dict[str, Spot]]],
    order: dict[str, int],
) -> dict[str, Any]:
    """All that is to be said of one feature, and its spot on its condition's curve."""
    facts: dict[str, Any] = {"head": _brief(correction, ruler), "rows": _said(correction, outcome, ruler)}
    label = correction.condition
    if label in curves and label is not None:
        spot = curves[label][1].get(correction.feature.id)
        if spot is not None:
            facts["curve"] = order[label]
            facts["spot"] = [spot.x, spot.y, spot.high, spot.low]
    return facts


def _said(correction: Correction, outcome: Outcome, ruler: Ruler) -> _Facts:
    feature, wall = correction.feature, correction.feature.wall
    said: _Facts = []
    if correction.reason is not None:
        said.append(("Left alone", f"{correction.reason}: {correction.why}"))
    said.append(("Known by", feature.evidence or "nothing in the path tells hole from boss"))
    said.append(("Tool", f"{tool_name(correction, outcome)}, {feature.cut}, path {ruler(2 * wall.radius)}"))
    if wall.known:
        said.append(("Centre", " ".join(ruler(value) for value in wall.centre) + f" in {feature.frame}"))
    said.append(("Wall", f"{_depth(wall.z, ruler)}, {count(wall.passes, 'turn')}"))
    if correction.condition is not None and correction.status != "left-alone":
        said.append(("Readings", f"{correction.condition}, {correction.basis or 'all'}"))
        said.append(("Next cut", _spread(correction, ruler).removeprefix("next cut ")))
    if correction.target is not None and correction.status != "left-alone":
        said.append(("Aimed at", aim_text(correction, correction.target, ruler)))
    said += [("Note", note) for note in notes_of(correction, ruler)]
    first, last = (line + 1 for line in feature.lines)
    said.append(("Lines", str(first) if first == last else f"{first} to {last}"))
    return said


def _depth(z: tuple[float, float], ruler: Ruler) -> str:
    high, low = (ruler(value) for value in z)
    return f"Z {low}" if high == low else f"Z {high} to {low}"

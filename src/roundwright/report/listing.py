"""The listing for other programs: what was found and what each feature gets, as JSON and CSV.

The keys are the contract's; lengths are in mm whatever the program's units, lines count from 1.
"""

from __future__ import annotations

from os.path import basename
from typing import TYPE_CHECKING, Any

import numpy as np

from roundwright.plan.plan import Correction, WallFeed
from roundwright.read.program import UNREAD_REASONS, Unread
from roundwright.trace.moves import PLANE_NAMES, Moves

if TYPE_CHECKING:
    from roundwright.pipeline import Outcome

SCHEMA = "roundwright.listing/1"
_DIGITS = 6  # of a millimetre: a thousandth of what any promise is about


def listing(outcome: Outcome) -> dict[str, Any]:
    """The listing `roundwright.listing/1` of one run, ready for JSON."""
    return {
        "schema": SCHEMA,
        "program": _program(outcome),
        "table": _table(outcome),
        "features": [
            _feature(c, outcome.moves, outcome.plan.feeds.get(c.feature.id)) for c in outcome.plan.corrections
        ],
        "unread": unread_ranges(outcome.program.unread),
        "warnings": list(outcome.warnings),
    }


def listing_json(outcome: Outcome) -> str:
    """The listing as JSON, in ASCII so that no pipe can spoil it."""
    import json  # here, as below: the listing for people is made of neither

    return json.dumps(listing(outcome), indent=2, allow_nan=False) + "\n"


def listing_csv(outcome: Outcome) -> str:
    """One row per feature under a head of names, as RFC 4180 has it."""
    import csv
    import io

    text = io.StringIO(newline="")
    rows = csv.DictWriter(text, COLUMNS)
    rows.writeheader()
    rows.writerows(_flat(feature) for feature in listing(outcome)["features"])
    return text.getvalue()


def unread_ranges(unread: Unread) -> list[dict[str, Any]]:
    """Blocks that could not be read, neighbours of one reason joined: lines from 1, both ends in."""
    line, reason = unread.line, unread.reason
    apart = (line[1:] != line[:-1] + 1) | (reason[1:] != reason[:-1])
    first, last = (
        np.flatnonzero(ends[: len(line)]) for ends in (np.append(True, apart), np.append(apart, True))
    )
    between = np.column_stack((line[first], line[last])) + 1
    return [
        {"lines": lines, "reason": UNREAD_REASONS[why]}
        for lines, why in zip(between.tolist(), reason[first].tolist(), strict=True)
    ]


def _round(length: float | None) -> float | None:
    return None if length is None else round(length, _DIGITS) + 0.0  # no -0.0


def _program(outcome: Outcome) -> dict[str, Any]:
    from hashlib import sha256  # here: the listing for people has none

    program = outcome.program
    return {
        "name": basename(program.name),
        "sha256": sha256(program.data).hexdigest(),
        "lines": program.lines,
        "units": "in" if outcome.moves.inch else "mm",
        "stamped": outcome.stamped,
        "arc_centres": outcome.moves.arc_centres,
    }


def _table(outcome: Outcome) -> dict[str, Any] | None:
    if outcome.table is None:
        return None
    return {
        "name": outcome.table.name,
        "file": basename(outcome.table.file) or None,
        "material": outcome.material,
    }


def _feature(correction: Correction, moves: Moves, feed: WallFeed | None) -> dict[str, Any]:
    feature, wall = correction.feature, correction.feature.wall
    return {
        "id": feature.id,
        "side": feature.side,
        "plane": PLANE_NAMES[wall.normal],
        "frame": feature.frame,
        "centre": [_round(x) for x in wall.centre] if wall.known else None,
        "z": [_round(z) for z in wall.z],
        "tool": _tool(correction, moves),
        "path_diameter": _round(2 * wall.radius),
        "diameter": _round(feature.diameter),
        "turn": wall.turn,
        "cut": feature.cut,
        "form": list(wall.forms),
        "passes": wall.passes,
        "feed": _feed(feed),
        "lines": [line + 1 for line in feature.lines],
        "evidence": feature.evidence,
        "status": correction.status,
        "reason": correction.reason,
        "why": correction.why or None,
        "notes": list(feature.notes),
        "correction": _change(correction),
        **_target(correction),
    }


def _target(correction: Correction) -> dict[str, Any]:
    """What was asked for; nothing where nothing was."""
    target = correction.target
    if target is None:
        return {}
    share = correction.probability
    return {
        "target": {
            "diameter": _round(target.diameter),
            "lower": _round(target.lower),
            "upper": _round(target.upper),
            "class": target.fit,
            "nominal": _round(target.nominal),
        },
        "probability": None if share is None else round(share, _DIGITS),
        "ovality": _round(correction.ovality),
        "doubt": correction.doubt or None,
    }


def _tool(correction: Correction, moves: Moves) -> dict[str, Any]:
    cutter = correction.feature.cutter
    number = moves.sections[correction.feature.wall.section].tool if moves.sections else None
    if cutter is None:
        return {"number": number, "diameter": None}
    return {
        "number": number if cutter.number is None else cutter.number,
        "diameter": _round(cutter.diameter),
    }


def _feed(feed: WallFeed | None) -> dict[str, Any] | None:
    """Programmed feed of the last wall pass and that of the cutter's edge; null where not per minute."""
    if feed is None or feed.programmed is None:
        return None
    return {"programmed": _round(feed.programmed), "edge": _round(feed.edge)}


def _change(correction: Correction) -> dict[str, Any] | None:
    if correction.change is None:
        return None
    return {
        "diameter": _round(correction.change),
        "corrected_diameter": _round(correction.corrected),
        "corrected_path_diameter": _round(correction.corrected_path),
        "expected_error": _round(correction.expected_error),
        "expanded_uncertainty": _round(correction.uncertainty),
        "condition": correction.condition,
        "basis": correction.basis,
    }


_PAIRS = {
    "centre": ("centre_1", "centre_2"),
    "z": ("z_high", "z_low"),
    "lines": ("first_line", "last_line"),
}
_CHANGES = {
    "diameter": "correction",
    "corrected_diameter": "corrected_diameter",
    "corrected_path_diameter": "corrected_path_diameter",
    "expected_error": "expected_error",
    "expanded_uncertainty": "expanded_uncertainty",
    "condition": "condition",
    "basis": "basis",
}
_TARGETS = {
    "diameter": "target",
    "lower": "target_lower",
    "upper": "target_upper",
    "class": "target_class",
    "nominal": "target_nominal",
}
COLUMNS = (
    *("id", "side", "plane", "frame", "centre_1", "centre_2", "z_high", "z_low"),
    *("tool_number", "tool_diameter", "path_diameter", "diameter", "turn", "cut", "form", "passes"),
    *("feed", "edge_feed", "first_line", "last_line", "evidence", "status", "reason", "why", "notes"),
    *_CHANGES.values(),
    *(*_TARGETS.values(), "probability", "ovality", "doubt"),
)


def _flat(feature: dict[str, Any]) -> dict[str, Any]:
    """One feature as a row: pairs split, lists joined, nulls empty."""
    row = dict(feature)
    for key, names in _PAIRS.items():
        row |= zip(names, row.pop(key) or (None, None), strict=True)
    row |= {f"tool_{key}": value for key, value in row.pop("tool").items()}
    feed = row.pop("feed") or {}
    row |= {"feed": feed.get("programmed"), "edge_feed": feed.get("edge")}
    row["form"] = " ".join(row["form"])
    row["notes"] = "; ".join(row["notes"])
    change = row.pop("correction") or {}
    target = row.pop("target", None) or {}
    row |= {name: change.get(key) for key, name in _CHANGES.items()}
    return row | {name: target.get(key) for key, name in _TARGETS.items()}

"""The listing for people: 80 columns of plain text in the program's own units."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from os.path import basename
from textwrap import wrap
from typing import TYPE_CHECKING, Literal

from msgspec import Struct

from roundwright.plan.plan import Correction, Target, WallFeed
from roundwright.report.listing import unread_ranges
from roundwright.report.ruler import Ruler

if TYPE_CHECKING:
    from roundwright.pipeline import Outcome

Units = Literal["mm", "in"]
WIDTH = 80
_INDENT = " " * 5
_UNREAD_SHOWN = 8
_HEAD = ("id", "side", "diameter", "centre", "tool", "cut", "change", "new", "status")
#: columns of figures, which stand on the right.
RIGHT = {"diameter", "centre", "change", "new"}
_SHORT = {"conventional": "conv.", "unknown": "?"}


class ListingParts(Struct, frozen=True):
    """The listing in pieces: a row of cells for each feature, and what is to be said below each row."""

    title: list[str]
    head: tuple[str, ...]
    rows: list[tuple[str, ...]]
    below: list[list[str]]
    rest: list[str]


def listing_text(outcome: Outcome, units: Units | None = None) -> str:
    """The listing as lines of at most 80 columns; in the program's units where none are asked for."""
    parts = listing_parts(outcome, units)
    lines = list(parts.title)
    if parts.rows:
        lines += ["", *_features(parts)]
    return "\n".join([*lines, *parts.rest]) + "\n"


def listing_parts(outcome: Outcome, units: Units | None = None) -> ListingParts:
    """The pieces of the listing; in the program's units where none are asked for."""
    inch = outcome.moves.inch if units is None else units == "in"
    ruler = Ruler(inch)
    corrections = outcome.plan.corrections
    said: dict[tuple[str | None, str], str] = {}
    rest: list[str] = []
    if corrections:
        rest = [*_bases(corrections, ruler), *_targets(corrections, ruler)]
        rest += [*_feeds(outcome.plan.feeds, ruler), *_sides(outcome)]
    return ListingParts(
        title=_title(outcome, inch),
        head=_HEAD,
        rows=[_row(correction, outcome, ruler) for correction in corrections],
        below=[_below(correction, said, ruler) for correction in corrections],
        rest=[*rest, "", *_totals(outcome)],
    )


def _title(outcome: Outcome, inch: bool) -> list[str]:
    program = outcome.program
    parts = [f"{basename(program.name)}: {count(program.lines, 'line')}"]
    if outcome.stamped:
        parts.append("already corrected")
    if outcome.table is None:
        parts.append("no table")
    else:
        parts.append(f"table {outcome.table.name}")
        if outcome.material:
            parts.append(outcome.material)
    parts.append("lengths in inches" if inch else "lengths in mm")
    return _wrapped(", ".join(parts), "")


def _features(parts: ListingParts) -> list[str]:
    """The table of features, with what is to be said of each one below it."""
    widths = [max(len(row[k]) for row in (_HEAD, *parts.rows)) for k in range(len(_HEAD))]
    lines = _fitted(_HEAD, widths)
    for row, texts in zip(parts.rows, parts.below, strict=True):
        lines += _fitted(row, widths)
        lines += [line for text in texts for line in _wrapped(text, _INDENT)]
    return lines


def _fitted(row: Iterable[str], widths: list[int]) -> list[str]:
    """A row in columns; one that is wider than the page (huge numbers) goes on below."""
    cells = (
        cell.rjust(width) if name in RIGHT else cell.ljust(width)
        for name, cell, width in zip(_HEAD, row, widths, strict=True)
    )
    line = " ".join(cells).rstrip()
    return [line] if len(line) <= WIDTH else wrap(line, WIDTH, subsequent_indent=_INDENT)


def _row(correction: Correction, outcome: Outcome, ruler: Ruler) -> tuple[str, ...]:
    feature = correction.feature
    centre = " ".join(ruler(x) for x in feature.wall.centre) if feature.wall.known else "not known"
    applied = correction.status == "corrected"
    return (
        feature.id,
        feature.side if feature.side != "unknown" else "?",
        ruler(feature.diameter),
        centre,
        tool_name(correction, outcome),
        _SHORT.get(feature.cut, feature.cut),
        ruler(correction.change, "+") if applied else "-",
        ruler(correction.corrected) if applied else "-",
        correction.status.replace("-", " "),
    )


def tool_name(correction: Correction, outcome: Outcome) -> str:
    """T and number, else the beginning of the tool's name."""
    cutter, section = correction.feature.cutter, correction.feature.wall.section
    number = cutter.number if cutter else outcome.moves.sections[section].tool
    if number is not None:
        return f"T{number}"
    return cutter.name[:6].rstrip() if cutter else "?"


def _below(correction: Correction, said: dict[tuple[str | None, str], str], ruler: Ruler) -> list[str]:
    """Why a feature was left alone, once for all that share the reason, and its notes."""
    texts = []
    if correction.reason is not None:
        key = correction.reason, correction.why
        before = said.setdefault(key, correction.feature.id)
        new = before == correction.feature.id
        texts.append(f"{correction.reason}: {correction.why}" if new else f"{correction.reason}, as {before}")
    texts += [f"note: {note}" for note in notes_of(correction, ruler)]
    return texts


def notes_of(correction: Correction, ruler: Ruler) -> list[str]:
    """The feature's notes, and that it is on size only because the table lets a small error be."""
    notes = list(correction.feature.notes)
    small = ruler(correction.change, "+")
    if correction.status == "on-size" and float(small) != 0.0:
        notes.append(f"stays as programmed, for a correction of {small} {ruler.unit} is within the deadband")
    return notes


def _bases(corrections: Sequence[Correction], ruler: Ruler) -> list[str]:
    """Where the corrections come from, and how far the next cut may stray, features with one base joined."""
    groups: dict[str, dict[str, list[str]]] = {}
    for correction in corrections:
        if correction.condition is None or correction.status == "left-alone":
            continue
        if correction.uncertainty is None:
            spread = "spread not known, no repeated cuts"
        else:
            spread = f"next cut within +/-{ruler(correction.uncertainty)} {ruler.unit} (95 %)"
        basis = f"{correction.basis or 'readings'}; {spread}"
        groups.setdefault(correction.condition, {}).setdefault(basis, []).append(correction.feature.id)
    lines: list[str] = []
    for condition, bases in groups.items():
        lines += ["", *_wrapped(f"From the readings of {condition}:", "")]
        for basis, ids in bases.items():
            lines += _wrapped(f"{' '.join(ids)}: {basis}", _INDENT)
    return lines


def _targets(corrections: Sequence[Correction], ruler: Ruler) -> list[str]:
    """What was aimed at instead of the programmed diameter, and whether the next cut lies within."""
    groups: dict[str, list[str]] = {}
    for correction in corrections:
        if correction.target is not None and correction.status != "left-alone":
            groups.setdefault(aim_text(correction, correction.target, ruler), []).append(
                correction.feature.id
            )
    lines = ["", "Aimed at:"] if groups else []
    for aim, ids in groups.items():
        lines += _wrapped(f"{' '.join(ids)}: {aim}", _INDENT)
    return lines


def aim_text(correction: Correction, target: Target, ruler: Ruler) -> str:
    """What was aimed at, and how likely the next cut lies within."""
    text = ruler.fine(target.diameter)
    if target.lower is None or target.upper is None:
        return f"{text} {ruler.unit}"
    text += f", the middle of {target.fit} of {ruler.fine(target.nominal or 0.0)}"
    text += f" ({ruler.fine(target.lower)} to {ruler.fine(target.upper)} {ruler.unit}); "
    if correction.probability is None:
        return f"{text}how likely it lies within cannot be told: {correction.doubt}"
    text += f"{_likely(correction.probability)} likely that smallest and largest diameter lie within"
    if correction.ovality is not None:
        text += f", each {ruler.fine(correction.ovality)} from the mean"
    return f"{text}; {correction.doubt}" if correction.doubt else text


def _likely(probability: float) -> str:
    """In per cent, and never certain."""
    if not 0.01 <= probability <= 0.99:
        return "over 99 %" if probability > 0.5 else "under 1 %"
    return f"{100 * probability:.0f} %"


def _feeds(feeds: Mapping[str, WallFeed], ruler: Ruler) -> list[str]:
    """The programmed feed of walls beside that at the cutter's edge, features with the same ones joined."""
    groups: dict[str, list[str]] = {}
    for feature, feed in feeds.items():
        if feed.programmed is not None and feed.edge is not None:
            text = f"{ruler.feed(feed.programmed)} programmed, {ruler.feed(feed.edge)} at the edge"
            groups.setdefault(text, []).append(feature)
    lines = ["", f"Feeds in {ruler.unit}/min, for information:"] if groups else []
    for text, ids in groups.items():
        lines += _wrapped(f"{' '.join(ids)}: {text}", _INDENT)
    return lines


def _sides(outcome: Outcome) -> list[str]:
    """How hole is told from boss, features with one evidence joined, and how arc centres were read."""
    groups: dict[str, list[str]] = {}
    for correction in outcome.plan.corrections:
        if correction.feature.side != "unknown":
            groups.setdefault(correction.feature.evidence, []).append(correction.feature.id)
    lines = ["", "How the sides are known:"] if groups else []
    for evidence, ids in groups.items():
        lines += _wrapped(f"{' '.join(ids)}: {evidence}", _INDENT)
    return [*lines, "", *_wrapped(f"{outcome.moves.arc_centres}.", "")]


def _totals(outcome: Outcome) -> list[str]:
    corrections = outcome.plan.corrections
    lines = _wrapped(verdict(corrections), "")
    ranges = unread_ranges(outcome.program.unread)
    for block in ranges[:_UNREAD_SHOWN]:
        first, last = block["lines"]
        where = f"line {first}" if first == last else f"lines {first} to {last}"
        lines.append(f"not read: {where} ({block['reason']})")
    if len(ranges) > _UNREAD_SHOWN:
        lines.append(f"not read: {len(ranges) - _UNREAD_SHOWN} more, all in --format json")
    if outcome.warnings:
        lines.append(count(len(outcome.warnings), "warning"))
    return lines


def verdict(corrections: Sequence[Correction]) -> str:
    """How many features, what became of them, and why some were left alone."""
    if not corrections:
        return "No circular feature found."
    counts = Counter(correction.status for correction in corrections)
    text = (
        f"{count(len(corrections), 'circular feature')}: {counts['corrected']} corrected, "
        f"{counts['on-size']} on size, {counts['left-alone']} left alone"
    )
    reasons = Counter(correction.reason for correction in corrections if correction.reason)
    why = ", ".join(f"{count} {reason}" for reason, count in sorted(reasons.items()))
    return f"{text} ({why})." if why else f"{text}."


def count(number: int, thing: str, ending: str = "s") -> str:
    """So many things; `ending` makes more than one of them."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}{ending}"


def _wrapped(text: str, indent: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "  ", break_on_hyphens=False)

"""Whether readings hold for a job: feed and speed that they were cut with, and what the cutter measures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from roundwright.calibration import Condition, Table
from roundwright.calibration.question import far_off
from roundwright.plan.plan import Correction, WallFeed
from roundwright.plan.request import Request
from roundwright.units import MICROMETRE, native

#: a tool's diameter explains an error where it leaves no more than this share of it.
_MOST_LEFT = 0.5
#: where no uncertainty is known, no more than this.
_MOST_LEFT_UNSURE = 0.25
_NAMED = 6


def context_warnings(
    corrections: Sequence[Correction], feeds: Mapping[str, WallFeed], request: Request
) -> tuple[str, ...]:
    """What a job does otherwise than the readings that it uses, features of one difference joined.

    Feed and speed are those of the last wall pass at full depth (`feeds`, by feature id), held against the
    condition's where it states them. Where the tool's measured diameter explains the error that is
    corrected, that is said too.
    """
    table = request.table
    if table is None:
        return ()
    conditions = {condition.label: condition for condition in table.conditions}
    features: dict[str, list[str]] = {}
    for correction in corrections:
        condition = conditions.get(correction.condition or "")
        if condition is None or correction.status == "left-alone":
            continue
        for text in _differences(correction, feeds[correction.feature.id], condition, table, request):
            features.setdefault(text, []).append(correction.feature.id)
    return tuple(f"{_names(ids)}: {text}" for text, ids in features.items())


def _differences(
    correction: Correction, cut: WallFeed, condition: Condition, table: Table, request: Request
) -> Iterator[str]:
    if far_off(cut.programmed, condition.feed):
        here, there = (_feed(feed or 0.0, request.inch) for feed in (cut.programmed, condition.feed))
        yield (
            f"the wall is cut at a feed of {here}, the readings of {condition.label} were at {there}: they "
            "may not hold here; cut a test piece at this feed, or program theirs"
        )
    if far_off(cut.speed, condition.speed):
        yield (
            f"the spindle turns at {cut.speed:.0f}/min, for the readings of {condition.label} it was "
            f"{condition.speed:.0f}/min: they may not hold here; cut a test piece, or program theirs"
        )
    yield from _explained(correction, condition, table, request)


def _explained(correction: Correction, condition: Condition, table: Table, request: Request) -> Iterator[str]:
    """A cutter that is smaller than programs assume makes holes smaller by as much, and bosses larger."""
    tool = None if condition.tool is None else table.tool(condition.tool)
    error = correction.expected_error
    if tool is None or tool.measured is None or error is None or correction.feature.side == "groove":
        return
    explained = (tool.measured - tool.diameter) * (1.0 if correction.feature.side == "hole" else -1.0)
    share = _MOST_LEFT if correction.uncertainty is not None else _MOST_LEFT_UNSURE
    room = share * abs(error)
    if correction.uncertainty is not None:
        room = min(room, correction.uncertainty)
    if abs(explained) > MICROMETRE and abs(error - explained) <= room:
        yield (
            f"the tool measures {request.length(tool.measured)} where programs assume "
            f"{request.length(tool.diameter)}, and that explains the error; the correction takes it, but "
            "programs made for the measured diameter would need less"
        )


def _feed(feed: float, inch: bool) -> str:
    return f"{native(feed, inch=True):.1f} in/min" if inch else f"{feed:.0f} mm/min"


def _names(ids: Sequence[str]) -> str:
    more = len(ids) - _NAMED
    return ", ".join(ids) if more <= 1 else f"{', '.join(ids[:_NAMED])} and {more} more"

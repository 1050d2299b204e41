"""The trace of a program: modes, rows, frames, positions, arcs, in this order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.read import read_program
from roundwright.read.program import Program
from roundwright.read.seal import checksum, sealed
from roundwright.settings import ArcCentres
from roundwright.trace.arc import (
    ArcWords,
    WrittenArcs,
    arc_warnings,
    arc_words,
    doubt_default,
    judged_centres,
    plain_arcs,
    trace_arcs,
)
from roundwright.trace.block import Blocks, executed_blocks
from roundwright.trace.frame import trace_frames
from roundwright.trace.modal import Modes, filled, g_words, modes_of
from roundwright.trace.mode import Verdict
from roundwright.trace.moves import Arcs, Moves
from roundwright.trace.row import Rows, axis_words, moving_rows, row_warnings, simple_rows
from roundwright.trace.section import trace_sections
from roundwright.trace.state import states_of
from roundwright.trace.travel import Travel, decimals_of, plainly_read, travel_of
from roundwright.trace.unread import unread_blocks


def trace_moves(program: Program, arc_centres: ArcCentres = "auto") -> Moves:
    """Follow a program block by block: where the tool goes, in which state, along which arcs.

    `arc_centres` says how I J K are meant where no G90.1 or G91.1 does. Raises ProgramError where arcs
    contradict each other in that, where numbers have an implied decimal point, or lead over 10 km away.
    Where straight moves were set apart that mean something else here, the program is read again.
    """
    moves = _followed(program, arc_centres)
    return trace_moves(read_program(program.data, program.name), arc_centres) if moves is None else moves


def _followed(program: Program, arc_centres: ArcCentres) -> Moves | None:
    """The moves; None where straight moves that were set apart are no plain ones."""
    blocks = executed_blocks(program)
    axes = axis_words(blocks)
    words = g_words(blocks, axes.named != 0)
    unread = unread_blocks(blocks, axes.worded)
    modes = modes_of(blocks, words, unread.setting)
    rows = plain_arcs(blocks, moving_rows(blocks, axes, words, modes, unread), modes)
    if program.straights and not plainly_read(program.straights, rows, modes):
        return None
    frames = trace_frames(blocks, words, modes, rows.first_line(program.lines))
    travel = travel_of(blocks, rows, modes, frames.jumps)
    decimals, finest = decimals_of(blocks, axes, rows)
    sections, section_track = trace_sections(blocks, modes, rows, unread.changing)
    state, states = states_of(modes, rows, axes, frames, section_track)
    arcs, verdict = _arcs(blocks, rows, modes, travel, decimals, arc_centres)
    moves = Moves(
        program=program.source(),
        line=rows.line,
        motion=rows.motion,
        start=travel.start,
        end=travel.end,
        start_known=travel.start_known,
        end_known=travel.end_known,
        state=state,
        feed=filled(blocks, "F", rows.line),
        speed=filled(blocks, "S", rows.line),
        decimals=decimals,
        simple=simple_rows(blocks, words, modes, rows),
        arcs=arcs,
        states=states,
        frames=frames.labels,
        sections=sections,
        finest=finest,
        arc_centres=verdict.said,
        absolute_centres=verdict.absolute,
        odd_centres=verdict.odd,
        warnings=row_warnings(blocks, axes, words, modes, rows) + verdict.warnings,
    )
    return replace(sealed(moves), seal=checksum(moves))


def _arcs(
    blocks: Blocks, rows: Rows, modes: Modes, travel: Travel, decimals: NDArray[np.int8], option: ArcCentres
) -> tuple[Arcs, Verdict]:
    """The arcs, portion by portion, and how their centres were read, for which all must be seen first."""
    written = WrittenArcs.of(blocks, rows, modes)
    parts = list(written.portions())

    def said() -> Iterator[ArcWords]:
        return (arc_words(written, part, rows, travel, decimals) for part in parts)

    few = list(said()) if len(parts) == 1 else None
    verdict = judged_centres(blocks.program, few or said(), modes.arc_distance, option)
    if verdict.default:
        doubt_default(blocks.program, few or said(), travel, modes.arc_distance)
    parted = (trace_arcs(words, modes.arc_distance.at(words.line), verdict) for words in few or said())
    arcs = _joined(parted, parts)
    return sealed(arcs), replace(verdict, warnings=verdict.warnings + arc_warnings(arcs, rows))


def _joined(arcs: Iterable[Arcs], parts: Sequence[slice]) -> Arcs:
    """These arcs, which stand in these parts of all."""
    columns: dict[str, NDArray[Any]] = {}
    for one, part in zip(arcs, parts, strict=True):
        for name in Arcs.__struct_fields__:
            some = getattr(one, name)
            if name not in columns:
                columns[name] = np.empty((parts[-1].stop, *some.shape[1:]), some.dtype)
            columns[name][part] = some
    return Arcs(**columns)

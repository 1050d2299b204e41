"""The rewriter: from moves and a plan to the corrected bytes, block by block where the plan touches them."""

from __future__ import annotations

from itertools import chain, pairwise

import numpy as np
from numpy.typing import NDArray

from roundwright.errors import CannotWrite
from roundwright.plan.plan import Plan
from roundwright.rewrite.block import Writer
from roundwright.rewrite.column import write_columns
from roundwright.rewrite.edit import Edit, Edits, apply_edits, checksum_edits
from roundwright.rewrite.number import habit_of
from roundwright.rewrite.position import solve
from roundwright.rewrite.round import fineness_of
from roundwright.rewrite.run import Runs, runs_of
from roundwright.rewrite.stamp import stamp_edit
from roundwright.trace.moves import Moves

Flags = NDArray[np.bool_]


def rewrite_program(moves: Moves, plan: Plan) -> bytes:
    """The program with every planned end and circle written, everything else byte for byte as it was.

    Raises CannotWrite with the rows of moves that the control's decimals or the program's form do not
    let be written.
    """
    program = moves.program
    edits = [_edits(moves, plan)] if plan.ends or plan.arcs else []
    if plan.stamp is not None:
        edits.append(Edits.of([stamp_edit(program, plan.stamp)]))
    return apply_edits(program.data, Edits.joined(edits).in_order()) if edits else program.data


def _edits(moves: Moves, plan: Plan) -> Edits:
    """The edits that write every planned end and circle. What they were worked out from ends with them."""
    fineness = fineness_of(plan.decimals, moves.finest)
    solution = solve(moves, plan, fineness)
    habit = habit_of(moves.program.manner, moves.finest)
    runs = runs_of(moves, solution)
    columns = write_columns(moves, solution, fineness, habit, runs)
    kept, by_row = _walk(moves, runs, columns.easy, Writer(moves, solution, fineness, habit))
    odd = sorted(chain.from_iterable(by_row.values()))
    edits = Edits.joined([columns.of(kept), Edits.of(odd)])
    rows = np.sort(
        np.concatenate((runs.row[columns.block[kept[columns.block]]], list(by_row))).astype(np.int64)
    )

    def row_of(line: int) -> int:
        """The last row of a changed line."""
        return int(rows[moves.line[rows].searchsorted(line, side="right") - 1])

    return Edits.joined([edits, Edits.of(checksum_edits(moves.program, edits, row_of))])


def _walk(moves: Moves, runs: Runs, easy: Flags, writer: Writer) -> tuple[Flags, dict[int, list[Edit]]]:
    """Which blocks (s,) are as the columns write them, and the edits, by row, of all others of the runs.

    And of those after a run until the path has rejoined. Of a steady run only what is hard is written here,
    unless a run before it reaches into it.
    """
    edits: dict[int, list[Edit]] = {}
    kept = np.zeros(len(runs.row), np.bool_)
    begins, steady = runs.begins.tolist(), runs.steady.tolist()
    whole = (runs.steady & np.logical_and.reduceat(easy, runs.begins[:-1])).tolist()
    following = 0
    for run, (first, stop) in enumerate(pairwise(begins)):
        apart = steady[run] and following <= runs.row[first]
        if apart and whole[run]:
            kept[first:stop] = True
            continue
        for block in range(first, stop):
            row = max(int(runs.row[block]), following)
            if apart and easy[block]:
                kept[block] = True
                continue
            if apart or row == runs.row[first]:
                x, y, z = (runs.start[block] - runs.was_start[block]).tolist()
                writer.stand(row, (x, y, z))
            while row < len(moves) and (row <= runs.row[block] or (writer.displaced and not apart)):
                edits[row] = _written(moves, writer, row)
                row += 1
            if not apart:
                following = row
    return kept, {row: written for row, written in edits.items() if written}


def _written(moves: Moves, writer: Writer, row: int) -> list[Edit]:
    try:
        return writer.write(row)
    except CannotWrite as refusal:
        rows = tuple(sorted({*refusal.rows, writer.origin}))
        raise CannotWrite(refusal.what, rows=rows, cure=refusal.cure) from refusal

"""The rewriter: from moves and a plan to the corrected bytes, block by block where the plan touches them."""

from __future__ import annotations

from itertools import chain, pairwise

from roundwright.errors import CannotWrite
from roundwright.plan.plan import Plan
from roundwright.rewrite.block import Writer
from roundwright.rewrite.column import Columns, write_columns
from roundwright.rewrite.edit import Edit, apply_edits, checksum_edits
from roundwright.rewrite.number import habit_of
from roundwright.rewrite.position import solve
from roundwright.rewrite.round import fineness_of
from roundwright.rewrite.run import Runs, runs_of
from roundwright.rewrite.stamp import stamp_edit
from roundwright.trace.moves import Moves


def rewrite_program(moves: Moves, plan: Plan) -> bytes:
    """The program with every planned end and circle written, everything else byte for byte as it was.

    Raises CannotWrite with the rows of moves that the control's decimals or the program's form do not
    let be written.
    """
    program = moves.program
    edits = _edits(moves, plan) if plan.ends or plan.arcs else []
    if plan.stamp is not None:
        edits.append(stamp_edit(program, plan.stamp))
    return apply_edits(program.data, edits) if edits else program.data


def _edits(moves: Moves, plan: Plan) -> list[Edit]:
    """The edits that write every planned end and circle. What they were worked out from ends with them."""
    fineness = fineness_of(plan.decimals, moves.finest)
    solution = solve(moves, plan, fineness)
    habit = habit_of(moves.program.manner, moves.finest)
    runs = runs_of(moves, plan, solution)
    columns = write_columns(moves, solution, fineness, habit, runs)
    by_row = _walk(moves, runs, columns, Writer(moves, plan, solution, fineness, habit))
    edits = list(chain.from_iterable(by_row.values()))
    edits += checksum_edits(moves.program, edits, {int(moves.line[row]): row for row in by_row})
    return edits


def _walk(moves: Moves, runs: Runs, columns: Columns, writer: Writer) -> dict[int, list[Edit]]:
    """The edits, by row, of every block of the runs, and of those after them until the path has rejoined.

    Of a steady run only what is hard is written here, unless a run before it reaches into it.
    """
    edits: dict[int, list[Edit]] = {}
    begins, rows, steady = runs.begins.tolist(), runs.row.tolist(), runs.steady.tolist()
    offset, easy = (runs.start - runs.was_start).tolist(), columns.easy.tolist()
    following = 0
    for run, (first, stop) in enumerate(pairwise(begins)):
        apart = steady[run] and following <= rows[first]
        for block in range(first, stop):
            row = max(rows[block], following)
            if apart and easy[block]:
                edits[row] = columns.edits.get(block, [])
                continue
            if apart or row == rows[first]:
                writer.stand(row, tuple(offset[block]))
            while row < len(moves) and (row <= rows[block] or (writer.displaced and not apart)):
                edits[row] = _written(moves, writer, row)
                row += 1
            if not apart:
                following = row
    return {row: written for row, written in edits.items() if written}


def _written(moves: Moves, writer: Writer, row: int) -> list[Edit]:
    try:
        return writer.write(row)
    except CannotWrite as refusal:
        rows = tuple(sorted({*refusal.rows, writer.origin}))
        raise CannotWrite(refusal.what, rows=rows, cure=refusal.cure) from refusal

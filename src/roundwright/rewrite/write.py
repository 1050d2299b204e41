"""The rewriter: from moves and a plan to the corrected bytes, block by block where the plan touches them."""

from __future__ import annotations

from collections.abc import Iterator

from roundwright.errors import CannotWrite
from roundwright.plan.plan import Plan
from roundwright.rewrite.block import Writer
from roundwright.rewrite.edit import Edit, apply_edits, checksum_edits
from roundwright.rewrite.number import habit_of
from roundwright.rewrite.position import solve
from roundwright.rewrite.round import fineness_of
from roundwright.rewrite.stamp import stamp_edit
from roundwright.trace.moves import Moves


def rewrite_program(moves: Moves, plan: Plan) -> bytes:
    """The program with every planned end and circle written, everything else byte for byte as it was.

    Raises CannotWrite with the rows of moves that the control's decimals or the program's form do not
    let be written.
    """
    program = moves.program
    edits: list[Edit] = []
    if plan.ends or plan.arcs:
        fineness = fineness_of(plan.decimals, moves.finest)
        solution = solve(moves, plan, fineness)
        writer = Writer(moves, plan, solution, fineness, habit_of(program.manner, moves.finest))
        edits += _walk(moves, plan, writer)
        rows = {int(moves.line[row]): row for row in writer.changed}
        edits += checksum_edits(program, edits, rows)
    if plan.stamp is not None:
        edits.append(stamp_edit(program, plan.stamp))
    return apply_edits(program.data, edits) if edits else program.data


def _walk(moves: Moves, plan: Plan, writer: Writer) -> Iterator[Edit]:
    """The edits of every planned row, and of the rows after it until the path has rejoined."""
    seeds = sorted({*plan.ends, *plan.arcs, *(row + 1 for row in plan.ends)})
    following = 0
    for seed in seeds:
        row = max(seed, following)
        while row < len(moves) and (row <= seed or writer.displaced):
            yield from _written(moves, writer, row)
            row += 1
        following = row


def _written(moves: Moves, writer: Writer, row: int) -> list[Edit]:
    try:
        return writer.write(row)
    except CannotWrite as refusal:
        rows = tuple(sorted({*refusal.rows, writer.origin}))
        raise CannotWrite(refusal.what, rows=rows, cure=refusal.cure) from refusal

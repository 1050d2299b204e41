"""The proof takes the old program as it was traced: what has been changed since in any way is refused.

Every way that Python has short of writing to raw memory: setting the columns writeable again, putting others
in their place, and handing over a copy with something else in it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
import pytest
from msgspec import Struct
from msgspec.structs import force_setattr, replace

from proof_pairs import ADDED, INCH_HALVES, INCREMENTAL, PANEL, TIMED, Pair
from roundwright.errors import ProofError
from roundwright.prove import prove_program
from roundwright.read.seal import checksum
from roundwright.trace import Moves
from roundwright.units import GRAIN

Spoil = Callable[[Struct, str], None]


def places(moves: Moves) -> Iterator[tuple[str, Struct, str]]:
    """Every field of the moves, of their arcs and of their program: a name, its holder and the field."""
    for label, holder in (("", moves), ("arcs.", moves.arcs), ("program.", moves.program)):
        for name in holder.__struct_fields__:
            if not isinstance(getattr(holder, name), Struct):
                yield label + name, holder, name


PLACES = [name for name, _, _ in places(PANEL.moves())]
COLUMNS = [
    name for name, holder, field in places(PANEL.moves()) if isinstance(getattr(holder, field), np.ndarray)
]


def other(value: object) -> object:
    """Another value of the same kind: of an array a copy whose last number is another."""
    if isinstance(value, np.ndarray):
        copy = value.copy()
        last = copy.reshape(-1)[-1:]
        if last.dtype.kind == "f":  # to the next number that there is
            last[:] = np.nextafter(np.nan_to_num(last), np.inf, dtype=last.dtype)
        else:
            last[:] = ~last if last.dtype.kind == "b" else last + 1
        return copy
    if isinstance(value, bytes):
        return value[:-1] + b"?" if value else b"?"
    if isinstance(value, str):
        return value + "?"
    if isinstance(value, int):
        return value + 1
    if isinstance(value, tuple):
        return (*value, value[-1]) if value else ("?",)
    if isinstance(value, Struct):
        name = value.__struct_fields__[0]
        return replace(value, **{name: other(getattr(value, name))})
    raise AssertionError(value)


def put_in_place(holder: Struct, name: str) -> None:
    force_setattr(holder, name, other(getattr(holder, name)))


def written_to(holder: Struct, name: str) -> None:
    column = getattr(holder, name)
    column.setflags(write=True)
    column[...] = other(column)


def written_through_its_memory(holder: Struct, name: str) -> None:
    column = getattr(holder, name)
    column.setflags(write=True)
    parts = [column, column[:1]] if column.ndim == 1 else [*column, *column.T]  # where it lies in one piece
    memory = memoryview(next(part for part in reversed(parts) if part.flags.contiguous)).cast("B")
    memory[-1] ^= 1


def two_rows_swapped(holder: Struct, name: str) -> None:
    column = getattr(holder, name)
    column.setflags(write=True)
    k = next(k for k in range(1, len(column)) if column[k].tobytes() != column[0].tobytes())
    column[[0, k]] = column[[k, 0]]


def another_type(holder: Struct, name: str) -> None:
    column = getattr(holder, name)
    kind = f"V{column.dtype.itemsize}"
    force_setattr(holder, name, column.view(kind))


def cut_short(holder: Struct, name: str) -> None:
    force_setattr(holder, name, getattr(holder, name)[:-1])


def refused(pair: Pair, moves: Moves) -> None:
    with pytest.raises(ProofError, match="the old program as traced"):
        prove_program(
            moves,
            pair.new,
            pair.plan(),
            arc_centres="auto",
            again=pair.finder(),
            stamped=pair.stamp is not None,
        )


@pytest.mark.parametrize("name", PLACES)
def test_another_value_in_place_of_any_field(name: str) -> None:
    moves = PANEL.moves()
    spoil(moves, name, put_in_place)
    refused(PANEL, moves)


@pytest.mark.parametrize("name", COLUMNS)
@pytest.mark.parametrize("way", [written_to, written_through_its_memory, another_type, cut_short])
def test_no_column_may_be_another(name: str, way: Spoil) -> None:
    moves = TIMED.moves()
    spoil(moves, name, way)
    refused(TIMED, moves)


@pytest.mark.parametrize(
    "name", ["line", "motion", "end", "feed", "arcs.radius", "arcs.centre", "program.line_start"]
)
def test_rows_in_another_order(name: str) -> None:
    moves = PANEL.moves()
    spoil(moves, name, two_rows_swapped)
    refused(PANEL, moves)


def test_a_copy_with_other_ends() -> None:
    moves = PANEL.moves()
    refused(PANEL, replace(moves, end=moves.end + 1))
    refused(PANEL, replace(moves, arcs=replace(moves.arcs, radius=moves.arcs.radius + 1e-9)))
    refused(PANEL, replace(moves, program=replace(moves.program, data=PANEL.new)))


def test_moves_that_were_never_traced() -> None:
    moves = PANEL.moves()
    refused(PANEL, replace(moves, seal=0))


def test_a_column_that_looks_the_same_is_the_same() -> None:
    """The proof asks for what the columns hold, not for which ones they are."""
    moves = PANEL.moves()
    copy = replace(moves, end=moves.end.copy("K"), arcs=replace(moves.arcs, radius=moves.arcs.radius.copy()))
    prove = partial(prove_program, arc_centres="auto", again=PANEL.finder())
    prove(copy, PANEL.new, PANEL.plan())


def spoil(moves: Moves, name: str, way: Spoil) -> None:
    holder, field = next((holder, field) for label, holder, field in places(moves) if label == name)
    before = getattr(holder, field)
    before = before.tobytes() if isinstance(before, np.ndarray) else before
    way(holder, field)
    after = getattr(holder, field)
    assert isinstance(after, np.ndarray) or after != before


@pytest.mark.parametrize("pair", [PANEL, INCH_HALVES, INCREMENTAL, ADDED], ids=lambda pair: pair.name)
@pytest.mark.parametrize("off", [1e-4, 25.4])
def test_what_the_trace_has_got_wrong_itself_is_seen_by_the_second_reader(pair: Pair, off: float) -> None:
    """An end or a circle of a line that changes, with a seal that agrees: only the line's own words tell."""
    moves = pair.moves()
    row = pair.features()[0].wall.rows[0]
    k = int(np.searchsorted(moves.arcs.row, row))
    end, centre, radius = moves.end.copy("K"), moves.arcs.centre.copy(), moves.arcs.radius.copy()
    end[row, 0] += round(off / GRAIN)
    centre[k, 0] += off
    radius[k] += off
    arcs = replace(moves.arcs, radius=radius) if moves.arcs.r_form[k] else replace(moves.arcs, centre=centre)
    for wrong in (replace(moves, end=end), replace(moves, arcs=arcs)):
        with pytest.raises(ProofError, match=r"mm as written, .* mm as traced"):
            prove_program(
                replace(wrong, seal=checksum(wrong)),
                pair.new,
                pair.plan(),
                arc_centres="auto",
                again=pair.finder(),
                stamped=pair.stamp is not None,
            )

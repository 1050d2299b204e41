"""No text makes the trace fail with anything but a ProgramError, and its columns stay in step."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.errors import ProgramError
from roundwright.read import read_program
from roundwright.trace import trace_moves

PLAIN = "0 1 2 3 4 5 6 10 12 13 16 17 18 20 28 30 43 50 51 52 53 54 55 65 66 68 73 74 80 81"
STRANGE = "90 91 90.1 91.1 92 92.1 92.3 98 99 54.1 5.1 #1 [2] - 1e5 999999999999 -.5 0.25"
number = st.one_of(
    st.sampled_from(PLAIN.split()), st.sampled_from(STRANGE.split()), st.integers(-20, 200).map(str)
)
word = st.tuples(st.sampled_from("GGGGMMXYZIJKRPLTFSNHDABCEUO/#%[]();:=Q"), number).map("".join)
text = st.lists(st.lists(word, max_size=5).map(" ".join), max_size=25).map("\n".join)


@settings(max_examples=300, deadline=None)
@given(text, st.sampled_from(["auto", "incremental", "absolute"]))
def test_any_text_is_traced_or_refused(text: str, arc_centres) -> None:
    program = read_program(text.encode(), "soup.nc")
    try:
        moves = trace_moves(program, arc_centres)
    except ProgramError as refused:
        assert refused.place is not None
        return
    count = len(moves)
    assert (np.diff(moves.line) > 0).all()
    assert moves.start.shape == moves.end.shape == (count, 3)
    assert {len(c) for c in (moves.motion, moves.start_known, moves.end_known, moves.state, moves.feed)} == {
        count
    }
    assert np.isin(moves.state, np.arange(len(moves.states))).all()
    assert all(state.frame < len(moves.frames) for state in moves.states)
    assert all(state.section < len(moves.sections) for state in moves.states)
    arcs = moves.arcs
    assert arcs.row.tolist() == np.flatnonzero((moves.motion == 2) | (moves.motion == 3)).tolist()
    sound = arcs.fault == 0
    assert np.isfinite(arcs.centre[sound]).all()
    assert (arcs.radius[sound] > 0).all()
    assert (np.sign(arcs.sweep[sound]) == np.where(moves.motion[arcs.row[sound]] == 3, 1, -1)).all()

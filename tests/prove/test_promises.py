"""What the proof demands of plan and finder: bytes and plan that agree with each other are not enough."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from proof_pairs import ADDED, PAIRS, PANEL, Pair, changed, row_of, summed
from roundwright.errors import ProgramError, ProofError
from roundwright.find import Feature
from roundwright.plan.plan import ArcTarget, Correction, Plan
from roundwright.prove import PROMISES, prove_program
from roundwright.prove.stamp import says_corrected
from roundwright.read import read_program
from roundwright.rewrite import find_stamp
from roundwright.trace import Moves


def refused(pair: Pair, what: str, *, new: bytes | None = None, plan: Plan | None = None) -> None:
    with pytest.raises(ProofError, match=what) as refusal:
        pair.prove(new, plan)
    assert "Nothing of it is handed out" in str(refusal.value)


def proved_with(pair: Pair, edit: Callable[[Feature], Feature | None]) -> None:
    """Prove the pair with a finder whose features are edited, or dropped."""

    def again(moves: Moves) -> tuple[Feature, ...]:
        edited = (edit(feature) for feature in pair.finder()(moves))
        return tuple(feature for feature in edited if feature is not None)

    stamped = pair.stamp is not None
    prove_program(pair.moves(), pair.new, pair.plan(), arc_centres="auto", again=again, stamped=stamped)


def corrected(plan: Plan, **changes: float) -> Plan:
    """The plan with other figures for C1."""
    return replace(plan, corrections=(replace(plan.corrections[0], **changes), *plan.corrections[1:]))


def test_every_promise_is_a_sentence_of_its_own() -> None:
    assert len({promise.sentence for promise in PROMISES}) == len(PROMISES) >= 10


@pytest.mark.parametrize("pair", PAIRS, ids=[pair.name for pair in PAIRS])
def test_a_finder_that_sees_the_plan_is_content(pair: Pair) -> None:
    proved_with(pair, lambda feature: feature)


def test_a_program_that_changes_says_so_unless_nobody_wants_it() -> None:
    prove = partial(prove_program, arc_centres="auto", again=ADDED.finder())
    prove(ADDED.moves(), ADDED.new, ADDED.plan(), stamped=False)
    with pytest.raises(ProofError, match="nothing says that the program is corrected"):
        prove(ADDED.moves(), ADDED.new, ADDED.plan())


@pytest.mark.parametrize(
    "stamp",
    ["Roundwright: corrected", "corrected by roundwright", "(roundwright: corrected)", "round wright", "-"],
)
def test_a_stamp_that_a_second_run_would_not_see(stamp: str) -> None:
    line = PANEL.new.splitlines()[2]
    new = PANEL.new.replace(line, b"(%s)" % stamp.replace("(", "[").replace(")", "]").encode())
    refused(PANEL, "a second run would not see it", new=new, plan=replace(PANEL.plan(), stamp=stamp))


@given(
    st.tuples(
        *(st.sampled_from([b"", b" ", b"(", b")", b";", b"\t"]) for _ in range(3)),
        st.sampled_from([b"roundwright", b"Roundwright", b"roundwrigh", b"x"]),
        *(st.sampled_from([b"", b" 1", b"(", b")", b";"]) for _ in range(2)),
        st.sampled_from([b"", b"\n", b"\r\n"]),
    ).map(b"".join)
)
def test_the_proof_sees_a_stamp_where_a_second_run_does(line: bytes) -> None:
    """Two readers that share nothing: where the proof's own is content, a second run refuses the program."""
    if says_corrected(line):
        assert find_stamp(read_program(b"%\n" + line, "again.nc")) is not None


def test_a_path_diameter_that_the_diameter_does_not_ask_for() -> None:
    plan = PANEL.plan()
    assert plan.corrections[0].corrected is not None
    wrong = corrected(plan, corrected=plan.corrections[0].corrected - 4 * PANEL.growth)
    refused(PANEL, "radius that its diameter asks for", plan=wrong)


def test_a_radius_that_is_off_the_plan_by_more_than_the_tolerance() -> None:
    """1 µm in a millimetre program: half of it passes, twice does not."""
    plan = PANEL.plan()
    one = plan.corrections[0]
    assert one.corrected is not None and one.corrected_path is not None and one.change is not None
    for off, passes in ((0.5e-3, True), (2e-3, False)):
        shifted = corrected(
            plan,
            corrected=one.corrected + 2 * off,
            corrected_path=one.corrected_path + 2 * off,
            change=one.change + 2 * off,
        )
        if passes:
            PANEL.prove(plan=shifted)
        else:
            refused(PANEL, "the planned circles", plan=shifted)


def test_a_lead_that_goes_far_away_as_planned() -> None:
    moves = PANEL.moves()
    plan = PANEL.plan()
    rows = {row_of(moves, 26): (25.0, 25.0, -3.0), row_of(moves, 27): (25.0, 25.0, 20.0)}
    far = replace(plan, ends={**plan.ends, **rows})
    refused(PANEL, "an end to move by", new=PANEL.new.replace(b"Y20.", b"Y25.000"), plan=far)


def test_a_depth_that_goes_deeper_as_planned() -> None:
    moves = PANEL.moves()
    plan = PANEL.plan()
    deep = {row: (x, y, z - 0.5) for row, (x, y, z) in plan.ends.items()}
    plan = replace(plan, ends={**deep, row_of(moves, 12): (50.0, 40.0, -3.5)})
    new = changed(PANEL.new, {9: (b" F1800", b" Z-3.500 F1800")})
    refused(PANEL, "an end to move by", new=new, plan=plan)


def test_a_feature_left_alone_that_changes_as_planned() -> None:
    moves = PANEL.moves()
    plan = PANEL.plan()
    rows = {row_of(moves, 18): (84.567, 40.0, -3.0), row_of(moves, 19): (84.567, 40.0, -3.0)}
    arc = ArcTarget((80.0, 40.0), 4.567)
    plan = replace(plan, ends={**plan.ends, **rows}, arcs={**plan.arcs, row_of(moves, 19): arc})
    new = changed(PANEL.new, {19: (b"X84.5", b"X84.567"), 20: (b"I-4.5", b"I-4.567")})
    refused(PANEL, "C2 was to be left as it is", new=new, plan=plan)


def test_a_corrected_feature_that_the_bytes_leave_alone() -> None:
    plan = PANEL.plan()
    second = plan.corrections[1].feature
    assert second.diameter is not None
    path = 2 * second.wall.radius + 0.1
    more = Correction(second, "corrected", change=0.1, corrected=second.diameter + 0.1, corrected_path=path)
    refused(PANEL, "C2: radius: expected", plan=replace(plan, corrections=(plan.corrections[0], more)))


@pytest.mark.parametrize(
    ("what", "edit"),
    [
        ("expected the features C1 C2, found C1", lambda f: f if f.id == "C1" else None),
        ("expected the features C1 C2, found C1 C3", lambda f: replace(f, id=f.id.replace("2", "3"))),
        ("expected a hole, found a boss", lambda f: replace(f, side="boss")),
        ("left by other moves", lambda f: replace(f, wall=replace(f.wall, rows=f.wall.rows[:-1]))),
        ("centre has moved", lambda f: replace(f, wall=replace(f.wall, centre=(50.01, 40.0)))),
        ("work offset", lambda f: replace(f, frame="G55")),
        ("C1: it could not be corrected", lambda f: replace(f, fault="cut-away", why="others cut it")),
        ("C1: expected the diameter 20.1340 mm, found 20.1400", lambda f: replace(f, diameter=20.14)),
        ("known in one program only", lambda f: replace(f, diameter=None)),
    ],
)
def test_what_is_found_again_must_be_as_planned(what: str, edit: Callable[[Feature], Feature | None]) -> None:
    with pytest.raises(ProofError, match=what):
        proved_with(PANEL, edit)


def test_a_left_feature_of_another_size() -> None:
    with pytest.raises(ProofError, match="C2: expected the diameter 15"):
        proved_with(PANEL, lambda f: replace(f, diameter=15.01) if f.id == "C2" else f)


def test_where_nothing_is_asked_for_the_same_bytes_are_proof_enough() -> None:
    def never(_: Moves) -> tuple[Feature, ...]:
        raise AssertionError("nobody need look for features again")

    moves, plan = PANEL.moves(), PANEL.plan()
    left = tuple(replace(one, status="left", reason="skipped", why="") for one in plan.corrections)
    nothing = replace(plan, corrections=left, ends={}, arcs={}, stamp=None)
    prove_program(moves, moves.program.data, nothing, arc_centres="auto", again=never)
    for asked in (replace(nothing, corrections=plan.corrections), replace(nothing, stamp="roundwright 1")):
        with pytest.raises((ProofError, AssertionError)):
            prove_program(moves, moves.program.data, asked, arc_centres="auto", again=never)
    other = moves.program.data.replace(b"M3", b"M4", 1)
    assert other != moves.program.data
    with pytest.raises(ProofError):
        prove_program(moves, other, nothing, arc_centres="auto", again=never)


def test_a_finder_that_fails_is_a_broken_proof() -> None:
    def again(moves: Moves) -> tuple[Feature, ...]:
        raise ProgramError("nothing to be made of this")

    with pytest.raises(ProofError, match="can no longer be read: nothing to be made"):
        prove_program(PANEL.moves(), PANEL.new, PANEL.plan(), arc_centres="auto", again=again)


def test_an_unplanned_change_beside_a_planned_move_is_seen() -> None:
    """The line behind the ring may change, since its start has moved; its end may not."""
    refused(ADDED, "the end of a move", new=changed(ADDED.new, {8: (b"y40", b"y40.001")}))


def test_blocks_that_are_no_moves_never_change() -> None:
    old = b"G21 G90 G17\nG0 X50 Y40\nG0 Z5\nG1 Z-3 F400\nG1 X57\nG3 I-7\nG53 G0 Z0\nG1 X50\nM2\n"
    new = old.replace(b"X57", b"X57.067").replace(b"I-7", b"I-7.067")
    pair = Pair(
        "fixed.nc",
        old,
        new,
        walls={"C1": ((6,), (50.0, 40.0), 7.0)},
        growth=0.067,
        ends={5: (57.067, 40, -3), 6: (57.067, 40, -3), 7: (57.067, 40, -3)},
    )
    pair.prove()
    refused(pair, "no plain move", new=changed(new, {7: (b"Z0", b"Z0.1")}))


def test_blocks_of_a_sticky_canned_cycle_never_change() -> None:
    old = b"G21 G90 G17\nG0 X50 Y40\nG0 Z5\nG1 Z-3 F400\nG1 X57\nG3 I-7\nG81 X50 Y40 Z-3 R2\nX60\nG80\nM2\n"
    new = old.replace(b"X57", b"X57.067").replace(b"I-7", b"I-7.067")
    pair = Pair(
        "drilled.nc",
        old,
        new,
        walls={"C1": ((6,), (50.0, 40.0), 7.0)},
        growth=0.067,
        ends={5: (57.067, 40, -3), 6: (57.067, 40, -3)},
    )
    pair.prove()
    refused(pair, "canned cycle", new=changed(new, {7: (b"R2", b"R2.5")}))
    ends = {**pair.plan().ends, row_of(pair.moves(), 8): (60.05, 40.0, -3.0)}
    refused(
        pair,
        "canned cycle",
        new=changed(new, {8: (b"X60", b"X60.050")}),
        plan=replace(pair.plan(), ends=ends),
    )


def test_checksums_of_unchanged_lines_stay_even_if_wrong() -> None:
    old = summed(b"G21 G90 G17\nG0 X50 Y40\nG0 Z5\nG1 Z-3 F400\nG1 X57\nG3 I-7\nG1 X50\nM2\n")
    wrong = old.replace(old.splitlines()[2], b"G0 Z5*1")
    changes = {b"G1 X57": b"G1 X57.067", b"G3 I-7": b"G3 I-7.067"}
    lines = [line.partition(b"*")[0] for line in old.splitlines()]
    new = summed(b"\n".join(changes.get(line, line) for line in lines))
    pair = Pair(
        "sums.nc",
        wrong,
        new.replace(new.splitlines()[2], b"G0 Z5*1"),
        walls={"C1": ((6,), (50.0, 40.0), 7.0)},
        growth=0.067,
        ends={5: (57.067, 40, -3), 6: (57.067, 40, -3)},
    )
    pair.prove()
    refused(pair, "no move of this line is planned", new=new)


def test_behind_a_home_the_way_counts_not_the_number() -> None:
    """Where the position is unknown its number still hangs on the ring's last point."""
    old = b"G21 G90 G17\nG0 X57 Y40\nG0 Z5\nG1 Z-3 F400\nG3 I-7\nG0 Z5\nG28\nG91\nG0 X5\nG90\nG0 X1 Y1\nM2\n"
    new = old.replace(b"X57", b"X57.067").replace(b"I-7", b"I-7.067")
    x, y = 57.067, 40
    pair = Pair(
        "home.nc",
        old,
        new,
        walls={"C1": ((5,), (50.0, 40.0), 7.0)},
        growth=0.067,
        ends={2: (x, y, 0), 3: (x, y, 5), 4: (x, y, -3), 5: (x, y, -3), 6: (x, y, 5)},
    )
    pair.prove()
    refused(pair, "no move of this line is planned", new=changed(new, {9: (b"X5", b"X5.1")}))


def test_arcs_left_coarse_are_no_worse_than_they_were() -> None:
    """The fillet's radii differ by 0.01 mm in two decimals; the bore beside it gets three."""
    old = (
        b"G21 G90 G17\nG0 X50. Y40. Z5.\nG1 Z-3. F400\nX57.\nG3 I-7.\nG1 X50.\nG0 Z5.\nX10. Y10.\n"
        b"G1 Z-3.\nX20.01\nG3 X25.02 Y15. J5.\nG1 Y20.\nG0 Z5.\nM30\n"
    )
    pair = Pair(
        "coarse.nc",
        old,
        old.replace(b"X57.", b"X57.067").replace(b"I-7.", b"I-7.067"),
        walls={"C1": ((5,), (50.0, 40.0), 7.0)},
        growth=0.067,
        ends={4: (57.067, 40, -3), 5: (57.067, 40, -3)},
    )
    pair.prove()


def test_a_doubt_that_names_a_line_moves_with_the_stamp() -> None:
    bore = b"G21 G90 G17\nG0 X50. Y40. Z5.\nG1 Z-3. F400\nX57.\nG3 I-7.\nG1 X50.\nG0 Z5.\n"
    old = bore + b"M0\nG1 Z-1.\nX9.\nM30\n"
    new = old.replace(b"X57.", b"X57.067").replace(b"I-7.", b"I-7.067")
    pair = Pair(
        "stop.nc",
        old,
        b"(roundwright)\n" + new,
        walls={"C1": ((5,), (50.0, 40.0), 7.0)},
        growth=0.067,
        ends={4: (57.067, 40, -3), 5: (57.067, 40, -3)},
        stamp="roundwright",
    )
    assert pair.moves().sections[1].doubtful
    pair.prove()


def test_the_f_of_a_rapid_is_no_time_and_stays() -> None:
    """In G93 the F of a corrected cut is rescaled; that of the rapid beside it, which travels too, is not."""
    old = b"G21 G90 G17\nM3 S9000\nG0 Z5\nG93\nG0 X57 Y40 F7\nG1 Z-3 F60\nG2 I-7 F20\nG94\nG0 Z5\nM30\n"
    new = old.replace(b"X57", b"X57.067").replace(b"I-7 F20", b"I-7.067 F19.810")
    pair = Pair(
        "rapid.nc",
        old,
        new,
        walls={"C1": ((7,), (50.0, 40.0), 7.0)},
        growth=0.067,
        ends={row: (57.067, 40, z) for row, z in ((5, 5), (6, -3), (7, -3), (9, 5))},
    )
    pair.prove()
    refused(pair, "expected F7 unchanged", new=changed(new, {5: (b"F7", b"F70.")}))

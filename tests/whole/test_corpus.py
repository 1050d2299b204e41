"""The main job over a folder of real programs, held against what their authors state of them.

Prints one figure: how many programs, features, corrected, left alone by reason, refused. Skips where the
folder is absent. `corpus_labels.toml` holds the labels, read by hand; nothing of the programs is here.
"""

import sys
from collections import Counter
from math import hypot

import pytest
from msgspec.structs import replace

import corpus
from roundwright.find import find_features
from roundwright.pipeline import correct
from roundwright.read import read_program
from roundwright.tooling import cutters_of
from roundwright.trace import trace_moves

pytestmark = corpus.needed

LABELS = corpus.LABELS
ENTRIES = list(corpus.entries().values())
#: programs that hold no hole or boss: any circle listed must have one of these reasons.
NEGATIVE = {
    "009-rectpocket-square.nc": {"cut-away"},  # full circles that rough out a square pocket
    "011-rectprofile.nc": set(),
    "118-rcorners.nc": set(),
    "120-corner-incremental.nc": set(),
    "122-planes.nc": set(),
    "133-g13-cycle.nc": set(),  # the circle is hidden in one cycle word
    "138-macro-helix.nc": set(),
    "166-pcb-probe-ocalls.ngc": set(),
    "177-3dp-spiral-lift.gcode": {"unsupported-mode"},  # printing, not cutting
    "192-g12-custom.nc": set(),
    "206-scaled-expressions.ngc": set(),
    "220-chord-frame.nc": set(),
    "222-lathe-oword.ngc": set(),
}
#: inch programs that do not say so; a table in millimetres must not touch them.
REFUSED = {"076-absij-hole.ngc", "083-ij-before-xy.ngc"}


run = corpus.corrected


@pytest.mark.parametrize("name", [entry.path.name for entry in ENTRIES])
def test_output_is_proven_or_the_refusal_says_why(name):
    """`correct` proves what it hands out; here its output is found again, feature by feature."""
    done = run(name)
    if done.refusal is not None:
        assert done.refusal.what and done.refusal.cure
        return
    assert done.outcome.output is not None
    for c in done.outcome.plan.corrections:
        assert c.status == "corrected" or c.status == "on-size" or (c.reason and c.why)
    _found_again(done)


@pytest.mark.parametrize("name", [e.path.name for e in ENTRIES if e.path.stat().st_size < 20_000])
def test_the_dry_run_says_what_the_run_does(name):
    done = run(name)
    dry = corpus.run(done.entry, dry=True)
    assert str(dry.refusal) == str(done.refusal)
    if done.refusal is not None:
        assert done.entry.path.name in REFUSED
        return
    assert dry.outcome.output is None
    assert dry.outcome.plan.corrections == done.outcome.plan.corrections


def _found_again(done):
    corrections = done.outcome.plan.corrections
    moves = trace_moves(read_program(done.outcome.output, "again.nc"))
    inch = corpus.inch_of(done.entry.path)
    settings, table = corpus.settings_for(done.entry), corpus.table_for(done.entry)
    found = find_features(moves, cutters_of(moves.sections, table, settings), table.machine, settings)
    fine = 2 * (2.6e-3 if inch else 1e-3)
    for c in corrections:
        if c.status != "corrected":
            continue
        old = c.feature
        near = [f for f in found if f.wall.frame == old.wall.frame and f.side == old.side]
        near = [f for f in near if f.diameter is not None and abs(f.diameter - c.corrected) <= fine]
        apart = [hypot(*(a - b for a, b in zip(f.wall.centre, old.wall.centre, strict=True))) for f in near]
        assert apart and min(apart) <= fine, (done.entry.path.name, old.id, c.corrected)


@pytest.mark.parametrize("name", sorted({label["file"] for label in LABELS}))
def test_what_the_author_states_is_what_is_found(name):
    """0 wrong sides, 0 wrong diameters: a circle is what it is stated to be, or left alone as said."""
    done = run(name)
    assert done.refusal is None
    k = 25.4 if corpus.inch_of(done.entry.path) else 1.0
    features = [c.feature for c in done.outcome.plan.corrections]
    for label in (one for one in LABELS if one["file"] == name):
        here = [
            f
            for f in features
            if hypot(*(a / k - b for a, b in zip(f.wall.centre, label["centre"], strict=True))) < 2e-3
        ]
        if "left" in label:
            match = [f for f in here if abs(f.wall.radius / k - label["path"]) < 1e-3]
            assert [(f.side, f.fault) for f in match] == [("unknown", label["left"])], label
            continue
        sized = [
            f
            for f in here
            if f.diameter is not None and abs(f.diameter / k - label["diameter"]) <= 0.002 / min(k, 10)
        ]
        assert [(f.side, f.fault) for f in sized] == [(label["side"], "")], (label, here)


def test_a_said_cut_settles_what_the_path_leaves_open():
    """A disc with a hole, both entered on the ring; climb cut, as the turns say: 60 inside, 100 outside."""
    entry = next(e for e in ENTRIES if e.path.name == "070-disc-ring.nc")
    settings = replace(corpus.settings_for(entry), cut="climb")
    out = correct(entry.path.read_bytes(), entry.path.name, corpus.table_for(entry), settings)
    assert [(c.feature.side, round(c.feature.diameter, 3)) for c in out.plan.corrections] == [
        ("hole", 60.0),
        ("boss", 100.0),
    ]


@pytest.mark.parametrize("name", sorted(NEGATIVE))
def test_programs_without_a_hole_or_boss_have_none(name):
    done = run(name)
    assert done.refusal is None
    assert {c.reason for c in done.outcome.plan.corrections} <= NEGATIVE[name]


def test_the_figure(capsys):
    """How many of everything; the labels are at least as many as promised."""
    counts: Counter[str] = Counter()
    for entry in ENTRIES:
        done = run(entry.path.name)
        counts["programs"] += 1
        counts["refused"] += done.refusal is not None
        for c in done.outcome.plan.corrections if done.outcome else ():
            counts["features"] += 1
            counts[c.status if c.reason is None else c.reason] += 1
    with capsys.disabled():
        print(
            "\ncorpus:", ", ".join(f"{count} {what}" for what, count in counts.most_common()), file=sys.stderr
        )
    assert counts["programs"] == len(ENTRIES) and len(LABELS) >= 40
    assert counts["corrected"] >= 150

"""The labels of the real programs, checked by a reader that shares nothing with the project.

Whoever wrote a label might have taken its size from the tool's own output. Here the plain interpreter of
`sweep.py` follows each program, and the cutters are those of the folder's list: round each label's centre
there must be arcs, all the way round, whose path makes the stated diameter with one of them.
"""

from math import hypot, pi

import pytest

import corpus
import sweep

pytestmark = corpus.needed

LABELS = corpus.LABELS


@pytest.fixture
def plain(monkeypatch):
    """The plain interpreter, deaf to codes that change neither units, motion nor centres."""
    corpus.hear_only(monkeypatch, {0, 1, 2, 3, 20, 21, 90, 91, 90.1, 91.1})
    return sweep.cuts_of


def turned(cuts, label, cutter, unit):
    """How far round (radians) arcs go whose path leaves the label's diameter."""
    sign = 1 if label["side"] == "hole" else -1
    total = 0.0
    for cut in cuts:
        off = hypot(*(a / unit - b for a, b in zip(cut.centre, label["centre"], strict=True)))
        if cut.sweep and off < 5e-3:
            radius = hypot(cut.start[0] - cut.centre[0], cut.start[1] - cut.centre[1])
            if abs((2 * radius + sign * cutter) / unit - label["diameter"]) < 5e-3:
                total += abs(cut.sweep)
    return total


@pytest.mark.parametrize("name", sorted({label["file"] for label in LABELS}))
def test_every_stated_size_is_in_the_program_itself(name, plain):
    entry = corpus.entries()[name]
    cuts = plain(entry.path.read_text("latin-1"))
    unit = 25.4 if corpus.inch_of(entry.path) else 1.0
    for label in (one for one in LABELS if one["file"] == name):
        most = max(turned(cuts, label, cutter, unit) for cutter in entry.tools.values())
        assert most > 2 * pi - 0.05, label

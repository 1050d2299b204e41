"""Every witness of a circle's side alone, and with every other: they agree, or nobody is believed.

6 mm cutter, clockwise spindle, a 20 mm path run counter-clockwise.
"""

from itertools import product

import pytest

from roundwright.find import find_features
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

HEAD = "G21 G90 G17\nM3 S16000\nG0 Z5\n"
SIX = Cutter("six", 6.0, 1)
SIDES = ("", "hole", "boss")
AT = {"hole": 12, "boss": 25}


def found(body, **settings):
    moves = trace_moves(read_program((HEAD + body).encode(), "witness.nc"))
    cutters = dict.fromkeys(range(len(moves.sections)), SIX)
    features = find_features(moves, cutters, Machine(), Settings(**settings))
    return next(f for f in features if f.wall.radius == 20)


def circle(lead_in="", lead_out="", compensation=""):
    text = f"G0 X{AT.get(lead_in, 20)} Y0\nG1 Z-3 F200\n"
    on = {"hole": "G41 D1", "boss": "G42 D1"}.get(compensation, "")
    if lead_in:
        text += f"{on} G1 X20 F600\n"
    elif on:
        text += f"{on}\n"
    text += "G3 I-20 F600\n"
    off = "G40 " if on else ""
    text += f"{off}G1 X{AT[lead_out]}\n" if lead_out else f"{off}\n"
    return text + "G0 Z5\n"


def cleared(side, path=20):
    """Rings that clear for a wall whose cutter runs on a circle of radius `path`."""
    inside, outside = (2, 6, 10, path - 6, path - 3.1), (path + 3.1, path + 8, path + 13, path + 18)
    rings = {"hole": inside, "boss": outside}.get(side, ())
    text = "".join(f"G0 X{r} Y0\nG1 Z-3 F200\nG3 I-{r} F600\nG0 Z5\n" for r in rings)
    if side == "boss":  # the edge of the stock: nothing is left outside
        text += "G0 X43 Y43\nG1 Z-3\nG1 X-43\nY-43\nX43\nY43\nG0 Z5\n"
    return text


def expected(*said):
    sides = {side for side in said if side}
    return sides.pop() if len(sides) == 1 else "unknown"


@pytest.mark.parametrize(("comp", "into", "out"), list(product(SIDES, SIDES, SIDES)))
def test_compensation_and_leads(comp, into, out):
    feature = found(circle(into, out, comp))
    assert feature.side == expected(comp, into, out)
    if feature.side == "unknown":
        assert feature.fault == "side-unknown" and "--side" in feature.why


@pytest.mark.parametrize(("clear", "into", "out"), list(product(SIDES, SIDES, SIDES)))
def test_clearing_and_leads(clear, into, out):
    feature = found(cleared(clear) + circle(into, out))
    assert feature.side == expected(clear, into, out)
    if len({clear, into, out} - {""}) == 2:  # both are named
        assert feature.fault == "side-unknown"
        assert "says hole" in feature.why and "says boss" in feature.why


#: where the cutter's centre runs beside a contour of 20 that is a hole or a boss.
BESIDE = {"": 20, "hole": 17, "boss": 23}


@pytest.mark.parametrize(("comp", "clear"), list(product(SIDES, SIDES)))
def test_compensation_and_clearing(comp, clear):
    feature = found(cleared(clear, BESIDE[comp]) + circle(compensation=comp))
    assert feature.side == expected(comp, clear)
    if comp and clear and comp != clear:  # both are named
        assert feature.fault == "side-unknown"
        assert "compensation" in feature.why and "cleared by other cuts" in feature.why
        assert "says hole" in feature.why and "says boss" in feature.why
    elif comp and clear:
        assert "compensation" in feature.evidence and "cleared by other cuts" in feature.evidence
        assert feature.diameter == 40


@pytest.mark.parametrize("said", ["hole", "boss", "groove"])
@pytest.mark.parametrize("into", SIDES)
def test_a_bare_side_fills_silence_only(said, into):
    assert found(circle(into), side=said).side == (into or said)


@pytest.mark.parametrize(("said", "side"), [("climb", "hole"), ("conventional", "boss")])
@pytest.mark.parametrize("into", SIDES)
def test_a_cut_fills_silence_only_and_comes_before_a_bare_side(said, side, into):
    other = "boss" if side == "hole" else "hole"
    assert found(circle(into), cut=said, side=other).side == (into or side)


@pytest.mark.parametrize("said", ["hole", "boss", "groove"])
@pytest.mark.parametrize(("into", "out"), list(product(SIDES, SIDES)))
def test_a_side_by_id_overrides_everything(said, into, out):
    assert found(circle(into, out), sides={"C1": said}).side == said


def test_fillers_never_settle_a_contradiction():
    body = circle("hole", "boss")
    assert found(body, side="hole", cut="climb").side == "unknown"


def test_the_evidence_is_in_words():
    both = found(circle("hole", "hole"))
    assert both.evidence == "lead-in from inside; lead-out to the inside"
    assert found(circle(), side="boss").evidence == "nothing in the path tells; boss taken as said"

"""The same numbers in another frame, plane or unit get the same corrections, each in a frame of its own."""

import re

import pytest
from msgspec.structs import replace

from cases import Case, all_cases
from exact_positions import decimal, words
from known_truth import table_for
from plates import TOOL, Plate, draw
from roundwright.pipeline import Outcome, correct
from roundwright.settings import Settings

TABLE = table_for({1: TOOL}, (-0.3, -0.2, -0.25))
HEAD, TAIL = 4, 2  # lines of a drawn plate before and after its body


def run(lines: list[str]) -> Outcome:
    return correct(
        ("\n".join(lines) + "\n").encode(), "p.nc", TABLE, Settings(again=True, stamp=False, limit=5.0)
    )


def written(outcome: Outcome) -> list[str]:
    return outcome.output.decode().splitlines()


def verdicts(outcome: Outcome) -> list[tuple]:
    return [
        (c.status, c.reason, c.feature.side, round(c.feature.diameter, 9), round(c.corrected or 0.0, 9))
        for c in outcome.plan.corrections
    ]


def plate(seed: int) -> Plate:
    return draw(seed, lambda rng: rng.choice([0.1, 0.5, 1.0, 3.0]))


#: what moves or renames the coordinates; after each the body gives both its axes again.
CHANGES = {
    "another offset": ["G55"],
    "an offset of a higher number": ["G59.1"],
    "a further offset by P": ["G54.1 P7"],
    "a local shift": ["G52 X120 Y0"],
    "a datum set here": ["G92 X3 Y4"],
    "a datum set here through the offset": ["G10 L20 P1 X0 Y0"],
    "an offset set anew": ["G10 L2 P1 X31.5 Y-20"],
    "a rotation": ["G68 X0 Y0 R37.5"],
    "an offset set anew, then entered": ["G10 L2 P3 X31.5 Y-20", "G56"],
}
#: what makes the position unknown and leaves the frame.
HOMES = {
    "home in increments": ["G91 G28 Z0", "G28 X0 Y0", "G90"],
    "home by a point": ["G28 Z20"],
    "second home": ["G30"],
    "machine coordinates": ["G53 G0 Z0", "G53 G0 X0 Y0"],
}


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("change", CHANGES)
def test_same_numbers_in_another_frame(seed, change):
    lines = plate(seed).lines
    base = run([*lines, "G0 Z5", "M30"])
    body = lines[HEAD:]
    twice = run([*lines, "G0 Z5", *CHANGES[change], "G0 Z5", *body, "G0 Z5", "M30"])
    assert verdicts(twice) == verdicts(base) * 2
    frames = [c.feature.frame for c in twice.plan.corrections]
    count = len(base.plan.corrections)
    assert len(set(frames[:count])) == len(set(frames[count:])) == 1 and frames[0] != frames[-1]
    once, both = written(base), written(twice)
    assert both[: len(lines)] == once[: len(lines)]
    assert both[-len(body) - TAIL : -TAIL] == once[HEAD:-TAIL]
    changed = [c.strip() for c in CHANGES[change]]
    assert all(line in both for line in changed), "no word of such a block ever changes"


@pytest.mark.parametrize("change", HOMES)
def test_home_and_back_is_the_same_frame(change):
    """The second time over each circle is a spring pass of the first: one feature, corrected throughout."""
    lines = plate(2).lines
    base = run([*lines, "G0 Z5", "M30"])
    twice = run([*lines, "G0 Z5", *HOMES[change], "G0 Z5", *lines[HEAD:], "G0 Z5", "M30"])
    assert verdicts(twice) == verdicts(base)
    once, both = written(base), written(twice)
    assert both[: len(lines)] == once[: len(lines)]
    assert both[-len(lines) + HEAD - TAIL : -TAIL] == once[HEAD:-TAIL]


@pytest.mark.parametrize("at", [(17.25, -4.5), (-300.0, 0.0)])
@pytest.mark.parametrize("seed", range(3))
def test_a_datum_set_where_the_tool_stands_shifts_all_numbers(seed, at):
    """G92 at a known place: the numbers behind it are the old ones less one vector; so are the new."""
    lines = plate(seed).lines
    x, y = at
    base = written(run([*lines, "G0 Z5", "M30"]))
    body = [moved(line, -x, -y) for line in lines[HEAD:]]
    set_here = [f"G0 X{x} Y{y}", "G92 X0 Y0"]
    found = written(run([*lines[:HEAD], *set_here, *body, "G0 Z5", "M30"]))
    for got, want in zip(found[HEAD + 2 : -TAIL], base[HEAD:-TAIL], strict=True):
        assert words(got) == words(moved(want, -x, -y))


def moved(line: str, dx: float, dy: float) -> str:
    """A block with its X and Y words shifted, exactly."""
    said = dict(words(line))
    for letter, step in (("X", dx), ("Y", dy)):
        if letter in said:
            line = re.sub(rf"{letter}[-+.\d]+", f"{letter}{decimal(said[letter] + _exact(step))}", line)
    return line


def _exact(step: float):
    return words(f"X{step}")[0][1]


# ---- units ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_units_that_change_between_features(seed):
    """Every other cut is rewritten in inches, to five decimals: same sizes, same corrections."""
    lines = plate(seed).lines
    base = run([*lines, "G0 Z5", "M30"])
    out, inch = [], False
    for line in lines[HEAD:]:
        if line.startswith("G0 X"):
            inch = not inch
            out.append("G20" if inch else "G21")
        out.append(in_inches(line) if inch else line)
    mixed = run([*lines[:HEAD], *out, "G21", "G0 Z5", "M30"])
    assert [(c.status, c.feature.side) for c in mixed.plan.corrections] == [
        (c.status, c.feature.side) for c in base.plan.corrections
    ]
    for a, b in zip(base.plan.corrections, mixed.plan.corrections, strict=True):
        assert b.feature.diameter == pytest.approx(a.feature.diameter, abs=3e-3)
        assert b.feature.wall.centre == pytest.approx(a.feature.wall.centre, abs=2e-3)
        if a.status == "corrected":
            assert b.change == pytest.approx(a.change, abs=1e-5)


def in_inches(line: str) -> str:
    return re.sub(r"([XYZIJ])([-+.\d]+)", lambda m: f"{m[1]}{float(m[2]) / 25.4:.5f}", line)


# ---- upright planes ---------------------------------------------------------------------------------

#: spindle axis -> plane, and the letter that stands in it for each of the plane XY.
UPRIGHT = {
    "Y": ("18", dict(zip("XYZIJK", "ZXYKIJ", strict=True))),
    "X": ("19", dict(zip("XYZIJK", "YZXJKI", strict=True))),
}
#: a checksum is over the bytes; the plane of the others is the matter of the case.
LYING = ("checksums", "spindle-along-x", "spindle-along-y", "left-spindle-along-y", "left-upright-plane")
TURNED = [case for case in all_cases() if case.name not in LYING]


def upright(text: str, axis: str) -> str:
    """A program in XY as one in the plane square to `axis`: every letter replaced by that of its turn."""
    plane, letters = UPRIGHT[axis]

    def letter(found: re.Match) -> str:
        old = found[0]
        if len(old) > 1:  # a comment
            return old
        new = letters.get(old.upper(), old.upper())
        return new if old.isupper() else new.lower()

    text = re.sub(r"\([^)\n]*\)|;[^\n]*|[A-Za-z]", letter, text)
    return re.sub(r"([Gg])17(?!\d)", rf"\g<1>{plane}", text)


@pytest.mark.parametrize("axis", UPRIGHT)
@pytest.mark.parametrize("case", TURNED, ids=lambda case: case.name)
def test_a_spindle_along_another_axis(case: Case, axis):
    """The whole program turned, with the table's spindle: the output is the old one turned, word by word."""
    text = case.data.decode()
    turned = upright(text, axis)
    assert f"G{UPRIGHT[axis][0]}" in turned.upper()
    table = replace(case.table, machine=replace(case.table.machine, spindle_axis=axis))
    lying = case.correct(stamp=False, again=True)
    standing = correct(turned.encode(), "p.nc", table, case.settings(stamp=False, again=True))
    assert [(c.status, c.reason, c.feature.side) for c in standing.plan.corrections] == [
        (c.status, c.reason, c.feature.side) for c in lying.plan.corrections
    ]
    want = upright(lying.output.decode(), axis).splitlines()
    for a, b in zip(standing.output.decode().splitlines(), want, strict=True):
        assert sorted(words(a)) == sorted(words(b))


@pytest.mark.parametrize("axis", UPRIGHT)
def test_on_a_machine_whose_spindle_is_elsewhere_it_is_no_hole(axis):
    case = next(case for case in TURNED if case.name == "lead-line")
    outcome = case.correct(upright(case.data.decode(), axis).encode())
    assert {c.reason for c in outcome.plan.corrections} == {"unsupported-mode"}
    assert outcome.output == upright(case.data.decode(), axis).encode()

"""Shapely sweeps the cutter along the output path: what is left has the planned diameter.

Authority: the library shapely (GEOS) for the geometry of areas; the path is read by `tests/support/sweep.py`,
which shares nothing with the project.
"""

from itertools import pairwise

import pytest

from cases import all_cases
from roundwright.calibration import open_table
from roundwright.pipeline import correct
from roundwright.settings import Settings
from sweep import cuts_of, measure

pytestmark = pytest.mark.published

#: 2 µm on the diameter, and what the written decimals leave open (mm, radius).
TOLERANCE = {False: (0.002 + 0.001) / 2, True: (0.002 + 0.00254) / 2}
#: share of the wall that must be there where another cut, or a tab, takes the rest away.
PART = {
    ("keyhole", "C1"): 0.85,
    ("tabs", "C1"): 0.85,
    ("tabs-by-rapids", "C1"): 0.85,
    ("sample-jig-plate", "C5"): 0.9,
}

#: compensated paths are contours: the control, not the program, says where the cutter runs.
CONTOUR = ("compensated-hole",)
#: circles in other planes are turned word by word in test_frames.py.
UPRIGHT = ("spindle-along-x", "spindle-along-y")
CORRECTED = [case for case in all_cases() if not case.decoy and case.name not in CONTOUR + UPRIGHT]


@pytest.mark.parametrize("case", CORRECTED, ids=lambda case: case.name)
def test_what_the_cutter_leaves_has_the_planned_diameter(case):
    outcome = case.outcome
    cuts = cuts_of(outcome.output.decode())
    radii = {tool.number: tool.diameter / 2 for tool in case.table.tools}
    radii[0] = radii[1]  # a program without T words
    seen = 0
    for correction in outcome.plan.corrections:
        feature = correction.feature
        if feature.side == "groove" or correction.status != "corrected":
            continue
        inch = any(state.inch for state in outcome.moves.states)
        flats = feature.wall.over_flats  # chords: the diameter is that over the corners
        sagitta = 0.0 if flats is None else feature.wall.radius - flats
        wall = measure(
            cuts,
            radii,
            feature.wall.centre,
            correction.corrected,
            feature.wall.z[1],
            feature.frame[1:],
            TOLERANCE[inch] + sagitta,
        )
        assert wall.side == feature.side
        assert wall.stands >= PART.get((case.name, feature.id), 1.0), (feature.id, wall)
        seen += 1
    assert seen or case.name == "side-by-id"


def table(inch):
    """Errors that change with the diameter, hole and boss, climb and conventional alike."""
    unit, scale = ("in", 1 / 25.4) if inch else ("mm", 1.0)
    rows = {
        "hole": ((6.5, -0.081), (30, -0.137), (90, -0.377)),
        "boss": ((6.5, 0.063), (30, 0.117), (90, 0.291)),
    }
    text = f'schema = "roundwright.table/1"\n[machine]\nname = "m"\nunits = "{unit}"\n'
    text += f'[defaults]\nmaterial = "p"\ntool = 1\n[[tool]]\nnumber = 1\ndiameter = {6 * scale!r}\n'
    for side, errors in rows.items():
        text += f'[[condition]]\ntool = 1\nmaterial = "p"\nside = "{side}"\ncut = "any"\nreadings = [\n'
        for d, e in errors:
            text += f"{{ programmed = {d * scale!r}, diameter = {(d + e) * scale!r} }},\n"
        text += "]\n"
    return open_table(text)


def program(side, form, rho, inch, decimals):
    """One hole or boss at (40, 30) mm with a lead from the side that is cut away."""
    unit = 25.4 if inch else 1.0

    def n(mm):
        return f"{mm / unit:.{decimals}f}"

    cx, cy = 40.0, 30.0
    turn = "G3" if side == "hole" else "G2"
    far = cx if side == "hole" else cx + rho + 9
    quarter = [(0, 1), (-1, 0), (0, -1), (1, 0)] if turn == "G3" else [(0, -1), (-1, 0), (0, 1), (1, 0)]
    lines = [f"G{20 if inch else 21} G90 G17", "M3 S9000", f"G0 Z{n(5)}", f"G0 X{n(far)} Y{n(cy)}"]
    helix = form == "helix"
    lines += [f"G1 Z{n(0 if helix else -3)} F300", f"G1 X{n(cx + rho)}"]
    if helix:
        lines += [f"{turn} X{n(cx + rho)} Y{n(cy)} Z{n(z)} I{n(-rho)} J0" for z in (-1.5, -3)]
    if form in ("full", "helix"):
        lines += [f"{turn} X{n(cx + rho)} Y{n(cy)} I{n(-rho)} J0"]
    elif form == "halves":
        lines += [f"{turn} X{n(cx - rho)} I{n(-rho)}", f"{turn} X{n(cx + rho)} I{n(rho)}"]
    else:
        x, y = cx + rho, cy
        for ux, uy in quarter:
            nx, ny = cx + ux * rho, cy + uy * rho
            centre = f"R{n(rho)}" if form == "R quarters" else f"I{n(cx - x)} J{n(cy - y)}"
            lines += [f"{turn} X{n(nx)} Y{n(ny)} {centre}"]
            x, y = nx, ny
    return "\n".join([*lines, f"G1 X{n(far)}", f"G0 Z{n(5)}", "M30", ""]).encode()


@pytest.mark.parametrize("inch", [False, True], ids=["mm", "inch"])
@pytest.mark.parametrize("form", ["full", "helix", "halves", "quarters", "R quarters"])
@pytest.mark.parametrize(
    ("side", "rho"), [("hole", 2.25), ("hole", 11.3), ("hole", 37.0), ("boss", 13.0), ("boss", 31.7)]
)
def test_single_circle(side, rho, form, inch):
    rho = round(rho / 25.4, 3) * 25.4 if inch else rho
    data = program(side, form, rho, inch, 4 if inch else 2)
    known = table(inch)
    outcome = correct(data, "one.nc", known, Settings(again=True))
    (correction,) = outcome.plan.corrections
    assert (correction.status, correction.feature.side) == ("corrected", side), correction.why
    wall = measure(
        cuts_of(outcome.output.decode()),
        {0: 3.0},
        correction.feature.wall.centre,
        correction.corrected,
        -3.0,
        "54",
        TOLERANCE[inch],
    )
    assert (wall.stands, wall.side) == (1.0, side)
    drawn = 2 * rho + (6 if side == "hole" else -6)
    condition = known.condition(1, "p", side, "climb")
    nodes = [(r.programmed, r.error) for r in condition.readings]
    assert correction.corrected + line_through(nodes, correction.corrected) == pytest.approx(drawn, abs=2e-4)


def line_through(nodes, d):
    """The error between two readings, on the straight line between them."""
    for (a, ea), (b, eb) in pairwise(nodes):
        if a <= d <= b:
            return ea + (eb - ea) * (d - a) / (b - a)
    raise AssertionError("outside the readings")


def test_the_uncorrected_program_does_not_pass():
    data = program("hole", "full", 11.3, False, 2)
    outcome = correct(data, "one.nc", table(False), Settings())
    (correction,) = outcome.plan.corrections
    planned = correction.corrected
    wall = measure(cuts_of(data.decode()), {0: 3.0}, (40, 30), planned, -3.0, "54", TOLERANCE[False])
    assert wall.stands == 0.0

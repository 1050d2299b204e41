"""Uncertainty against the GUM (JCGM 100:2008) and texts that quote it.

Marks as in the design's list of references: [TEXT] read in a published text, [MEM] from memory and not
confirmed, [MEM+CALC] from memory, and computing it gives the printed result exactly.
"""

import csv
import math

import pytest
from scipy import stats

from roundwright.calibration.curve import Curve, Node
from roundwright.calibration.student import coverage_factor
from roundwright.calibration.uncertainty import (
    instrument_part,
    pooled_scatter,
    welch_satterthwaite,
    whole_freedom,
)
from roundwright.shared import shared_text

pytestmark = pytest.mark.published


def table_g2():
    lines = [
        row for row in shared_text("published", "gum-table-g2.csv").splitlines() if not row.startswith("#")
    ]
    for row in csv.DictReader(lines):
        freedom = float(row.pop("freedom"))
        for level, printed in row.items():
            yield freedom, float(level), printed


@pytest.mark.parametrize(("freedom", "percent", "printed"), list(table_g2()))
def test_table_g2(freedom, percent, printed):
    """[TEXT: a published calibration manual's copy of GUM table G.2.] To the decimals that are printed."""
    decimals = len(printed.partition(".")[2])
    sigmas = {68.27: 1, 95.45: 2, 99.73: 3}.get(percent)
    level = percent / 100 if sigmas is None else math.erf(sigmas / math.sqrt(2))
    assert f"{coverage_factor(freedom, level):.{decimals}f}" == printed


#: GUM 4.4.3, twenty readings of a temperature, °C [MEM+CALC: mean, s and u of the printed text come out].
TEMPERATURES = (
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
)  # fmt: skip


def node(errors, instruments=None):
    mean = math.fsum(errors) / len(errors)
    return Node(10.0, mean, tuple(errors), instruments or (None,) * len(errors))


def test_4_4_3_mean_and_scatter_of_twenty_readings():
    """GUM 4.4.3 [MEM+CALC]: mean 100.145, s 1.489, u of the mean 0.333, 19 degrees of freedom."""
    sample = node(TEMPERATURES)
    scatter = pooled_scatter((sample,))
    assert scatter is not None
    s, freedom = scatter
    assert round(sample.error, 3) == 100.145
    assert round(s, 3) == 1.489
    assert round(s / math.sqrt(sample.n), 3) == 0.333
    assert freedom == 19
    assert s == pytest.approx(stats.tstd(TEMPERATURES), abs=1e-10)


def test_4_4_5_a_limit_is_a_rectangle():
    """GUM 4.4.5 [MEM+CALC]: within plus or minus 4 gives u = 2.3."""
    one = node((0.0,), ("gauge",))
    found = instrument_part(Curve("c", "interpolate", False, (one,), ((10.0, 0.0),), {"gauge": 4.0}), (1.0,))
    assert found == pytest.approx(2.3094, abs=5e-5)


def test_g_4_1_effective_freedom():
    """GUM G.4.1 [MEM+CALC]: 0.25, 0.57, 0.82 % with 9, 4, 14: u 1.03 %, 19.0, t 2.09, U 2.2 %."""
    components = ((0.25, 9.0), (0.57, 4.0), (0.82, 14.0))
    effective = welch_satterthwaite(components)
    u = math.hypot(*(part for part, _ in components))
    assert round(u, 2) == 1.03
    assert effective == pytest.approx(18.9987, abs=5e-5)
    assert whole_freedom(effective) == 19
    assert round(coverage_factor(19.0), 2) == 2.09
    assert round(coverage_factor(whole_freedom(effective)) * u, 1) == 2.2


def test_h_1_6_end_gauge():
    """GUM H.1.6 [TEXT of the components: R documentation of metRology; MEM: U99 = 93 nm].

    Components 25, 9.7, 2.9, 16.6 nm with 18, 25.6, 50, 2 degrees of freedom: 16 effective, t99 = 2.92.
    """
    components = ((25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0))
    u = math.hypot(*(part for part, _ in components))
    effective = welch_satterthwaite(components)
    assert round(u) == 32
    assert effective == pytest.approx(16.75, abs=0.02)  # these components are rounded themselves
    assert whole_freedom(effective) == 16
    factor = coverage_factor(16.0, 0.99)
    assert round(factor, 2) == 2.92
    assert factor * u == pytest.approx(92.5, abs=0.05)
    assert math.ceil(factor * u) == 93


def test_h_1_rounding_u_first_would_give_another_freedom():
    """The trap in GUM H.1 [CALC]: with u rounded to 32 nm the formula gives 17.47."""
    parts = ((25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0))
    rounded = 32.0**4 / sum(part**4 / freedom for part, freedom in parts)
    assert rounded == pytest.approx(17.47, abs=5e-3)
    assert whole_freedom(rounded) != whole_freedom(welch_satterthwaite(parts))


def test_h_1_all_components():
    """GUM H.1 [TEXT: GTC documentation, GUM_H1.rst]: 25, 5.8, 3.9, 6.7, 2.88679, 16.599 nm: u 32 nm."""
    parts = ((25.0, 18.0), (5.8, 24.0), (3.9, 5.0), (6.7, 8.0), (2.88679, 50.0), (16.599, 2.0))
    assert round(math.hypot(*(part for part, _ in parts))) == 32


def test_a_published_manual_cuts_freedom_down():
    """A published calibration manual [TEXT]: effective freedom 5.2 gives k = 2.57, that of 5."""
    assert round(coverage_factor(whole_freedom(5.2)), 2) == 2.57

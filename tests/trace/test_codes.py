"""The table of G codes: the standard's own need no pygcode, and pygcode says of them what stands there."""

import subprocess
import sys

import numpy as np
import pytest
from pygcode import gcodes
from pygcode.words import Word

from roundwright.trace.codes import CODES, Act, code_table, tenths

SHORT = code_table(np.array([10]))
EVERY = np.arange(CODES)


#: NIST IR 6556, table 4: modal groups by number, but for group 0.
TABLE_4 = {
    1: (
        "G0",
        "G1",
        "G2",
        "G3",
        "G38.2",
        "G80",
        "G81",
        "G82",
        "G83",
        "G84",
        "G85",
        "G86",
        "G87",
        "G88",
        "G89",
    ),
    2: ("G17", "G18", "G19"),
    3: ("G90", "G91"),
    5: ("G93", "G94"),
    6: ("G20", "G21"),
    7: ("G40", "G41", "G42"),
    8: ("G43", "G49"),
    10: ("G98", "G99"),
    12: ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"),
    13: ("G61", "G61.1", "G64"),
}
#: what pygcode sees otherwise, or leaves out.
NOT_PYGCODE = ("G38.2", "G80", "G84", "G86", "G87", "G88")


@pytest.mark.published
@pytest.mark.parametrize("group", TABLE_4)
def test_the_standards_codes_have_its_modal_groups(group: int) -> None:
    """Ours, and pygcode as a second source, against NIST IR 6556, table 4."""
    for name in TABLE_4[group]:
        code = np.array([tenths(name)])
        assert code_table(code) is SHORT
        assert SHORT.group[code[0]] == group, name
        if name not in NOT_PYGCODE:
            assert gcodes.word_gcode_class(Word(name)).modal_group == group, name


def test_the_short_table_agrees_with_the_long_one() -> None:
    long = code_table(EVERY)
    known = (SHORT.act & Act.UNKNOWN) == 0
    for name in ("group", "act", "motion"):
        assert (getattr(SHORT, name)[known] == getattr(long, name)[known]).all(), name


@pytest.mark.parametrize("code", [951, 331, -1, 9999])
def test_what_the_short_table_lacks_the_long_one_is_asked_for(code: int) -> None:
    assert code_table(np.array([10, code])) is code_table(EVERY)


def test_a_program_of_the_standards_codes_does_not_wait_for_pygcode() -> None:
    lines = (
        "import sys, numpy",
        "from roundwright.trace.codes import code_table",
        "code_table(numpy.array([10, 20, 900]))",
        "sys.exit('pygcode' in sys.modules)",
    )
    assert subprocess.run([sys.executable, "-c", "; ".join(lines)], check=False).returncode == 0

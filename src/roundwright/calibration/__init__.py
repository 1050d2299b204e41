"""The calibration room: one machine's table, its error curves, and what to program for a diameter.

It knows no other room and no file: text goes in, values and text come out.
"""

from typing import TYPE_CHECKING

from roundwright.calibration.check import open_table, problems
from roundwright.calibration.conformity import ovality_at, share_in_tolerance
from roundwright.calibration.curve import Curve, Node, curve_of
from roundwright.calibration.entry import Problem
from roundwright.calibration.reading import Reading
from roundwright.calibration.solve import Solution, Unsolved, solve
from roundwright.calibration.table import Condition, Defaults, Instrument, Limits, Table, Tool
from roundwright.lazy import names_of

if TYPE_CHECKING:
    from roundwright.calibration.addition import Addition, with_readings
    from roundwright.calibration.fits import Fits, fits_from
    from roundwright.calibration.measured import measured_table, table_text_for
    from roundwright.calibration.template import new_table_text

#: name: its module, imported when it is asked for: no correction of a program needs any.
_SELDOM = {
    "Addition": "addition",
    "Fits": "fits",
    "fits_from": "fits",
    "measured_table": "measured",
    "new_table_text": "template",
    "table_text_for": "measured",
    "with_readings": "addition",
}

__all__ = [
    "Addition",
    "Condition",
    "Curve",
    "Defaults",
    "Fits",
    "Instrument",
    "Limits",
    "Node",
    "Problem",
    "Reading",
    "Solution",
    "Table",
    "Tool",
    "Unsolved",
    "curve_of",
    "fits_from",
    "measured_table",
    "new_table_text",
    "open_table",
    "ovality_at",
    "problems",
    "share_in_tolerance",
    "solve",
    "table_text_for",
    "with_readings",
]


__getattr__ = names_of(__name__, _SELDOM)

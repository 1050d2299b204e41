"""What each G code is: its modal group and the part it plays in a trace; knows no program.

The standard's own codes (NIST IR 6556, table 4) and what pygcode lacks stand below as data, each line with
its source; the modal groups of later dialects' codes pygcode supplies, where a program has one.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum, IntEnum
from functools import lru_cache
from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.trace.moves import Motion

#: G codes are looked up by ten times their number: G92.1 is 921. Codes from here on are not known.
CODES = 10_000


class Group(IntEnum):
    """Modal groups that a trace follows, numbered as pygcode numbers them; from 20 on our own."""

    NONE = 0
    MOTION = 1
    PLANE = 2
    DISTANCE = 3
    ARC_DISTANCE = 4
    FEED_MODE = 5
    UNITS = 6
    COMPENSATION = 7
    TOOL_LENGTH = 8
    RETURN = 10
    OFFSET = 12
    PATH_CONTROL = 13
    SPEED_MODE = 14
    DIAMETER = 15
    SCALING = 20
    POLAR = 21
    MIRROR = 22
    ROTATION = 23
    POLAR_INTERPOLATION = 24


class Act(np.uint8, Enum):
    """What a code does to its block beside setting a mode: bits of a byte."""

    NONE = 0
    CONSUMES = 1  # its axis words are arguments, the block does not move (G4, G10, G52, G92)
    STRAYS = 2  # the named axes, or all where none is named, end where the program does not say
    UNKNOWN = 4  # no table knows it: every axis may have moved
    IN_PLANE = 8  # moves in the plane and names no axis
    WORDED = 16  # does something only where the block has axis words (look-ahead, end of scaling)
    CALLS = 32  # runs other blocks, which may leave every axis anywhere


#: M codes by ten times their number that leave positions as they are read: ISO 6983-1 (from memory), and by
#: common practice, no source, gears, clamps, rigid tapping, pallets, M61, in- and outputs, calls and their
#: returns, and the mirroring that is followed elsewhere. What others do, only the machine's manual says.
KNOWN_M = tuple(
    10 * m for m in (*range(20), 21, 22, 23, 29, 30, *range(40, 54), 60, 61, *range(62, 69), 97, 98, 99)
)

#: motion values beyond `Motion`, for blocks without a motion code that can be followed.
UNSAID = 6  # no motion code so far
CANCELLED = 7  # G80
DOUBTFUL = 8  # cannot be told (two codes in one block, a code that is not known)

#: NIST IR 6556 table 4 (G38.2, G80 to G89 are motion); the other cycles and motions by common
#: practice, no source.
_MOTIONS: Mapping[str, np.uint8 | int] = {
    "G0": Motion.RAPID,
    "G1": Motion.LINE,
    "G2": Motion.CW,
    "G3": Motion.CCW,
    **{f"G{n}": Motion.CYCLE for n in (73, 76, 81, 82, 83, 84, 85, 86, 87, 88, 89)},
    "G80": CANCELLED,
    "G74": DOUBTFUL,  # a tapping cycle on some controls, the way home on others
}
_OTHER_MOTIONS = ("G5", "G5.1", "G6", "G12", "G13", "G31", "G34", "G38.1", "G38.2", "G38.3", "G38.4", "G38.5")

#: the modal groups of NIST IR 6556, table 4, but for motion and what sets no mode.
_STANDARD: Mapping[Group, tuple[str, ...]] = {
    Group.PLANE: ("G17", "G18", "G19"),
    Group.UNITS: ("G20", "G21"),
    Group.DISTANCE: ("G90", "G91"),
    Group.FEED_MODE: ("G93", "G94"),
    Group.COMPENSATION: ("G40", "G41", "G42"),
    Group.TOOL_LENGTH: ("G43", "G49"),
    Group.RETURN: ("G98", "G99"),
    Group.OFFSET: ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"),
    Group.PATH_CONTROL: ("G61", "G61.1", "G64"),
}

#: groups that pygcode has not, or not in this place, and two that are met too often to wait for it.
_GROUPS: Mapping[str, Group] = {
    "G90.1": Group.ARC_DISTANCE,  # absolute arc centres; common practice, no source
    "G91.1": Group.ARC_DISTANCE,  # incremental arc centres; common practice, no source
    "G70": Group.UNITS,  # ISO 6983-1: inch; from memory
    "G71": Group.UNITS,  # ISO 6983-1: metric; from memory
    "G700": Group.UNITS,  # inch, feed included; common practice, no source
    "G710": Group.UNITS,  # metric, feed included; common practice, no source
    "G54.1": Group.OFFSET,  # further offsets by P; common practice, no source
    "G15": Group.POLAR,  # common practice, no source, as all below
    "G16": Group.POLAR,
    "G50": Group.SCALING,
    "G51": Group.SCALING,
    "G50.1": Group.MIRROR,
    "G51.1": Group.MIRROR,
    "G68": Group.ROTATION,
    "G69": Group.ROTATION,
    "G12.1": Group.POLAR_INTERPOLATION,
    "G13.1": Group.POLAR_INTERPOLATION,
    "G60": Group.PATH_CONTROL,
    "G62": Group.PATH_CONTROL,
    "G63": Group.PATH_CONTROL,
    "G601": Group.PATH_CONTROL,
    "G602": Group.PATH_CONTROL,
    "G603": Group.PATH_CONTROL,
    "G9": Group.NONE,
    "G27": Group.NONE,
    "G22": Group.NONE,  # stroke check
    "G23": Group.NONE,
}

#: NIST IR 6556 table 4, group 0, with G52 and the rest by common practice, no source.
_ACTS: Mapping[str, np.uint8] = {
    **dict.fromkeys(("G4", "G10", "G52", "G92", "G92.1", "G92.2", "G92.3"), Act.CONSUMES),
    **dict.fromkeys(("G28.1", "G30.1", "G51", "G51.1", "G50.1", "G68", "G22"), Act.CONSUMES),
    **dict.fromkeys(("G28", "G30", "G53", "G29"), Act.STRAYS),
    **dict.fromkeys(("G65", "G66", "G66.1", "G67", "G74", "G27"), Act.CALLS),
    **dict.fromkeys(("G12", "G13"), Act.IN_PLANE),
    **dict.fromkeys(("G5", "G5.1"), Act.WORDED),  # alone they set look-ahead, not a spline
    "G50": Act.STRAYS | Act.WORDED,  # alone it ends scaling, with axis words it sets positions
}


class CodeTable(Struct, frozen=True, eq=False):
    """Arrays by ten times the code (shape CODES): `group`, `act`, and `motion` of group 1."""

    group: NDArray[np.uint8]
    act: NDArray[np.uint8]
    motion: NDArray[np.uint8]


def tenths(name: str) -> int:
    """Ten times the number of a code such as "G92.1"."""
    return round(float(name[1:]) * 10)


def code_table(code: NDArray[np.signedinteger[Any]]) -> CodeTable:
    """The table of all G codes, or a shorter one that knows all of `code` (n,).

    These are ten times the codes, negative where one cannot be read. What is in no table has `Act.UNKNOWN`.
    """
    here = _table(later=False)
    return _table(later=True) if (here.act[code] & Act.UNKNOWN).any() else here


@lru_cache(maxsize=2)
def _table(*, later: bool) -> CodeTable:
    """What stands here, with the codes of later dialects or without."""
    group = np.zeros(CODES, np.uint8)
    act = np.full(CODES, Act.UNKNOWN, np.uint8)
    motion = np.full(CODES, DOUBTFUL, np.uint8)
    for code, number in _later_groups().items() if later else ():
        group[code], act[code] = number, Act.NONE
    for number, names in _STANDARD.items():
        for name in names:
            group[tenths(name)], act[tenths(name)] = number, Act.NONE
    for name in (*_MOTIONS, *_OTHER_MOTIONS):
        group[tenths(name)], act[tenths(name)] = Group.MOTION, Act.NONE
    for name, value in _GROUPS.items():
        group[tenths(name)], act[tenths(name)] = value, Act.NONE
    motion[group == Group.MOTION] = Motion.OTHER
    for name, kind in _MOTIONS.items():
        motion[tenths(name)] = kind
    for name, does in _ACTS.items():
        act[tenths(name)] = does
    return CodeTable(group, act, motion)


def _later_groups() -> dict[int, int]:
    """Modal group by code (in tenths) of every G code that pygcode defines; 0 for none."""
    from pygcode import gcodes  # here, for it takes longer than a short program does

    known = {int(group) for group in Group}
    found: dict[int, int] = {}
    classes: list[type] = [gcodes.GCode]
    while classes:
        kind = classes.pop()
        classes.extend(kind.__subclasses__())
        word = getattr(kind, "word_key", None)
        if word is not None and word.letter == "G":
            number = kind.modal_group or 0  # type: ignore[attr-defined]
            found[round(float(word.value) * 10)] = number if number in known else 0
    return found

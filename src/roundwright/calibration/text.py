"""Lengths and names as a calibration writes them: for people, and into the text of a table."""

from __future__ import annotations

from collections.abc import Sequence

from roundwright.units import INCH, native

DECIMALS_MM = 3
DECIMALS_INCH = 4
_WRITTEN_MM = 6
_WRITTEN_INCH = 7


def length_text(millimetres: float, *, inch: bool, fixed: bool = False, sign: bool = False) -> str:
    """A length in mm as "59.62" or "0.375": to 1 µm or 0.0001 in; `fixed` keeps idle zeros, `sign` a plus."""
    decimals = DECIMALS_INCH if inch else DECIMALS_MM
    value = round(native(millimetres, inch=inch), decimals) + 0.0  # no minus before a zero
    text = f"{value:{'+' if sign else ''}.{decimals}f}"
    return text if fixed else text.rstrip("0").rstrip(".")


def written(millimetres: float, *, inch: bool) -> str:
    """A length in mm as a table's text holds it, to 1 nm or 2.5 nm (inches): what was typed comes back."""
    return repr(round(native(millimetres, inch=inch), _WRITTEN_INCH if inch else _WRITTEN_MM))


def handy(millimetres: float, *, inch: bool) -> float:
    """A length near this one, mm, that is easy to name: whole millimetres, or eighths of an inch."""
    grain = INCH / 8.0 if inch else 1.0
    return max(1, round(millimetres / grain)) * grain


def likely(typed: str, names: Sequence[str]) -> list[str]:
    """The name that was most likely meant by what was typed; none where nothing is like it."""
    from difflib import get_close_matches  # here: few tables have anything mistyped

    return get_close_matches(typed, names, 1)


def quoted(name: str) -> str:
    """A name as a TOML string on one line; control characters, which no name may hold, become blanks."""
    clean = "".join(c if c.isprintable() else " " for c in name).strip()
    return '"' + clean.replace("\\", "\\\\").replace('"', '\\"') + '"'

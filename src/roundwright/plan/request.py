"""What the corrections of one run are worked out from, and which features a key names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from roundwright.find import Feature
from roundwright.settings import Settings
from roundwright.units import INCH, MICROMETRE, native, parse_length

if TYPE_CHECKING:
    from roundwright.calibration import Fits, Table


class Request(Struct, frozen=True):
    """What the corrections of one run are worked out from. `inch`: the program's units, for words.

    `fits` are the tables of tolerances, for targets that are a tolerance class.
    """

    table: Table | None
    material: str | None
    settings: Settings
    inch: bool
    fits: Fits | None = None

    def length(self, value: float) -> str:
        """A length in the program's units, for a sentence."""
        text = f"{native(value, inch=self.inch):.{4 if self.inch else 3}f}"
        return f"{text} {'in' if self.inch else 'mm'}"


def named(feature: Feature, key: str, request: Request) -> bool:
    """Whether the key is the feature's id or its programmed diameter, within 5 µm (5e-4 in)."""
    if key.strip().upper().startswith("C"):
        return key.strip().upper() == feature.id
    if feature.diameter is None:
        return False
    slack = 5 * MICROMETRE * (INCH / 2 if request.inch else 1)
    return abs(parse_length(key, inch=request.inch) - feature.diameter) <= slack

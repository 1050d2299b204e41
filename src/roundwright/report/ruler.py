"""Lengths and feeds as people read them, in the unit that a listing or report is in."""

from __future__ import annotations

from roundwright.units import native


class Ruler:
    """Writes lengths in one unit: three decimals of a millimetre, four of an inch."""

    def __init__(self, inch: bool) -> None:
        self.inch = inch
        self.unit = "in" if inch else "mm"
        self.decimals = 4 if inch else 3

    def __call__(self, length: float | None, sign: str = "") -> str:
        """The length without its unit, a dash where there is none; `sign` is "+" where plus is written."""
        if length is None:
            return "-"
        value = round(native(length, inch=self.inch), self.decimals) + 0.0  # no -0.000
        return f"{value:{sign}.{self.decimals}f}"

    def fine(self, length: float) -> str:
        """With one decimal more where it says something: tolerances have halves of a micrometre."""
        text = f"{native(length, inch=self.inch):.{self.decimals + 1}f}"
        return text.removesuffix("0")

    def feed(self, feed: float) -> str:
        """A feed in mm/min as whole millimetres or tenths of an inch, without its unit."""
        return f"{native(feed, inch=self.inch):.{1 if self.inch else 0}f}"

"""What to type so that the readings of `--measured` are there the next time too."""

from __future__ import annotations

from typing import TYPE_CHECKING

from roundwright.calibration import table_text_for
from roundwright.settings import Settings
from roundwright.units import native

if TYPE_CHECKING:
    from roundwright.pipeline import Outcome


def how_to_keep(outcome: Outcome, settings: Settings) -> str:
    """The advice, with the text of a table that holds the readings for the first tool that they served."""
    inch = bool(settings.measured_inch)
    cutters = (c.feature.cutter for c in outcome.plan.corrections if c.change is not None)
    cutter = next((cutter for cutter in cutters if cutter is not None), None)
    text = table_text_for(
        settings.measured,
        inch,
        tool_diameter=None if cutter is None else round(native(cutter.diameter, inch=inch), 9),
        tool=1 if cutter is None else cutter.number or 1,
        material=outcome.material,
    )
    return (
        "roundwright: warning: a single reading has no uncertainty: cut and measure each size again.\n"
        "To keep these readings, save the lines from here as router.toml and name it with --table:\n\n" + text
    )

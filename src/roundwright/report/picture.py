"""A calibration table as a picture: readings, error curve and uncertainty, a panel for each condition."""

from __future__ import annotations

import io
import warnings
from typing import Any

import numpy as np

from roundwright.calibration.overview import Summary, overview
from roundwright.calibration.table import Table, folded
from roundwright.calibration.uncertainty import budget
from roundwright.errors import RoundwrightError
from roundwright.units import native

#: told apart by every kind of colour vision, in grey too: dark blue line, pale band, orange readings.
_LINE, _BAND, _READING, _OUTSIDE = "#1b3a6b", "#b9cde8", "#d95f02", "#dcdcdc"
_POINTS = 200
_STYLE: Any = {
    "font.size": 9,
    "svg.hashsalt": "roundwright",
    "text.parse_math": False,  # a material's name may hold a dollar sign
    "axes.spines.top": False,
    "axes.spines.right": False,
}


def picture_of(table: Table, form: str) -> bytes:
    """The picture's bytes, `form` being svg or png; the same for the same table.

    Raises RoundwrightError where matplotlib is not installed, or nothing can be drawn.
    """
    try:
        import matplotlib
        from matplotlib.figure import Figure
    except ImportError as error:
        cure = 'Install it: pip install "roundwright[plot]", or pip install matplotlib.'
        raise RoundwrightError("drawing needs the library matplotlib", cure=cure) from error
    summaries = [summary for summary in overview(table) if summary.curve.nodes]
    if not summaries:
        raise RoundwrightError("there are no readings to draw", cure="Cut and measure circles first.")
    with matplotlib.rc_context(_STYLE), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a letter that the font lacks is drawn as a box
        figure: Any = Figure(figsize=(7.5, 3.3 * len(summaries)), layout="constrained")
        panels = figure.subplots(len(summaries), squeeze=False)[:, 0]
        for panel, summary in zip(panels, summaries, strict=True):
            _draw(panel, summary, table)
        figure.suptitle(f"{table.name}: error of cut circles")
        _key(figure, panels)
        written = io.BytesIO()
        metadata = {"Date": None} if form == "svg" else {"Software": None}
        figure.savefig(written, format=form, dpi=150, metadata=metadata)
    return written.getvalue()


def _draw(panel: Any, summary: Summary, table: Table) -> None:
    unit = "in" if table.inch else "mm"
    curve, (low, high) = summary.curve, summary.serves or (0.0, 0.0)
    first, last = curve.nodes[0].diameter, curve.nodes[-1].diameter
    room = max(0.25 * first, 0.06 * (last - first))
    _outside(panel, (low, high), room, table)
    inside = np.linspace(first, last, _POINTS) if last > first else np.array([first])
    served = np.concatenate([[low], inside, [high]])
    _band(panel, summary, served, table)
    held = {"color": _LINE, "linewidth": 1.4, "linestyle": (0, (4, 2))}
    for end, edge in ((low, first), (high, last)):
        panel.plot(*_shown([end, edge], [curve.error(end), curve.error(edge)], table), **held)
    panel.plot(
        *_shown(inside, [curve.error(d) for d in inside], table), color=_LINE, linewidth=1.8, label="curve"
    )
    _readings(panel, summary, table)
    panel.axhline(0.0, color="#555555", linewidth=0.7)
    panel.set_xlim(native(low - room, inch=table.inch), native(high + room, inch=table.inch))
    panel.set_title(summary.condition.label, loc="left", fontsize=9)
    panel.set_xlabel(f"programmed diameter ({unit})")
    panel.set_ylabel(f"measured - programmed ({unit})")


def _key(figure: Any, panels: Any) -> None:
    """One key for all panels, below them, where it lies over nothing."""
    found: dict[str, Any] = {}
    for panel in panels:
        for handle, label in zip(*panel.get_legend_handles_labels(), strict=True):
            found.setdefault(label, handle)
    figure.legend(
        found.values(), found.keys(), loc="outside lower center", ncols=5, fontsize=7, frameon=False
    )


def _outside(panel: Any, serves: tuple[float, float], room: float, table: Table) -> None:
    """Grey where nothing is corrected: out of range."""
    low, high = (native(end, inch=table.inch) for end in serves)
    wide = native(room, inch=table.inch)
    panel.axvspan(low - wide, low, color=_OUTSIDE, linewidth=0, label="out of range")
    panel.axvspan(high, high + wide, color=_OUTSIDE, linewidth=0)


def _band(panel: Any, summary: Summary, diameters: Any, table: Table) -> None:
    """The band of the next cut, about 95 %, where it can be told."""
    budgets = [budget(summary.curve, float(d)) for d in diameters]
    if any(isinstance(one, str) for one in budgets):
        panel.set_title("how far the next cut may stray is not known", loc="right", fontsize=7)
        return
    errors = np.array([summary.curve.error(float(d)) for d in diameters])
    wide = np.array([0.0 if isinstance(one, str) else one.expanded for one in budgets])
    x, lower = _shown(diameters, errors - wide, table)
    _, upper = _shown(diameters, errors + wide, table)
    panel.fill_between(x, lower, upper, color=_BAND, linewidth=0, label="next cut, about 95 %")


def _readings(panel: Any, summary: Summary, table: Table) -> None:
    """The readings with the limit of their instrument as error bar."""
    limits = {folded(instrument.name): instrument.limit for instrument in table.instruments}
    used = summary.condition.used
    x, y = _shown([r.programmed for r in used], [r.error for r in used], table)
    bars = [native(limits.get(folded(r.instrument or ""), 0.0), inch=table.inch) for r in used]
    label = "readings, limit of the instrument" if any(bars) else "readings"
    look = {"color": _READING, "markersize": 4, "elinewidth": 0.9, "capsize": 2}
    panel.errorbar(x, y, yerr=bars if any(bars) else None, fmt="o", label=label, **look)


def _shown(diameters: Any, errors: Any, table: Table) -> tuple[Any, Any]:
    """Both in the table's units."""
    return (
        native(1.0, inch=table.inch) * np.asarray(diameters, dtype=float),
        native(1.0, inch=table.inch) * np.asarray(errors, dtype=float),
    )

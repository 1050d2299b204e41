"""The text of a new table: complete, empty of readings, with every key explained beside an example."""

from __future__ import annotations

from roundwright.calibration.text import quoted

_TEXT = """\
# The calibration table of one machine: what its circles measure, so that they can be corrected.
#
# How to read this file: a line that begins with "# " explains. A line that begins with "#" and a key,
# or a row indented behind "#", is an example: take the "#" away and put your own figures in.
# Nothing is corrected until a [[condition]] with readings stands here.
# `roundwright table check -t FILE` says what is wrong or missing, with the line.

schema = "roundwright.table/1"

[machine]
# The machine's name, as listings and the stamp in corrected programs give it.
name = @NAME@
# The unit of every length in this file: "mm" or "in".
units = "@UNITS@"
# How the spindle turns where a program has no M3 or M4: "clockwise" or "counter-clockwise".
#spindle = "clockwise"
# The axis that the spindle points along; a circle in another plane is no hole.
#spindle_axis = "Z"
# What a path under G41 or G42 is: "contour" (the drawn outline itself; usual) or "wear" (the path of
# the tool's centre, with only a small wear offset to come).
#compensation = "contour"
# The most decimals that the control reads, where it is known.
#decimals = @DECIMALS@

# What holds where neither the program nor the command line says it. Each is optional.
[defaults]
# The material on the table.
#material = "birch ply"
# The tool, by number or name, for programs that name none (no T word).
#tool = 1
# What a circle is where its path doesn't show it: "hole", "boss" or "groove".
#side = "hole"
# How walls are cut where that can't be told: "climb" or "conventional".
#cut = "climb"

# How far corrections may go. Each is optional; what stands here is the default.
[limits]
# The largest change of a diameter; a feature that would need more is left alone.
#correction = @CORRECTION@
# How far past the smallest and largest measured diameter their error still serves, as a fraction of it.
#reach = 0.10
# How far the chords of a circle written in short straight moves may cut its corners.
#chord_sagitta = @SAGITTA@
# Corrections smaller than this are not worth it: the feature counts as on size.
#deadband = 0.0

# The tools, one [[tool]] for each: a number or a name, or both, and the diameter.
#[[tool]]
# The number that programs call it by (T1).
#number = 1
# A name for people; also for machines without tool numbers.
#name = "@TOOL_NAME@"
# The diameter that programs are made for, not the one measured.
#diameter = @TOOL@
# Optional: the diameter that was measured; for diagnosis only.
#measured = @TOOL_MEASURED@
# Optional: how many cutting edges.
#flutes = 2
# "cylindrical" (the default), "tapered", "ball" or "vee": circles of the last three are left alone.
#form = "cylindrical"
# Optional: the day this bit was fitted. Readings that are older, or have no date, are kept, not used.
#fitted = 2026-09-28

# What readings are taken with, one [[instrument]] for each.
#[[instrument]]
#name = "caliper"
# A reading is within plus or minus this.
#limit = @LIMIT@
# Optional: the width of flat inside jaws, which read small in a hole; readings are corrected for it.
#jaw_width = @JAWS@

# The readings of one tool, material, side and cut, one [[condition]] for each.
#[[condition]]
# The tool's number, or its name in quotes.
#tool = 1
#material = "birch ply"
# "hole", "boss", or "groove" (a circle cut on the line).
#side = "hole"
# "climb", "conventional", or "any" for both; a groove is always "any".
#cut = "climb"
# Optional: feed per minute and spindle speed of the cut; a program that differs by over 20 % is warned of.
#feed = @FEED@
#speed = 16000
# How errors are found between measured diameters: "interpolate" (the default), or "trend", a straight line.
#method = "interpolate"
# What the readings were taken with, where they don't say it themselves.
#instrument = "caliper"
# One row for each cut circle: the programmed diameter; what it measures along X and along Y, or one figure
# as `diameter`. Optional: d45 and d135 along the diagonals (for diagnosis), instrument, date, note.
# Cut one diameter at least twice: only repeats tell how sure the next cut is.
#readings = [
@READINGS@
#]
"""

_MM = {
    "UNITS": "mm",
    "DECIMALS": "4",
    "CORRECTION": "2.0",
    "SAGITTA": "0.1",
    "TOOL_NAME": "6 mm two-flute upcut",
    "TOOL": "6.0",
    "TOOL_MEASURED": "5.97",
    "LIMIT": "0.03",
    "JAWS": "0.3",
    "FEED": "1800",
    "READINGS": """\
#  { programmed = 10.0, x = 9.91, y = 9.93, date = 2026-10-03 },
#  { programmed = 10.0, x = 9.92, y = 9.92, date = 2026-10-03 },
#  { programmed = 25.0, x = 24.83, y = 24.85, d45 = 24.84, d135 = 24.84, date = 2026-10-03 },
#  { programmed = 60.0, diameter = 59.62, date = 2026-10-04, note = "second sheet" },""",
}
_INCH = {
    "UNITS": "in",
    "DECIMALS": "5",
    "CORRECTION": "0.0787",
    "SAGITTA": "0.0039",
    "TOOL_NAME": "1/4 in two-flute upcut",
    "TOOL": "0.25",
    "TOOL_MEASURED": "0.249",
    "LIMIT": "0.001",
    "JAWS": "0.012",
    "FEED": "70",
    "READINGS": """\
#  { programmed = 0.375, x = 0.372, y = 0.3725, date = 2026-10-03 },
#  { programmed = 0.375, x = 0.3725, y = 0.3725, date = 2026-10-03 },
#  { programmed = 1.0, x = 0.9935, y = 0.994, d45 = 0.994, d135 = 0.9935, date = 2026-10-03 },
#  { programmed = 2.5, diameter = 2.485, date = 2026-10-04, note = "second sheet" },""",
}


def new_table_text(name: str, inch: bool) -> str:
    """The text of a new table for a machine of that name, its lengths in inches or mm.

    It opens without problems as it stands, and also once all its examples are uncommented.
    """
    text = _TEXT.replace("@NAME@", quoted(name) if name.strip() else quoted("my-machine"))
    for mark, value in (_INCH if inch else _MM).items():
        text = text.replace(f"@{mark}@", value)
    return text

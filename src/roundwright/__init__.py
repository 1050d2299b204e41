'''Makes circles come out to size: corrects the holes and bosses of a finished G-code program.

The whole job is one call: bytes, a table and settings go in, an `Outcome` comes out. No file is opened and
nothing printed; all lengths are millimetres, whatever the program's units.

>>> import roundwright
>>> table = roundwright.open_table("""
... schema = "roundwright.table/1"
... [machine]
... name = "shop-router"
... units = "mm"
... [[tool]]
... number = 1
... diameter = 6.0
... [[condition]]
... tool = 1
... material = "birch ply"
... side = "hole"
... cut = "climb"
... readings = [
...   { programmed = 10.0, diameter = 9.9 },
...   { programmed = 30.0, diameter = 29.8 },
... ]
... """)
>>> program = b"""G21 G90 G17
... T1 M6
... M3 S16000
... G0 X50 Y40 Z5
... G1 Z-3 F300
... G1 X57 F1800
... G3 X57 Y40 I-7 J0
... G1 X50
... G0 Z5
... M30
... """
>>> settings = roundwright.Settings(material="birch ply")

`list_features` is the dry run. Each feature has its correction, or the reason why it is left alone:

>>> outcome = roundwright.list_features(program, "panel.nc", table, settings)
>>> for correction in outcome.plan.corrections:
...     feature = correction.feature
...     print(feature.id, feature.side, feature.diameter, correction.status, f"{correction.change:+.3f}")
C1 hole 20.0 corrected +0.151
>>> correction.condition, correction.basis, correction.uncertainty
('T1 / birch ply / hole / climb', 'between 10 and 30', None)

`correct` gives the corrected program, which has been read back and proven. Bytes outside the numbers that had
to change, and the stamp's line, are those of the input:

>>> outcome = roundwright.correct(program, "panel.nc", table, settings)
>>> old, new = program.splitlines(), outcome.output.splitlines()
>>> for line in new:
...     if line not in old:
...         print(line.decode())
(roundwright ...: circles corrected, shop-router, birch ply)
G1 X57.075 F1800
G3 X57.075 Y40 I-7.075 J0

What cannot be taken is a `RoundwrightError`: what is wrong, where, and what to do. Nothing was written then.

>>> try:
...     roundwright.correct(outcome.output, "panel-c.nc", table, settings)
... except roundwright.RoundwrightError as error:
...     print(error)
panel-c.nc: the program says that it is corrected already. Correct the original program instead; ...

The six rooms can be called one by one, each with the product of those before it; `roundwright.pipeline` is
where `correct` does so.

>>> moves = roundwright.trace_moves(roundwright.read_program(program, "panel.nc"))
>>> cutters = {0: roundwright.Cutter("6 mm", 6.0)}
>>> (found,) = roundwright.find_features(moves, cutters, roundwright.Machine(), settings)
>>> found.side, found.cut, found.wall.centre, found.wall.radius, found.evidence
('hole', 'climb', (50.0, 40.0), 7.0, 'lead-in from inside; lead-out to the inside')
'''

from typing import TYPE_CHECKING

from roundwright.lazy import names_of

if TYPE_CHECKING:
    from roundwright.calibration import Table, open_table
    from roundwright.errors import (
        Place,
        ProgramError,
        ProofError,
        RoundwrightError,
        SettingsError,
        TableError,
    )
    from roundwright.find import Feature, Ring, find_features
    from roundwright.pipeline import Outcome, correct, list_features
    from roundwright.plan import Correction, Plan, Request, plan_corrections
    from roundwright.prove import prove_program
    from roundwright.read import Program, read_program
    from roundwright.rewrite import rewrite_program
    from roundwright.settings import Cutter, Machine, Settings
    from roundwright.trace import Moves, trace_moves
    from roundwright.version import __version__

#: room: what of it is public, imported when it is asked for: the command's help needs none of it.
_FACE = {
    "calibration": ("Table", "open_table"),
    "errors": ("Place", "ProgramError", "ProofError", "RoundwrightError", "SettingsError", "TableError"),
    "find": ("Feature", "Ring", "find_features"),
    "pipeline": ("Outcome", "correct", "list_features"),
    "plan": ("Correction", "Plan", "Request", "plan_corrections"),
    "prove": ("prove_program",),
    "read": ("Program", "read_program"),
    "rewrite": ("rewrite_program",),
    "settings": ("Cutter", "Machine", "Settings"),
    "trace": ("Moves", "trace_moves"),
    "version": ("__version__",),
}
_ROOM = {name: room for room, names in _FACE.items() for name in names}

__all__ = [
    "Correction",
    "Cutter",
    "Feature",
    "Machine",
    "Moves",
    "Outcome",
    "Place",
    "Plan",
    "Program",
    "ProgramError",
    "ProofError",
    "Request",
    "Ring",
    "RoundwrightError",
    "Settings",
    "SettingsError",
    "Table",
    "TableError",
    "__version__",
    "correct",
    "find_features",
    "list_features",
    "open_table",
    "plan_corrections",
    "prove_program",
    "read_program",
    "rewrite_program",
    "trace_moves",
]


#: a public name, from its room.
__getattr__ = names_of(__name__, _ROOM)

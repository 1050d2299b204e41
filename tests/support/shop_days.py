"""Days in the virtual shop, by the commands: coupon, cut, measure, correct, cut, measure, diagnose."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from math import hypot
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from command import run
from coupons import CUT_MM
from roundwright.calibration import curve_of, open_table
from roundwright.calibration.diagnosis import ToolDiagnosis, diagnose
from roundwright.calibration.finding import machine_findings
from roundwright.calibration.uncertainty import Budget, budget
from virtual_shop import FIGURES, Circle, Hidden, Shop, circles, hidden, table_text

TABLE = "room.toml"
LADDER = "10,16,25,40,60"
#: what the job's circles measure: some as the coupon's, some between.
WANTED = "10,13,20,25,32,50"
SHARED = ("scale_x", "scale_y", "squareness", "lost_motion_x", "lost_motion_y")


@dataclass(frozen=True)
class Written:
    """A program with its record, and the circles that it runs."""

    program: bytes
    record: bytes
    walls: tuple[Circle, ...]


@dataclass(frozen=True)
class Morning:
    """One shop from its first coupon to its first corrected job; mm, one entry for each circle.

    `before` is how far the coupon's circles are off, `after` how far the job's are off what was wanted, as
    they truly are, `measured` as the caliper of that afternoon shows it; `stated` is U, `mean` the standard
    uncertainty of the curve, that is u without the scatter of the single cut.
    """

    before: tuple[float, ...]
    after: tuple[float, ...]
    measured: tuple[float, ...]
    stated: tuple[float, ...]
    mean: tuple[float, ...]
    next_day: tuple[float, ...]


@contextlib.contextmanager
def folder() -> Iterator[None]:
    """An empty folder, as the current one."""
    with TemporaryDirectory() as place, contextlib.chdir(place):
        yield


@cache
def written(ladder: str, sides: str = "both", cuts: str = "both", repeat: int = 2) -> Written:
    """A coupon as the command writes it: the same for every shop."""
    with folder():
        Path(TABLE).write_text(table_text(Shop(hidden(np.random.default_rng(0)), np.random.default_rng(0))))
        names = ("-o", "c.nc", "--record", "c.json")
        ways = ("--side", sides, "--cut", cuts, "--repeat", repeat, "--stock", "900,900,18")
        ask("coupon", "-t", TABLE, "--tool", 1, "--diameters", ladder, *ways, *CUT_MM, *names)
        program, record = Path("c.nc"), Path("c.json")
        return Written(program.read_bytes(), record.read_bytes(), circles(program, record))


def ask(*arguments: object) -> str:
    """Run a command that must go well; what it said."""
    done = run(*arguments)
    assert done.status == 0, done.err
    return done.err


def measure(shop: Shop, cuts: list, record: str, program: str, figures: Iterable[str] = FIGURES) -> None:
    """Measure in a session of its own and take the readings into the table."""
    shop.new_session()
    Path("r.csv").write_text(shop.readings(cuts, figures))
    files = ("-t", TABLE, "--csv", "r.csv", "--cut-file", program, "--keep-doubtful")
    ask("measure", record, *files)


def morning(seed: int, *, again: bool = True) -> Morning:
    """A shop of its own faults: its coupon, the job corrected by it, and that job again a day later."""
    chance = np.random.default_rng((seed, 5))
    shop = Shop(hidden(chance), chance, limit=float(chance.uniform(0.01, 0.03)))
    with folder():
        first_text = table_text(shop)
        Path(TABLE).write_text(first_text)
        first, before = _cut_coupon(shop)
        measure(shop, first, "coupon.json", "coupon.nc")
        job = written(WANTED, repeat=1)
        Path("job.nc").write_bytes(job.program)
        stated, mean, after, measured = _corrected_job(shop, job)
        next_day = _corrected_job(shop, job)[2] if again else ()
        assert Path(TABLE).read_text().startswith(first_text), "what people wrote stays"
    return Morning(before, after, measured, stated, mean, next_day)


def _cut_coupon(shop: Shop) -> tuple[list, tuple[float, ...]]:
    coupon = written(LADDER)
    Path("coupon.nc").write_bytes(coupon.program)
    Path("coupon.json").write_bytes(coupon.record)
    cuts = [(circle, shop.cut(circle)) for circle in coupon.walls]
    return cuts, tuple(_size(true) - circle.programmed(shop.machine.made_for) for circle, true in cuts)


def _corrected_job(shop: Shop, job: Written) -> tuple[tuple[float, ...], ...]:
    """Correct, cut and measure the job: U, u of the curve, and how far it is off, in truth and shown."""
    said = ask("correct", "-t", TABLE, "--format", "json", "--record", "job.json", "-o", "cut.nc", "job.nc")
    features = json.loads(said)["features"]
    assert {feature["status"] for feature in features} <= {"corrected", "on-size"}
    table = open_table(Path(TABLE).read_text())
    curves = {condition.label: curve_of(condition, table) for condition in table.conditions}
    changes = [feature["correction"] for feature in features]
    parts = [budget(curves[c["condition"]], c["corrected_diameter"]) for c in changes]
    mean = tuple(hypot(p.mean, p.instrument, p.interpolation) for p in parts if isinstance(p, Budget))
    wanted = {f["id"]: f["target"] for f in json.loads(Path("job.json").read_text())["features"]}
    cuts = [(circle, shop.cut(circle)) for circle in circles(Path("cut.nc"), Path("job.json"))]
    measure(shop, cuts, "job.json", "cut.nc")
    after = tuple(_size(true) - wanted[circle.id] for circle, true in cuts)
    measured = tuple(_size(true) + shop.bias - wanted[circle.id] for circle, true in cuts)
    return tuple(c["expanded_uncertainty"] for c in changes), mean, after, measured


def _size(true: dict[str, float]) -> float:
    return (true["x"] + true["y"]) / 2


@dataclass(frozen=True)
class Found:
    """What `diagnose` makes of a machine whose faults are known: truths in its order, its findings."""

    machine: Hidden
    diagnosis: ToolDiagnosis
    findings: tuple[str, ...]

    @property
    def truths(self) -> tuple[float, ...]:
        m = self.machine
        return m.scale_x, m.scale_y, m.squareness, m.lost_x, m.lost_y


def examined(seed: int, coupon: Written, figures: Iterable[str] = FIGURES, **known: float) -> Found:
    """A machine of its own faults cuts a coupon, which is measured and diagnosed."""
    chance = np.random.default_rng((seed, 7))
    shop = Shop(hidden(chance, **known), chance)
    with folder():
        Path(TABLE).write_text(table_text(shop))
        Path("coupon.nc").write_bytes(coupon.program)
        Path("coupon.json").write_bytes(coupon.record)
        measure(shop, [(c, shop.cut(c)) for c in coupon.walls], "coupon.json", "coupon.nc", figures)
        table = open_table(Path(TABLE).read_text())
    (diagnosis,) = diagnose(table)
    return Found(shop.machine, diagnosis, machine_findings(diagnosis, table))

"""The questions of `measure` on a terminal: one figure at a time, each checked, any of them taken back."""

from __future__ import annotations

from datetime import date as Day
from typing import Any

import click
from msgspec import Struct, field

from roundwright.calibration import Addition, Table
from roundwright.calibration.question import past_limit, unexpected
from roundwright.cli import streams
from roundwright.coupon.measuring import (
    Taken,
    addition_of,
    instrument_named,
    wrong_figure,
)
from roundwright.coupon.record import FIGURES, Recorded
from roundwright.errors import SettingsError
from roundwright.units import parse_length

BACK = "u"
_SAID = {"x": "X (0)", "y": "Y (90)", "d45": "45 deg", "d135": "135 deg", "diameter": "one figure"}
#: a question: the circle's place and what is asked of it; None for what is asked of all of them.
_Key = tuple[int | None, str]


class Questions(Struct):
    """Asks for the figures of some circles; `corrected` says which of their diameters was programmed.

    `table` is the one in the file `path`; `known` counts the readings that need no question.
    """

    circles: list[Recorded]
    table: Table
    path: str
    corrected: bool
    today: Day
    known: int = 0
    _answers: dict[_Key, Any] = field(default_factory=dict)

    def ask(self) -> tuple[str | None, Day, list[Taken]] | None:
        """Instrument and date of all readings, and the readings; None where they are not to be written.

        Raises click.Abort where the input ends first.
        """
        while (key := self._next()) is not None:
            place, what = key
            if place is not None and not any(p == place for p, _ in self._answers):
                streams.say(self._title(self.circles[place]))
            reply = click.prompt(
                self._prompt(what), default="", show_default=False, prompt_suffix=": ", err=True
            ).strip()
            if reply.casefold() == BACK:
                self._undo()
                continue
            try:
                self._answers[key] = self._understood(key, reply)
            except (SettingsError, ValueError) as error:
                streams.say(f"    {error}")
                continue
            self._question(key)
        if not self._answers.get((None, "end")):
            return None
        return self._instrument(), self._answers[None, "date"], self._all()

    def _next(self) -> _Key | None:
        keys: list[_Key] = [(None, "instrument"), (None, "date")]
        if not self.table.instruments:
            keys = keys[1:]
        for key in keys:
            if key not in self._answers:
                return key
        for place in range(len(self.circles)):
            for what in self._wanted(place):
                if (place, what) not in self._answers:
                    return place, what
        done = (None, "end") in self._answers or not (self.known or self._all())
        return None if done else (None, "end")

    def _wanted(self, place: int) -> tuple[str, ...]:
        """X first; without it one figure, or nothing: the circle is left out."""
        if self._answers.get((place, "x")) is not None:
            return ("x", "y", "d45", "d135")
        return ("x", "diameter") if (place, "x") in self._answers else ("x",)

    def _title(self, circle: Recorded) -> str:
        where = "" if circle.centre is None else " at {} {}".format(*(self._length(c) for c in circle.centre))
        programmed = circle.programmed if self.corrected else circle.original
        return f"{circle.id}  {circle.side} {self._length(programmed)} {circle.cut}{where}"

    def _prompt(self, what: str) -> str:
        if what == "instrument":
            names = ", ".join(i.name for i in self.table.instruments)
            usual = self._usual()
            return f"Instrument ({names}){f' [{usual}]' if usual else ''}"
        if what == "date":
            return f"Date [{self.today.isoformat()}]"
        if what == "end":
            count = len(self._all()) + self.known
            return f"Write {count} {'reading' if count == 1 else 'readings'} into {self.path}? [Y/n]"
        return f"    {_SAID[what]}"

    def _usual(self) -> str | None:
        """What is taken where nothing is typed: the one instrument, or the one that the conditions name."""
        names = {i.name for i in self.table.instruments}
        if len(names) > 1:
            found = (self.table.condition(c.tool, c.material, c.side, c.cut) for c in self.circles)
            names = {c.instrument for c in found if c is not None and c.instrument is not None}
        return names.pop() if len(names) == 1 else None

    def _understood(self, key: _Key, reply: str) -> Any:
        """An answer's value, None for an empty one. Raises SettingsError or ValueError."""
        place, what = key
        if what == "instrument":
            return instrument_named(reply, self.table) or self._usual()
        if what == "date":
            return self._day(reply)
        if what == "end":
            return _yes(reply)
        if not reply or place is None:
            return None
        figure = parse_length(reply, inch=self.table.inch)
        wrong = wrong_figure(figure, self.circles[place].original)
        if wrong:
            raise ValueError(f"{wrong}. Type it again, with its unit: 9.91mm, 0.375in")
        return figure

    def _day(self, reply: str) -> Day:
        try:
            day = Day.fromisoformat(reply) if reply else self.today
        except ValueError as error:
            raise ValueError(f"{reply!r} is no date. Type it like {self.today.isoformat()}") from error
        if day > self.today:
            raise ValueError(f"{reply} is still to come")
        return day

    def _undo(self) -> None:
        """Take the last answer back, and say where that leads."""
        if not self._answers:
            streams.say("    There is nothing to take back.")
            return
        (place, what), _ = self._answers.popitem()
        if place is not None and what != "x":
            streams.say(f"    Back to {_SAID[what]} of {self.circles[place].id}.")

    def _question(self, key: _Key) -> None:
        """Ask again for what is doubtful; what is not meant is taken back."""
        place, what = key
        figure = self._answers[key]
        if place is None or what not in FIGURES or (figure is None and what != "y"):
            return
        circle = self.circles[place]
        programmed = circle.programmed if self.corrected else circle.original
        doubt = "" if figure is None else past_limit(figure, programmed, self.table)
        if doubt and not keeps(f"    {doubt}"):
            del self._answers[key]
            return
        taken = self._taken(place) if what in ("y", "diameter") else None
        if taken is None:
            return
        others = [self._addition(t) for t in self._all() if t.circle.id != circle.id]
        doubt = unexpected(self._addition(taken), self.table, others)
        if doubt and not keeps(f"    {doubt}"):
            for asked in [k for k in self._answers if k[0] == place]:
                del self._answers[asked]

    def _addition(self, taken: Taken) -> Addition:
        return addition_of(taken, self.table, corrected=self.corrected)

    def _all(self) -> list[Taken]:
        return [t for k in range(len(self.circles)) if (t := self._taken(k)) is not None]

    def _taken(self, place: int) -> Taken | None:
        figures = {w: f for (p, w), f in self._answers.items() if p == place and f is not None}
        if not figures:
            return None
        return Taken(self.circles[place], figures, self._instrument(), self._answers[None, "date"])

    def _instrument(self) -> str | None:
        name: str | None = self._answers.get((None, "instrument"))
        return name

    def _length(self, millimetres: float) -> str:
        from roundwright.calibration.text import length_text

        return length_text(millimetres, inch=self.table.inch)


def _yes(reply: str) -> bool:
    if reply.casefold() not in ("", "y", "yes", "n", "no"):
        raise ValueError("Type y, n, or u for back")
    return not reply.casefold().startswith("n")


def keeps(doubt: str) -> bool:
    """Whether a doubtful reading is meant. Raises click.Abort where the input ends first."""
    return click.confirm(f"{doubt}. Keep it?", default=False, err=True)

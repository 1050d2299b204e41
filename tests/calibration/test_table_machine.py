"""A table that commands and people write into in any order: nothing that anybody wrote is ever lost."""

from __future__ import annotations

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from roundwright.calibration import Addition, Reading, open_table, problems, with_readings
from roundwright.calibration.table import CutSide, CutWay
from roundwright.errors import RoundwrightError
from table_texts import CALIPER, CONDITION, HEAD, MACHINE, TOOL

START = HEAD + MACHINE + TOOL + CALIPER
MATERIALS = st.sampled_from(["birch ply", "Birch Ply", "mdf", "ash 'A'", 'oak "B"'])
SIDES: st.SearchStrategy[CutSide] = st.sampled_from(["hole", "boss", "groove"])
CUTS: st.SearchStrategy[CutWay] = st.sampled_from(["climb", "conventional", "any"])
SIZES = st.integers(80, 600).map(lambda tenths: tenths / 10)
SHORT = st.integers(-40, 40).map(lambda hundredths: hundredths / 100)


class TableMachine(RuleBasedStateMachine):
    """The text of a table, and all that was ever written into it."""

    def __init__(self) -> None:
        super().__init__()
        self.text = START
        self.notes: list[str] = []  # comments of people, each a line of its own
        self.readings: list[tuple[str, str, str, float, float]] = []

    @initialize(inch=st.booleans(), readings=st.booleans())
    def begin(self, inch: bool, readings: bool) -> None:
        """A fresh table, with an empty condition or none."""
        self.text = START.replace('"mm"', '"in"') if inch else START
        self.text += CONDITION + "readings = []\n" if readings else ""
        self.unit = 25.4 if inch else 1.0

    @rule(material=MATERIALS, side=SIDES, cut=CUTS, sizes=st.lists(st.tuples(SIZES, SHORT), max_size=4))
    def add(self, material: str, side: CutSide, cut: CutWay, sizes: list[tuple[float, float]]) -> None:
        """Readings of one condition at once; every other byte stays."""
        new = [
            Addition(1, material, side, cut, Reading(programmed, diameter=programmed + short))
            for programmed, short in sizes
        ]
        before = self.text
        self.text = with_readings(before, new)
        rest = iter(self.text)
        assert all(character in rest for character in before), "only insertions"
        cut = "any" if side == "groove" else cut  # a groove's walls are cut both ways
        self.readings += [(material.casefold(), side, cut, p, p + short) for p, short in sizes]

    @rule(
        material=MATERIALS, programmed=SIZES, wrong=st.sampled_from([-3.0, 0.0, float("nan"), float("inf")])
    )
    def add_nonsense(self, material: str, programmed: float, wrong: float) -> None:
        """A figure that makes no sense is refused, and nothing has changed."""
        new = Addition(1, material, "hole", "climb", Reading(programmed, diameter=wrong))
        try:
            with_readings(self.text, [new])
        except RoundwrightError as error:
            assert error.what and error.cure
        else:
            raise AssertionError(f"{wrong} was taken")

    @rule(chance=st.randoms(use_true_random=False))
    def note(self, chance) -> None:
        """A person puts a comment between two lines."""
        end = "\r\n" if "\r\n" in self.text else "\n"
        lines = [line + end for line in self.text.splitlines()]
        words = f"# note {len(self.notes)}"
        at = chance.randrange(len(lines) + 1)
        self.text = "".join([*lines[:at], words + end, *lines[at:]])
        self.notes.append(words)

    @rule(end=st.sampled_from(["\n", "\r\n"]))
    def save_with_other_ends(self, end: str) -> None:
        """An editor saves with the line ends of another system."""
        self.text = self.text.replace("\r\n", "\n").replace("\n", end)

    @rule()
    def lose_the_last_end(self) -> None:
        """An editor drops the end of the last line."""
        self.text = self.text.rstrip("\r\n")

    @invariant()
    def nothing_is_lost(self) -> None:
        """All readings and notes are there; nothing else is wrong with the table."""
        table = open_table(self.text, "machine.toml")
        found = [
            (c.material.casefold(), c.side, c.cut, r.programmed, r.diameter)
            for c in table.conditions
            for r in c.readings
        ]
        assert len(found) == len(self.readings)
        for ours, theirs in zip(sorted(self.readings), sorted(found), strict=True):
            assert ours[:3] == theirs[:3]
            assert abs(ours[3] - theirs[3]) < 1e-5 and abs(ours[4] - theirs[4]) < 1e-5
        lines = [line.strip() for line in self.text.splitlines()]
        assert [note for note in self.notes if note not in lines] == []
        assert not [one for one in problems(self.text, "machine.toml") if one.level == "wrong"]


TestTableMachine = TableMachine.TestCase
TestTableMachine.settings = settings(max_examples=25, stateful_step_count=12, deadline=None)

"""Whole-program cases: folders with a program, a table, perhaps settings, and what must come out."""

import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from roundwright.calibration import Table, open_table
from roundwright.pipeline import Outcome, correct, list_features
from roundwright.report.listing import listing
from roundwright.settings import Settings
from roundwright.version import __version__

ROOT = Path(__file__).resolve().parents[2]
CASES = ROOT / "tests" / "whole" / "cases"
TABLE = CASES.parent / "table.toml"
#: stands in an expected program where the stamp names the version.
VERSION = b"@VERSION@"
_TUPLES = ("only", "skip", "measured")


@dataclass(frozen=True)
class Case:
    """One folder. `sample.json` in place of program and table names files of the repository."""

    folder: Path

    @property
    def name(self) -> str:
        return self.folder.name

    @property
    def decoy(self) -> bool:
        """Whether nothing in the program may change."""
        return self.name.startswith("left-")

    @cached_property
    def _sample(self) -> dict[str, str]:
        path = self.folder / "sample.json"
        return json.loads(path.read_text()) if path.exists() else {}

    @property
    def program(self) -> Path:
        return ROOT / self._sample["program"] if self._sample else self.folder / "program.nc"

    @cached_property
    def data(self) -> bytes:
        return self.program.read_bytes()

    @cached_property
    def table(self) -> Table:
        own = ROOT / self._sample["table"] if self._sample else self.folder / "table.toml"
        path = own if own.exists() else TABLE
        return open_table(path.read_text(encoding="utf-8"), path.name)

    @cached_property
    def options(self) -> dict[str, Any]:
        path = self.folder / "settings.json"
        said = json.loads(path.read_text()) if path.exists() else {}
        return {key: tuple(value) if key in _TUPLES else value for key, value in said.items()}

    def settings(self, **more: Any) -> Settings:
        return Settings(**{**self.options, **more})

    def correct(self, data: bytes | None = None, **more: Any) -> Outcome:
        return correct(
            self.data if data is None else data, self.program.name, self.table, self.settings(**more)
        )

    def list(self, data: bytes | None = None, **more: Any) -> Outcome:
        data = self.data if data is None else data
        return list_features(data, self.program.name, self.table, self.settings(**more))

    @cached_property
    def outcome(self) -> Outcome:
        """The run, worked out once."""
        return self.correct()

    @cached_property
    def expected(self) -> bytes:
        return (self.folder / "expected.nc").read_bytes().replace(VERSION, __version__.encode())

    @cached_property
    def expected_listing(self) -> dict[str, Any]:
        return json.loads((self.folder / "listing.json").read_text(encoding="utf-8"))


def all_cases() -> list[Case]:
    return [Case(folder) for folder in sorted(CASES.iterdir()) if folder.is_dir()]


def lasting(outcome: Outcome) -> dict[str, Any]:
    """A listing without what a new wording or a new version may change: hash and sentences.

    Feeds are left out as well: they are information that no correction depends on.
    """
    full = listing(outcome)
    del full["program"]["sha256"]
    for feature in full["features"]:
        del feature["why"], feature["feed"]
    return full

"""Surroundings: the cuts about the rings of one frame and plane, gathered only where they are asked for."""

from __future__ import annotations

from msgspec import Struct

from roundwright.find.cuts import Cuts, Cutters, Rows, gather_cuts
from roundwright.find.zone import Zones, moves_near
from roundwright.trace.moves import Moves


class Surroundings(Struct, eq=False):
    """The moves of one frame that come near any of its rings, and how they cut; `row` (k,) are theirs."""

    moves: Moves
    cutters: Cutters
    row: Rows
    normal: int
    contour: bool
    _cuts: Cuts | None = None

    @property
    def cuts(self) -> Cuts:
        """All of them; once made they are kept."""
        if self._cuts is None:
            self._cuts = self._gathered(self.row)
        return self._cuts

    def near(self, zones: Zones) -> Cuts:
        """Those that come near some of the rings, with what stands in the same blocks."""
        return self._gathered(self.row[moves_near(self.moves, self.normal, zones)[self.row]])

    def _gathered(self, row: Rows) -> Cuts:
        return gather_cuts(self.moves, self.cutters, row, self.normal, contour=self.contour)

"""The one family of errors: what is wrong, where, and what to do about it."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from msgspec import Struct


class Place(Struct, frozen=True):
    """Where in which text something stands; lines and columns count from 1."""

    name: str
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        parts = [self.name, *(str(n) for n in (self.line, self.column) if n is not None)]
        return ":".join(parts)


class RoundwrightError(Exception):
    """Base of all errors that a caller of roundwright can meet.

    `what` says what is wrong, `cure` what to do about it, `place` where it is, each in plain words.
    """

    def __init__(self, what: str, *, place: Place | None = None, cure: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.place = place
        self.cure = cure

    def __str__(self) -> str:
        head = f"{self.place}: {self.what}" if self.place else self.what
        return f"{head}. {self.cure}" if self.cure else head


class ProgramError(RoundwrightError):
    """The program cannot be taken: not text, already corrected, contradictory."""


class TableError(RoundwrightError):
    """The calibration table cannot be used as it stands."""


class SettingsError(RoundwrightError):
    """What the caller asked for cannot be: an unknown tool, a length without sense."""


class CannotWrite(RoundwrightError):
    """A planned circle cannot be written with the decimals that the control reads.

    `rows` are the moves that fail; the pipeline leaves their features alone and plans again. `each` says what
    is wrong with each, where that differs.
    """

    def __init__(
        self, what: str, *, rows: tuple[int, ...], cure: str = "", each: Mapping[int, str] | None = None
    ) -> None:
        super().__init__(what, cure=cure)
        self.rows = rows
        self.each = each or {}

    def about(self, rows: Collection[int]) -> str:
        """What is wrong with the first of these rows that fails."""
        return next((self.each[row] for row in sorted(self.each) if row in rows), self.what)


class ProofError(RoundwrightError):
    """The corrected program broke a promise; nothing of it may be handed out."""


class NotFoundAgain(ProofError):
    """A feature of the corrected program is not found as it was.

    `features` are the corrected ones that may be why; the pipeline leaves them alone and plans again.
    """

    def __init__(self, refusal: ProofError, features: tuple[str, ...]) -> None:
        super().__init__(refusal.what, place=refusal.place, cure=refusal.cure)
        self.features = features

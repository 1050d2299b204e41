"""Blocks of a program, made of pygcode's words and read back by it; positions in whole last decimals."""

from __future__ import annotations

from textwrap import wrap

from pygcode import Block
from pygcode.comment import Comment
from pygcode.gcodes import (
    GCode,
    GCodeArcMoveCCW,
    GCodeArcMoveCW,
    GCodeFeedRate,
    GCodeLinearMove,
    GCodeRapidMove,
)
from pygcode.words import Word

from roundwright.units import native

#: some controls stop at comments that are longer.
_COMMENT = 68
_ORDER = "XYZIJ"

Point = tuple[float, float]


class Number(Word):  # type: ignore[misc]  # pygcode comes without types
    """A word that keeps its decimals: pygcode's own keeps three, and six digits in all."""

    def __init__(self, letter: str, value: float, decimals: int) -> None:
        super().__init__(letter, value)
        self.decimals = decimals

    @property
    def value_str(self) -> str:
        """The value without idle zeros, with its point: a number without one is tiny to some controls."""
        text = f"{self.value:.{self.decimals}f}"
        return text.rstrip("0") if self.decimals else text


class Blocks:
    """Collects the lines of a program. Lengths come in mm and go out in the program's unit."""

    def __init__(self, *, inch: bool, decimals: int) -> None:
        self.inch = inch
        self.decimals = decimals
        self.lines: list[str] = []
        self._feed: float | None = None

    def remark(self, text: str) -> None:
        """A comment, on as many lines as it needs, in what any control can read."""
        plain = "".join(c if " " <= c <= "~" and c not in "()%;" else "-" for c in text)
        self.lines += [str(Comment(line)) for line in wrap(plain, _COMMENT) or [""]]

    def gap(self) -> None:
        """An empty line, for people."""
        self.lines.append("")

    def codes(self, *codes: GCode) -> None:
        """One block of these codes."""
        words = [
            str(word)
            for code in codes
            for word in (code.word, *(code.params[k] for k in _ORDER if k in code.params))
        ]
        text = " ".join(words)
        read = Block(text)  # raises where it is no block: a word twice, two codes of one group
        assert [str(w.letter) for w in read.words] == [word[0] for word in words]
        self.lines.append(text)

    def rapid(self, at: Point | None = None, z: float | None = None) -> None:
        """G0 to a point of the plane, or to a height."""
        self.codes(_code(GCodeRapidMove, self._axes(at, z)))

    def feed(self, at: Point | None, z: float | None, speed: float) -> None:
        """G1 there at a feed in mm/min."""
        self.codes(_code(GCodeLinearMove, self._axes(at, z)), *self._fed(speed))

    def circle(self, centre: Point, start: Point, *, ccw: bool, z: float | None, speed: float) -> None:
        """A whole turn about `centre` from `start`, where the tool is, and down to `z` where there is one.

        The offsets are taken from the rounded points, so start, end and centre agree to the last decimal.
        """
        offsets = [
            self._number(letter, self._whole(c) - self._whole(s))
            for letter, c, s in zip("IJ", centre, start, strict=True)
        ]
        arc = _code(GCodeArcMoveCCW if ccw else GCodeArcMoveCW, [*self._axes(start, z), *offsets])
        arc.assert_params()
        self.codes(arc, *self._fed(speed))

    def rate(self, letter: str, value: float) -> Number:
        """A feed in mm/min or a speed in 1/min as a word."""
        value = native(value, inch=self.inch) if letter == "F" else value
        whole = abs(value - round(value)) < 5e-4
        return Number(letter, value, 0 if whole else 3)

    def text(self) -> bytes:
        """The program."""
        return ("\n".join(self.lines) + "\n").encode("ascii")

    def _fed(self, speed: float) -> tuple[GCode, ...]:
        if speed == self._feed:
            return ()
        self._feed = speed
        return (GCodeFeedRate(self.rate("F", speed)),)

    def _axes(self, at: Point | None, z: float | None) -> list[Number]:
        lengths = [*zip("XY", at or (), strict=False), *([("Z", z)] if z is not None else [])]
        return [self._number(letter, self._whole(length)) for letter, length in lengths]

    def _whole(self, length: float) -> int:
        return round(native(length, inch=self.inch) * float(10**self.decimals))

    def _number(self, letter: str, whole: int) -> Number:
        return Number(letter, whole / 10**self.decimals, self.decimals)


def _code(kind: type[GCode], words: list[Number]) -> GCode:
    return kind(kind.word_key, *words)

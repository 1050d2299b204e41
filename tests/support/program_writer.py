"""Writes programs in many hands: units, decimals, eliding, centres; positions are exact as written."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import acos, atan2, ceil, cos, hypot, sin, tau
from typing import ClassVar


@dataclass(frozen=True)
class Dialect:
    """How one program is written. Lengths of the geometry are in the program's own units."""

    inch: bool = False
    decimals: int = 3
    trailing: str = "trimmed"  # trimmed "12.5", fixed "12.500", point "12."
    leading_zero: bool = True
    newline: str = "\n"
    lower: bool = False
    numbered: bool = False
    elide: bool = True  # leave out unchanged axes and zero centre offsets
    sticky: bool = True  # leave out the G word that is in force
    blank: str = " "
    incremental: bool = False
    centres: str = "incremental"  # incremental, absolute (said), implied (absolute, not said), r
    clockwise: bool | None = True  # M3, M4, or no word
    plane: str = "G17"

    #: letters of the first, second and normal axis, and of the centre's offsets, by plane
    LETTERS: ClassVar[dict[str, str]] = {"G17": "XYZIJ", "G18": "ZXYKI", "G19": "YZXJK"}

    @property
    def letters(self) -> str:
        return self.LETTERS[self.plane]

    @property
    def k(self) -> float:
        """Millimetres in a program unit."""
        return 25.4 if self.inch else 1.0


class Writer:
    """Collects blocks. `at` is the position in whole units of the last decimal."""

    def __init__(self, dialect: Dialect) -> None:
        self.dialect = dialect
        self.at = [0, 0, 0]
        self.motion = ""
        self.feed = None
        self.lines: list[str] = []
        self.contour = True  # compensated paths are the contour itself
        self.words: tuple[str, ...] = ()  # to stand before the next straight move
        #: asked for every arc: how many chords a turn at least, 0 for an arc
        self.chords: Callable[[], int] = lambda: 0

    @property
    def unit(self) -> float:
        return 10.0**-self.dialect.decimals

    def axis(self, n: int, value: float) -> str:
        """A word: n counts first, second, normal, first offset, second offset."""
        return self.dialect.letters[n] + self.text(self.whole(value))

    def whole(self, value: float) -> int:
        return round(value / self.unit)

    def text(self, whole: int) -> str:
        d = self.dialect
        digits = f"{abs(whole):0{d.decimals + 1}d}"
        head, tail = digits[: -d.decimals], digits[-d.decimals :]
        if d.trailing != "fixed":
            tail = tail.rstrip("0")
        if head == "0" and tail and not d.leading_zero:
            head = ""
        point = "." if tail or d.trailing == "point" else ""
        return ("-" if whole < 0 else "") + head + point + tail

    def block(self, *words: str) -> None:
        line = self.dialect.blank.join(words)
        if self.dialect.numbered and not line.startswith(("(", "%")):
            line = f"N{10 * (len(self.lines) + 1)} {line}"
        self.lines.append(line.lower() if self.dialect.lower else line)

    def plane(self, code: str) -> None:
        """Another plane; the tool stays where it is."""
        at = dict(zip(self.dialect.letters, self.at, strict=False))
        self.dialect = replace(self.dialect, plane=code)
        self.at = [at[letter] for letter in self.dialect.letters[:3]]
        self.block(code)

    def comment(self, text: str) -> None:
        self.lines.append(f"({text})")

    def go(self, g: int, x=None, y=None, z=None, f=None) -> None:
        """A straight move, in program units; where nothing changes nothing is written."""
        target = [a if v is None else self.whole(v) for a, v in zip(self.at, (x, y, z), strict=True)]
        if target == self.at:
            return
        given = [v is not None for v in (x, y, z)]
        self.block(*self.words, *self._g(g), *self._axes(target, given), *self._f(f))
        self.at, self.words = target, ()

    def arc(self, ccw: bool, end, centre, z=None, f=None, turns: int = 1) -> None:
        """An arc about `centre`, or its chords; a full circle where the end is the start."""
        if number := self.chords():
            self._as_chords(number, ccw, end, centre, z, f, turns)
            return
        target = [self.whole(end[0]), self.whole(end[1]), self.at[2] if z is None else self.whole(z)]
        full = target[:2] == self.at[:2]
        words = [*self._g(3 if ccw else 2, arc=True)]
        given = [not (full and self.dialect.elide), not (full and self.dialect.elide), z is not None]
        words += self._axes(target, given)
        words += self._centre(ccw, target, centre)
        if turns > 1:
            words.append(f"P{turns}")
        self.block(*words, *self._f(f))
        self.at = target

    def _as_chords(self, number: int, ccw: bool, end, centre, z, f, turns: int) -> None:
        """Straights with corners on the arc; none stands off by over 0.09 mm or spans over 30°."""
        x, y, z_from = (v * self.unit for v in self.at)
        a = atan2(y - centre[1], x - centre[0])
        full = [self.whole(v) for v in end] == self.at[:2]
        b = atan2(end[1] - centre[1], end[0] - centre[0])
        sweep = tau if full else (b - a if ccw else a - b) % tau
        sweep += tau * (turns - 1)
        radius = hypot(end[0] - centre[0], end[1] - centre[1])
        widest = min(tau / 12, 2 * acos(max(-1.0, 1 - 0.09 / (radius * self.dialect.k))), tau / number)
        steps = ceil(sweep / widest + 1e-9)
        for k in range(1, steps + 1):
            angle = a + (1 if ccw else -1) * sweep * k / steps
            point = end if k == steps else (centre[0] + radius * cos(angle), centre[1] + radius * sin(angle))
            self.go(1, *point, None if z is None else z_from + (z - z_from) * k / steps, f=f)

    def _g(self, g: int, arc: bool = False) -> list[str]:
        name = f"G{g}"
        if self.dialect.sticky and self.motion == name:
            return []
        self.motion = name
        return [name]

    def _f(self, f: float | None) -> list[str]:
        if f is None or f == self.feed:
            return []
        self.feed = f
        return [f"F{f:g}"]

    def _axes(self, target: list[int], given: list[bool]) -> list[str]:
        words = []
        for letter, old, new, said in zip(self.dialect.letters[:3], self.at, target, given, strict=True):
            if said and (old != new or not self.dialect.elide):
                words.append(letter + self.text(new - old if self.dialect.incremental else new))
        return words

    def _centre(self, ccw: bool, target: list[int], centre) -> list[str]:
        d = self.dialect
        start = [v * self.unit for v in self.at[:2]]
        if d.centres == "r" and target[:2] != self.at[:2]:
            return ["R" + self.text(self._r(ccw, start, [v * self.unit for v in target[:2]], centre))]
        if d.centres in ("absolute", "implied"):
            return [self.axis(3, centre[0]), self.axis(4, centre[1])]
        offsets = [self.whole(c) - s for c, s in zip(centre, self.at, strict=False)]
        words = [n + self.text(o) for n, o in zip(d.letters[3:], offsets, strict=True) if o or not d.elide]
        return words or [d.letters[3] + self.text(0)]

    def _r(self, ccw: bool, start, end, centre) -> int:
        a, b = (atan2(p[1] - centre[1], p[0] - centre[0]) for p in (start, end))
        sweep = (b - a if ccw else a - b) % tau
        half = hypot(end[0] - start[0], end[1] - start[1]) / 2
        radius = self.whole(hypot(start[0] - centre[0], start[1] - centre[1]))
        radius = max(radius, ceil(half / self.unit - 1e-6))
        return -radius if sweep > tau / 2 + 1e-3 else radius

    def program(self) -> bytes:
        return (self.dialect.newline.join(self.lines) + self.dialect.newline).encode()

"""Programs that nobody should have written, each at any size: refused or proven, in bounds."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from functools import partial
from itertools import count
from math import cos, radians, sin

Maker = Callable[[int], bytes]

HEAD = b"G21 G90 G17\nT1 M6\nM3 S16000\nG0 Z5\n"
BORE = (
    b"G0 X50. Y40.\nG1 Z-3. F300\nG1 X57. Y40. F900\nG3 X43. Y40. I-7. J0.\nG3 X57. Y40. I7. J0.\n"
    b"G1 X50. Y40.\nG0 Z5.\n"
)
#: a shop's table that has readings for the cutter of these programs.
TABLE = """\
schema = "roundwright.table/1"
[machine]
name = "shop-router"
units = "mm"
[defaults]
material = "birch ply"
side = "hole"
[[tool]]
number = 1
diameter = 6.0
[[condition]]
tool = 1
material = "birch ply"
side = "hole"
cut = "climb"
readings = [{ programmed = 10.0, diameter = 9.9 }, { programmed = 30.0, diameter = 29.8 }]
"""


def one_line(piece: bytes) -> Maker:
    """A single line of one piece over and over, behind a sound bore."""
    return lambda size: HEAD + BORE + piece * max(1, size // len(piece)) + b"\n"


def lines(piece: bytes) -> Maker:
    """The same line over and over, behind a sound bore."""
    return one_line(piece + b"\n")


def numbered(piece: str, step: float = 0.001) -> Maker:
    """Lines that count up: `{x}` and `{n}` in the piece stand for a length and a whole number."""

    def make(size: int) -> bytes:
        text, held = [HEAD, BORE], 0
        for n in count():
            if held >= size:
                return b"".join(text)
            text.append(piece.format(x=f"{n * step:.3f}", n=n).encode() + b"\n")
            held += len(text[-1])
        raise AssertionError("count ends nowhere")

    return make


def bores(size: int, before: str = "", apart: float = 25.0) -> bytes:
    """A grid of sound bores, as many as fit, each with these lines before it; `{n}` counts them."""
    text, held = [HEAD], 0
    for n in count():
        if held >= size:
            return b"".join([*text, b"M30\n"])
        x, y = 50 + apart * (n % 300), 40 + apart * (n // 300)
        bore = (
            before.format(n=n + 1)
            + f"G0 X{x:g} Y{y:g}\nG1 Z-3. F300\nG1 X{x + 7:g} Y{y:g} F900\nG3 X{x - 7:g} Y{y:g} I-7. J0.\n"
            f"G3 X{x + 7:g} Y{y:g} I7. J0.\nG1 X{x:g} Y{y:g}\nG0 Z5.\n"
        )
        text.append(bore.encode())
        held += len(bore)
    raise AssertionError("count ends nowhere")


def chorded(grows: float, sinks: float = 0.0) -> Maker:
    """One run of chords round one point that grows or sinks from turn to turn."""

    def make(size: int) -> bytes:
        text, held = [HEAD, b"G0 X67. Y40.\nG1 Z-1.\n"], 0
        for n in count():
            if held >= size:
                return b"".join(text)
            turn, angle = n // 90, radians(4 * n)
            eased = turn // 2 + turn % 2 * (n % 90) / 90  # a turn of one radius, a turn on to the next
            r = 17 + eased * grows
            x, y = 50 + r * cos(angle), 40 + r * sin(angle)
            text.append(f"G1 X{x:.3f} Y{y:.3f} Z{-1 - turn * sinks:.3f}\n".encode())
            held += len(text[-1])
        raise AssertionError("count ends nowhere")

    return make


def archive(size: int) -> bytes:
    """A program in an archive."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_STORED) as packed:
        packed.writestr("panel.nc", bores(size))
    return held.getvalue()


def noise(size: int) -> bytes:
    """Bytes without sense, the same each time."""
    state, text = 12345, bytearray()
    while len(text) < min(size, 1 << 20):
        state = (state * 6364136223846793005 + 1442695040888963407) % 2**64
        text += state.to_bytes(8, "little")
    return bytes(text) * max(1, size >> 20)


def cut_short(size: int) -> bytes:
    """Bores, ended in the middle of a number."""
    return bores(size)[: size - size % 97]


def both_ways(size: int) -> bytes:
    """A comment that opens on each line and closes on none."""
    return HEAD + BORE + b"(a G1 X5 ( Y6\n" * (size // 14)


HOSTILE: dict[str, Maker] = {
    "empty": lambda size: b"",
    "blanks, one line": one_line(b" "),
    "line ends": one_line(b"\n"),
    "carriage returns": one_line(b"\r"),
    "words, one block": one_line(b"X1 "),
    "words without blanks, one block": one_line(b"X1Y2"),
    "moves, one block": one_line(b"G1 X1.5 Y2.5 I1 J2 F900 "),
    "G words, one block": one_line(b"G1G0"),
    "M words, one block": one_line(b"M3M5"),
    "N words, one block": one_line(b"N5"),
    "letters, one line": one_line(b"X"),
    "letter pairs, one line": one_line(b"XY"),
    "digits, one line": one_line(b"9"),
    "points, one line": one_line(b"X."),
    "signs, one line": one_line(b"X--1"),
    "exponents, one line": one_line(b"X1E5"),
    "a number of blanks, one line": lambda size: HEAD + BORE + b"X1" + b" " * size + b"5\n",
    "open brackets, one line": one_line(b"["),
    "function calls, one line": one_line(b"X[SIN["),
    "brackets behind letters, one line": lambda size: (
        HEAD + b"#1=" + b"A[" * (size // 4) + b"]" * (size // 4)
    ),
    "capitals and a bracket, one line": lambda size: HEAD + b"#1=" + b"A" * size + b"\n",
    "named variables, one line": one_line(b"#<a>"),
    "open names, one line": one_line(b"#<"),
    "expressions, one line": one_line(b"X[1+2]"),
    "percent signs, one line": one_line(b"%"),
    "stars, one line": one_line(b"*"),
    "checksums, one line": one_line(b"*5"),
    "slashes, one line": one_line(b"/"),
    "open comments, one line": one_line(b"("),
    "closed comments, one line": one_line(b"()"),
    "words between comments, one line": one_line(b"(a)X1"),
    "closing marks, one line": one_line(b")"),
    "closing marks behind words, one line": one_line(b"X1)"),
    "comments in comments, one line": one_line(b"(a (b))"),
    "semicolons, one line": one_line(b";"),
    "a comment, one line": lambda size: HEAD + BORE + b"(" + b"a" * size + b")\n",
    "quotes, one line": one_line(b'"'),
    "zeros, one line": lambda size: HEAD + BORE + b"X" + b"0" * size + b"1\n",
    "NUL, one line": one_line(b"\0"),
    "high bytes, one line": one_line(b"\xe4"),
    "open comments": both_ways,
    "comments in comments": lines(b"(a (b)) G1 X5"),
    "comments in comments, words between": lines(b"(a (b) X1 )"),
    "numbers of 400 digits": lines(b"G1 X" + b"7" * 400),
    "fractions of 400 digits": lines(b"G1 X1." + b"3" * 400),
    "too large numbers": lines(b"G1 X1e400"),
    "infinities": lines(b"G1 XINF YNAN"),
    "empty words": lines(b"X-"),
    "two signs": lines(b"X--1"),
    "letters without numbers": lines(b"XY"),
    "a word twice": lines(b"G1 X1 X2"),
    "two motion codes": lines(b"G1 G0 X1"),
    "arcs of no radius": lines(b"G2 X57 Y40 I0 J0"),
    "arcs of no size": lines(b"G2 X50 Y40 R0"),
    "arcs without a centre": lines(b"G2 X1 Y1"),
    "arcs with two radii": lines(b"G3 X1 Y1 I5 J7\nG3 X0 Y0 I5 J7"),
    "arcs with a short R": numbered("G2 X{x} Y9 R1", 3.0),
    "letters one a line": lines(b"X"),
    "moves one a line": lines(b"X1"),
    "program numbers": lines(b"O1"),
    "calls": lines(b"M98 P1"),
    "assignments": lines(b"#1=5"),
    "expressions": lines(b"G1 X[#1+2]"),
    "jumps": lines(b"IF[#1EQ2]GOTO5"),
    "tape marks": lambda size: b"%\n" * (size // 2),
    "text": lines(b"the quick brown fox jumps over the lazy dog"),
    "work offsets": numbered("G92 X{x}"),
    "tools": numbered("T{n} M6"),
    "planes": lines(b"G18\nG3 X1 Z1 I1 K0\nG17"),
    "units": lines(b"G20\nG1 X1\nG21\nG1 X1"),
    "modes": lines(b"G91\nG1 X1\nG90"),
    "unknown codes": numbered("G{n}.7 X1"),
    "line": numbered("G1 X{x} Y5"),
    "zigzag": lines(b"G1 X9 Y5\nG1 X1 Y5"),
    "circle in one place": lines(b"G3 X57. Y40. I-7. J0."),
    "circle in one place, short lines": lines(b"G3 X1 Y1 I5 J7"),
    "plunged circle in one place": lines(b"G0 Z5.\nG1 Z-3.\nG3 X57. Y40. I-7. J0."),
    "circles on one centre": numbered("G1 X{x} Y0\nG3 X{x} Y0 I-{x} J0", 0.01),
    "rings apart on one centre": numbered("G0 Z5\nG0 X{x} Y0\nG1 Z-1\nG3 X{x} Y0 I-{x} J0", 13.0),
    "circles on one centre, each deeper": numbered("G0 Z5\nG1 X{x} Y0 Z-{x}\nG3 X{x} Y0 I-{x} J0", 0.01),
    "circles that overlap": numbered("G0 Z5\nG0 X{x} Y0\nG1 Z-1\nG3 X{x} Y0 I-7. J0", 0.5),
    "helix": numbered("G3 X57. Y40. Z-{x} I-7. J0."),
    "halves in R form": lines(b"G3 X43. Y40. R7.\nG3 X57. Y40. R7."),
    "small arcs": numbered("G3 X{x} Y0 R5", 0.01),
    "short chords": numbered("G1 X{x} Y{n}", 0.5),
    "bores": bores,
    "bores that touch": partial(bores, apart=20.0),
    "bores that meet": partial(bores, apart=15.0),
    "bores in one place": partial(bores, apart=0.0),
    "a bore with tabs": numbered("G3 X43. Y40. I-7. J0. Z-{x}\nG1 Z-1.\nG3 X57. Y40. I7. J0.\nG1 Z-2."),
    "subprograms": numbered("O{n}\nG0 X57. Y40.\nG1 Z-3.\nG3 X57. Y40. I-7. J0.\nM99"),
    "bores, each in a frame": lambda size: bores(size, "G92 X{n}.5\n"),
    "bores, each with a tool": lambda size: bores(size, "T{n} M6\n"),
    "chords that grow": chorded(0.05),
    "chords that sink": chorded(0.0, 0.01),
    "chords in one place": chorded(0.0),
    "cut short": cut_short,
    "UTF-16": lambda size: bores(size // 2).decode().encode("utf-16"),
    "UTF-16 without its mark": lambda size: bores(size // 2).decode().encode("utf-16-le"),
    "archive": archive,
    "noise": noise,
}

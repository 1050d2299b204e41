"""Break a sound corrected program in one place: the proof must refuse every one of these mutants."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from proof_pairs import (
    ADDED,
    CHORDS,
    INCH_HALVES,
    INCREMENTAL,
    MARKED,
    PAIRS,
    PANEL,
    STAMP,
    TIMED,
    Pair,
    changed,
    summed,
)
from roundwright.errors import ProofError


def lines(*order: int) -> Callable[[bytes], bytes]:
    """Only these lines (from 1), in this order."""

    def mutate(text: bytes) -> bytes:
        all_lines = text.splitlines(keepends=True)
        return b"".join(all_lines[k - 1] for k in order)

    return mutate


def resummed(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    """Replace a piece in a program with checksums, and set all checksums right."""

    def mutate(text: bytes) -> bytes:
        bare = b"\n".join(line.partition(b"*")[0] for line in text.splitlines())
        assert bare.count(old) == 1
        return summed(bare.replace(old, new))

    return mutate


STAMP_LINE = b"(%s)\n" % STAMP.encode()
#: what is broken, in which pair, on which line of the new program (from 1), what by what.
PLACED: tuple[tuple[str, Pair, int, bytes, bytes], ...] = (
    ("X of the lead, one digit", PANEL, 9, b"X57.067", b"X57.064"),
    ("lead not moved", PANEL, 9, b"X57.067", b"X57."),
    ("X of the ring, not moved", PANEL, 11, b"X42.933", b"X43."),
    ("X of the ring, wrong way", PANEL, 11, b"X42.933", b"X43.067"),
    ("X, sign lost", PANEL, 11, b"X42.933", b"X-42.933"),
    ("X, decimal slip", PANEL, 10, b"X57.067", b"X570.67"),
    ("X, unit slip", PANEL, 10, b"X57.067", b"X2.24673"),
    ("X, point lost", PANEL, 10, b"X57.067", b"X57067"),
    ("X, blank inside", PANEL, 10, b"X57.067", b"X57. 067"),
    ("X, more decimals than the control reads", PANEL, 10, b"X57.067", b"X57.0670001"),
    ("X, exponent", PANEL, 10, b"X57.067", b"X5.7067E1"),
    ("X, an expression", PANEL, 10, b"X57.067", b"X[57.067]"),
    ("X for Y", PANEL, 11, b"X42.933", b"Y42.933"),
    ("Y of the ring", PANEL, 10, b"Y40.", b"Y40.067"),
    ("Y rewritten without need", PANEL, 10, b"Y40.", b"Y40.000"),
    ("I, sign", PANEL, 10, b"I-7.067", b"I7.067"),
    ("I not moved", PANEL, 11, b"I-7.067", b"I-7."),
    ("I, wrong way", PANEL, 12, b"I7.067", b"I6.933"),
    ("I, last digits", PANEL, 12, b"I7.067", b"I7.070"),
    ("I, unit slip", PANEL, 12, b"I7.067", b"I0.27823"),
    ("I for J", PANEL, 12, b"I7.067", b"J7.067"),
    ("J of the ring", PANEL, 12, b"J0.", b"J0.01"),
    ("R beside I J", PANEL, 12, b"J0.", b"R7.067"),
    ("a word lost", PANEL, 11, b" J0.", b""),
    ("a word doubled", PANEL, 11, b" J0.", b" J0. J0."),
    ("K added to an arc of this plane", PANEL, 11, b" J0.", b" J0. K0.5"),
    ("words in another order", PANEL, 11, b"I-7.067 J0.", b"J0. I-7.067"),
    ("Z added to the ring", PANEL, 11, b" J0.", b" J0. Z-3.5"),
    ("Z of the plunge", PANEL, 8, b"Z-3.", b"Z-3.5"),
    ("Z sign of the retract", PANEL, 15, b"Z5.", b"Z-5."),
    ("clearance height", PANEL, 7, b"Z5.", b"Z0.5"),
    ("rejoin missed", PANEL, 13, b"X50.", b"X50.067"),
    ("F of the lead", PANEL, 9, b"F1800", b"F1900"),
    ("F of the plunge", PANEL, 8, b"F400", b"F4000"),
    ("F lost", PANEL, 9, b" F1800", b""),
    ("S", PANEL, 6, b"S16000", b"S1600"),
    ("M3 to M4", PANEL, 6, b"M3", b"M4"),
    ("T", PANEL, 5, b"T1", b"T2"),
    ("M6 lost", PANEL, 5, b" M6", b""),
    ("G3 to G2", PANEL, 10, b"G3", b"G2"),
    ("G1 to G0", PANEL, 9, b"G1", b"G0"),
    ("G17 to G18", PANEL, 4, b"G17", b"G18"),
    ("G90 to G91", PANEL, 4, b"G90", b"G91"),
    ("G21 to G20", PANEL, 4, b"G21", b"G20"),
    ("G94 to G95", PANEL, 4, b"G94", b"G95"),
    ("G55 to G56", PANEL, 29, b"G55", b"G56"),
    ("dwell", PANEL, 14, b"P0.5", b"P5"),
    ("program number", PANEL, 2, b"1001", b"1002"),
    ("comment changed", PANEL, 16, b"stays", b"moves"),
    ("comment of a changed line", PANEL, 9, b"(lead)", b"(Lead)"),
    ("comment of a changed line lost", PANEL, 9, b" (lead)", b""),
    ("lower case", PANEL, 9, b"X", b"x"),
    ("two blanks for one", PANEL, 9, b" X", b"  X"),
    ("block delete", PANEL, 9, b"G1", b"/G1"),
    ("line end", PANEL, 9, b"\n", b"\r\n"),
    ("line end elsewhere", PANEL, 21, b"\n", b"\r\n"),
    ("the other bore moved", PANEL, 20, b"I-4.5", b"I-4.567"),
    ("lead of the other bore", PANEL, 19, b"X84.5", b"X84.567"),
    ("the fillet", PANEL, 26, b"J5.", b"J5.001"),
    ("the contour", PANEL, 27, b"Y20.", b"Y20.001"),
    ("stamp says something else", PANEL, 3, b"shop", b"chop"),
    ("stamp with a block behind it", PANEL, 3, b")", b") G0 Z-5"),
    ("stamp is no comment", PANEL, 3, STAMP_LINE, b"G0 Z-20\n"),
    ("inch: X last digit", INCH_HALVES, 7, b"1.5025", b"1.5027"),
    ("inch: R not moved", INCH_HALVES, 8, b"R.5025", b"R.5"),
    ("inch: R last digit", INCH_HALVES, 8, b"R.5025", b"R.5027"),
    ("inch: R negative", INCH_HALVES, 8, b"R.5025", b"R-.5025"),
    ("inch: R decimal slip", INCH_HALVES, 9, b"R.5025", b"R5.025"),
    ("inch: R in millimetres", INCH_HALVES, 9, b"R.5025", b"R12.7635"),
    ("inch: X end", INCH_HALVES, 8, b"X.4975", b"X.5025"),
    ("inch: CRLF to LF", INCH_HALVES, 8, b"\r\n", b"\n"),
    ("relative: rejoin missed", INCREMENTAL, 9, b"X-7.067", b"X-7"),
    ("relative: rejoin missed by a digit", INCREMENTAL, 9, b"X-7.067", b"X-7.066"),
    ("relative: lead not moved", INCREMENTAL, 6, b"X7.067", b"X7"),
    ("relative: X sign", INCREMENTAL, 7, b"X-14.134", b"X14.134"),
    ("relative: half of the way", INCREMENTAL, 8, b"X14.134", b"X14.067"),
    ("relative: line end at the end", INCREMENTAL, 13, b"M30", b"M30\n"),
    ("added word lost", ADDED, 8, b"x53.000 ", b""),
    ("added word, value", ADDED, 8, b"x53.000", b"x53.030"),
    ("added word, two blanks", ADDED, 8, b"x53.000 ", b"x53.000  "),
    ("added word, case of its neighbours lost", ADDED, 6, b"y44.040", b"z44.040"),
    ("added word, upper case", ADDED, 8, b"x53.000", b"X53.000"),
    ("added word, its blank lost", ADDED, 6, b"y44.040 f900", b"y44.040f900"),
    ("added word, blank inside", ADDED, 8, b"x53.000", b"x53. 000"),
    ("added word not needed", ADDED, 7, b"g3 i", b"g3 x53.030 i"),
    ("full circle turned into an arc", ADDED, 7, b"g3 i", b"g3 x53.029 i"),
    ("chords: one corner as before", CHORDS, 10, b"X51.825 Y46.810", b"X51.812 Y46.761"),
    ("chords: one corner off", CHORDS, 10, b"Y46.810", b"Y46.813"),
    ("chords: two axes swapped", CHORDS, 7, b"X56.105 Y43.525", b"X43.525 Y56.106"),
    ("checksum", TIMED, 7, b"*", b"*1"),
    ("checksum lost", TIMED, 7, b"*", b" ;"),
    ("line number", TIMED, 7, b"N7", b"N9"),
)

WHOLE: tuple[tuple[str, Pair, Callable[[bytes], bytes]], ...] = (
    ("a line lost", PANEL, lines(*range(1, 12), *range(13, 34))),
    ("a line doubled", PANEL, lines(*range(1, 12), 11, *range(12, 34))),
    ("two lines swapped", PANEL, lines(*range(1, 11), 12, 11, *range(13, 34))),
    ("retract and traverse swapped", PANEL, lines(*range(1, 15), 16, 15, *range(17, 34))),
    ("cut short", PANEL, lines(*range(1, 20))),
    ("empty", PANEL, lambda text: b""),
    ("stamp lost", PANEL, lines(1, 2, *range(4, 34))),
    ("stamp doubled", PANEL, lines(1, 2, 3, *range(3, 34))),
    ("stamp before the tape mark", PANEL, lines(3, 1, 2, *range(4, 34))),
    ("stamp before the program number", PANEL, lines(1, 3, 2, *range(4, 34))),
    ("stamp at the end", PANEL, lines(1, 2, *range(4, 34), 3)),
    ("stamp before the tape mark, after a block", PANEL, lines(1, 2, 4, 3, *range(5, 34))),
    ("a stamp nobody planned", INCH_HALVES, lambda text: b"(corrected)\r\n" + text),
    ("nothing written", PANEL, lambda text: PANEL.old),
    ("nothing written, inch", INCH_HALVES, lambda text: INCH_HALVES.old),
    ("nothing written, relative", INCREMENTAL, lambda text: INCREMENTAL.old),
    ("all line ends", PANEL, lambda text: text.replace(b"\n", b"\r\n")),
    ("last line end lost", PANEL, lambda text: text.removesuffix(b"\n")),
    ("byte order mark", INCH_HALVES, lambda text: b"\xef\xbb\xbf" + text),
    ("byte order mark lost", MARKED, lambda text: text[3:]),
    ("byte order mark behind the stamp", MARKED, lambda text: text[3:].replace(b"G20", text[:3] + b"G20")),
    ("stamp with another line end", MARKED, lambda text: text.replace(b"mill\r\n", b"mill\n")),
    ("stamp with another number", MARKED, lambda text: text.replace(b"5/8", b"3/8")),
    ("stamp that ends its own comment", MARKED, lambda text: text.replace(b"in]", b"in)")),
    (
        "stamp with the character that was to be replaced",
        MARKED,
        lambda text: text.replace(b"Joe-s", b"Joe's"),
    ),
    ("inverse time: F as before", TIMED, resummed(b"F19.810", b"F20")),
    ("inverse time: F the wrong way", TIMED, resummed(b"F19.810", b"F20.191")),
    ("inverse time: F of the plunge", TIMED, resummed(b"F400", b"F401")),
    ("wrong radius with right checksums", TIMED, resummed(b"I-7.067", b"I-7.167")),
)

MUTANTS = tuple(
    (name, pair, lambda text, n=line, a=old, b=new: changed(text, {n: (a, b)}))
    for name, pair, line, old, new in PLACED
) + tuple(WHOLE)


@pytest.mark.parametrize("pair", PAIRS, ids=[pair.name for pair in PAIRS])
def test_the_sound_program_passes(pair: Pair) -> None:
    assert pair.new != pair.old
    pair.prove()


@pytest.mark.parametrize(("name", "pair", "mutate"), MUTANTS, ids=[name for name, _, _ in MUTANTS])
def test_every_mutant_is_refused(name: str, pair: Pair, mutate: Callable[[bytes], bytes]) -> None:
    mutant = mutate(pair.new)
    assert mutant != pair.new
    with pytest.raises(ProofError) as refusal:
        pair.prove(mutant)
    assert "breaks the promise '" in refusal.value.what
    assert refusal.value.place is not None and refusal.value.place.name == pair.name


def test_there_are_mutants_of_every_kind() -> None:
    names = [name for name, _, _ in MUTANTS]
    assert len(names) == len(set(names)) >= 40

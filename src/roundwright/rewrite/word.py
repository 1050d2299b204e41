"""Words of one block: which numbers change, and where a word that was left out is added."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np
from msgspec import Struct

from roundwright.errors import CannotWrite
from roundwright.read import Word, words_of
from roundwright.read.program import NO_VALUE, UNREAD, Source
from roundwright.rewrite.edit import Edit
from roundwright.rewrite.number import Habit, added_style, spell, style_of
from roundwright.rewrite.round import decimals_of
from roundwright.trace.codes import CODES, Act, code_table
from roundwright.trace.moves import Motion
from roundwright.units import PER_UNIT

#: the order in which words of a block are added.
ORDER = "XYZIJKR"
_BLANKS = (b" ", b"\t")
_G = ord("G")


class Number(Struct, frozen=True):
    """What a word is to say: counts of 1e-8 of the block's unit, and its decimals.

    `least` decimals at least, more where the value needs them, up to `most`.
    """

    native: int
    least: int
    most: int


class BlockWords:
    """The words of one block that may change, with their edits as they come up.

    `row` is the move that the block is.
    """

    def __init__(self, program: Source, line: int, row: int, habit: Habit) -> None:
        self.program = program
        self.line = line
        self.row = row
        self.habit = habit
        self.edits: list[Edit] = []
        self._added: list[tuple[str, bytes]] = []
        self._words: dict[str, Word] = {}
        self._doubled: set[str] = set()
        self.words = words_of(program, line)
        for word in self.words:
            letter = chr(word.letter)
            if letter in self._words:
                self._doubled.add(letter)
            else:
                self._words[letter] = word

    def value(self, letter: str) -> int | None:
        """What the word says, counts of 1e-8 of its unit; None where it is missing."""
        word = self._words.get(letter)
        return None if word is None else word.value

    def say(self, letter: str, number: Number) -> None:
        """Let the word say this number; nothing changes where it says it already.

        Raises CannotWrite where the block's words may not be changed or the decimals do not suffice.
        """
        word = self._words.get(letter)
        if word is None:
            self._allow(letter)
            self._added.append((letter, self._spelt(letter, number, b"")))
        elif word.value != number.native:
            self._allow(letter)
            text = self._spelt(letter, number, self.program.data[word.number : word.stop])
            self.edits.append(Edit(word.number, word.stop, text))

    def refuse(self, why: str, cure: str = "") -> CannotWrite:
        """The error for this block."""
        return CannotWrite(f"line {self.line + 1}: {why}", rows=(self.row,), cure=cure)

    def _allow(self, letter: str) -> None:
        if self.program.flags[self.line] & UNREAD or letter in self._doubled:
            raise self.refuse(f"its {letter} word can't be changed: the block is not read plainly")
        if any(word.letter == _G and is_special(word.value) for word in self.words):
            raise self.refuse(f"its {letter} word would have to change, and is no end of a plain move")
        word = self._words.get(letter)
        if word is not None and word.decimals == NO_VALUE:
            raise self.refuse(f"its {letter} word can't be read")

    def _spelt(self, letter: str, number: Number, old: bytes) -> bytes:
        style = style_of(old, self.habit) if old else added_style(self.habit)
        needed = decimals_of(number.native)
        decimals = max(needed, min(max(number.least, style.keep if old else 0), number.most))
        if decimals > number.most:
            raise self.refuse(
                f"its {letter} word would need {needed} decimals, the control reads {number.most}",
                "Allow more decimals in the table if the control reads them",
            )
        return spell(number.native, decimals, style)

    def finished(self) -> list[Edit]:
        """All edits of the block, added words included."""
        by_place: dict[int, bytes] = {}
        for letter, text in sorted(self._added, key=lambda item: ORDER.index(item[0])):
            place, piece = self._placed(letter, text)
            by_place[place] = by_place.get(place, b"") + piece
        return self.edits + [Edit(place, place, text) for place, text in by_place.items()]

    def _placed(self, letter: str, number: bytes) -> tuple[int, bytes]:
        """Where an added word goes, and its text with the blank that sets it apart."""
        order = ORDER.index(letter)
        present = {other: word for other, word in self._words.items() if other in ORDER}
        earlier = max((o for o in present if ORDER.index(o) < order), key=ORDER.index, default="")
        later = min((o for o in present if ORDER.index(o) > order), key=ORDER.index, default="")
        anchor = present.get(earlier or later)
        behind = bool(earlier)
        if anchor is None:
            heads = [word for word in self.words if chr(word.letter) in "GN"]
            anchor, behind = (heads[-1], True) if heads else (self.words[0], False)
        piece = self._shaped(letter, number, anchor)
        gap = self._gap(anchor)
        if behind:
            return anchor.stop, gap + piece
        return anchor.start, piece + gap

    def _shaped(self, letter: str, number: bytes, anchor: Word) -> bytes:
        """The word in the anchor's case, with its blank between letter and number."""
        data, first = self.program.data, anchor.start
        head, pad = data[first : first + 1], data[first + 1 : anchor.number]
        text = letter.lower() if head.islower() else letter
        return text.encode("ascii") + (pad if pad in _BLANKS else b"") + number

    def _gap(self, anchor: Word) -> bytes:
        """What stands between words here: nothing or one blank, as beside the anchor, else as elsewhere."""
        pairs = list(pairwise(self.words))
        for left, right in sorted(pairs, key=lambda pair: anchor not in pair):
            gap = self.program.data[left.stop : right.start]
            if not gap.strip(b" \t"):
                return gap[:1]
        return b" " if self.habit.blanks else b""


@lru_cache(maxsize=256)
def is_special(value: int) -> bool:
    """Whether a G word (counts of 1e-8) does more or else than plain motion and modes."""
    code, rest = divmod(value, PER_UNIT // 10)
    if rest or not 0 <= code < CODES:
        return True
    table = code_table(np.array([code]))
    if table.act[code] != Act.NONE:
        return True
    return bool(table.motion[code] in (Motion.CYCLE, Motion.OTHER))

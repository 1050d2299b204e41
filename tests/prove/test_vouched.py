"""Many changed blocks judged together: read as one by one, and vouched for only where each would pass."""

from __future__ import annotations

import random
from unittest import mock

import numpy as np
import pytest
from hypothesis import example, given

from program_soup import programs
from proof_pairs import PAIRS, Pair
from roundwright.errors import ProofError
from roundwright.prove import case, untouched
from roundwright.prove.blocks import read_block
from roundwright.prove.form import LONGEST, Reader
from roundwright.units import PER_UNIT

BYTES = [b"", *(bytes([c]) for c in b"0123456789.-+ \tGXYZIJKRFNM()*/;\r\n\x00")]


@given(programs)
@example(
    b"G1 X1 (a1b22)\nG1 X22.5 (a1b2)\n/1 X1\n/12 X1\nX1*15\nX1 2.5\nN12 g01x-.5\nX1234567.12345678 Y12345678"
)
def test_reads_what_the_second_reader_reads(data: bytes) -> None:
    lines = data.splitlines(keepends=True)
    ends = np.cumsum([len(line) for line in lines], dtype=np.int64)
    starts = np.concatenate(([0], ends))[:-1].astype(np.int64)
    read = Reader().read(data, starts, ends)
    for k, line in enumerate(lines):
        if read.sort[k] < 0:
            continue
        block, at = read_block(line), np.flatnonzero((read.line == k) & (read.name > 0))
        assert block is not None and len(block.words) == len(at)
        for word, w in zip(block.words, at.tolist(), strict=True):
            assert ord(word.name) == read.name[w]
            assert word.number == read.text[w].tobytes().rstrip(b"\0")
            assert word.decimals == read.decimals[w]
            if read.exact[w]:
                assert word.value * PER_UNIT == int(read.value[w])
        same = np.flatnonzero(read.sort == read.sort[k])
        gaps = [[w.before.translate(None, b"0123456789") for w in read_block(lines[j]).words] for j in same]
        assert all(gap == gaps[0] for gap in gaps)


def test_leaves_long_numbers_and_what_digits_count_in_to_the_plain_reader() -> None:
    blocks = [b"X" + b"1" * (LONGEST + 1), b"/1 X1", b"X1 *33", b"X1 2", b"X#1", b"X1"]
    ends = np.cumsum([len(block) for block in blocks])
    read = Reader().read(b"".join(blocks), np.concatenate(([0], ends[:-1])), ends)
    assert (read.sort < 0).tolist() == [True, True, True, True, True, False]


def verdict(pair: Pair, mutant: bytes) -> str:
    try:
        pair.prove(mutant)
    except ProofError as error:
        return str(error)
    return ""


def judged_one_by_one(pair: Pair, mutant: bytes) -> str:
    none = lambda of, row, cycle: np.zeros(len(row), np.bool_)  # noqa: E731
    with mock.patch.object(untouched, "_beyond_doubt", none):
        return verdict(pair, mutant)


@pytest.mark.parametrize("number", range(len(PAIRS)))
def test_the_same_verdicts_as_block_by_block(number: int) -> None:
    pair, rng = PAIRS[number], random.Random(number)
    assert verdict(pair, pair.new) == judged_one_by_one(pair, pair.new) == ""
    for _ in range(20):
        at = rng.randrange(len(pair.new))
        mutant = pair.new[:at] + rng.choice(BYTES) + pair.new[at + rng.randint(0, 1) :]
        with mock.patch.object(case, "TOGETHER", rng.choice((1, 2, 4096))):  # however many at once
            assert verdict(pair, mutant) == judged_one_by_one(pair, mutant)


def test_plain_changes_are_vouched_for_together() -> None:
    """Else all would be judged one by one, and nothing gained."""
    vouched = 0
    real = untouched._beyond_doubt

    def counted(*of: object) -> object:
        nonlocal vouched
        fine = real(*of)
        vouched += int(fine.sum())
        return fine

    with mock.patch.object(untouched, "_beyond_doubt", counted):
        for pair in PAIRS:
            pair.prove(pair.new)
    assert vouched > len(PAIRS)

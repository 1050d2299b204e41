"""Promises on what stays: the same moves in the same modal states, the same other words, the same feeds."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from roundwright.prove.case import UNCHANGED, Case, first, parts
from roundwright.prove.elsewhere import lengths
from roundwright.read import Word
from roundwright.read.distinct import distinct
from roundwright.read.excerpt import Excerpt, excerpt
from roundwright.trace.moves import Motion, Moves, State
from roundwright.units import PER_UNIT

#: an F word of G93 is written with some decimals: what that may cost of its value, and at least.
RATE_SHARE, RATE_STEP = 1e-4, 5e-4
_GEOMETRY = frozenset(b"XYZIJKR")
#: what is said of a move by its row.
_Shown = Callable[[int], object]
_LETTERS = np.array(sorted(_GEOMETRY), np.uint8)


def same_moves(case: Case) -> None:
    """As many moves as before, each of the same kind, on the same line, in the same modal state."""
    promise, old, new = "the same moves", case.old, case.new
    if len(old) != len(new):
        most = min(len(old), len(new))
        row = first(old.motion[:most] != new.motion[:most])
        line = int(old.line[most - 1 if row is None else row]) if most else 0
        raise case.broken(promise, f"expected {len(old)} moves, found {len(new)}", line)
    for what, expected, found, bad in _kinds(case):
        row = first(bad())
        if row is not None:
            text = f"{what} of a move: expected {expected(row)}, found {found(row)}"
            raise case.broken_at(promise, text, row)
    if not np.array_equal(old.arcs.row, new.arcs.row) or (old.arcs.r_form != new.arcs.r_form).any():
        raise case.broken(promise, "the arcs are not the same blocks in the same form", 0)


def _kinds(case: Case) -> tuple[tuple[str, _Shown, _Shown, Callable[[], NDArray[np.bool_]]], ...]:
    """What each move keeps: its name, what was and is there in a row, and which rows differ."""
    old, new = case.old, case.new
    return (
        (
            "line",
            lambda r: case.new_line(int(old.line[r])) + 1,
            lambda r: int(new.line[r]) + 1,
            lambda: _shifted(case),
        ),
        (
            "kind",
            lambda r: Motion(old.motion[r]).name,
            lambda r: Motion(new.motion[r]).name,
            lambda: old.motion != new.motion,
        ),
        ("modal state", lambda r: _state(old, r), lambda r: _state(new, r), lambda: _state_differs(old, new)),
        ("tool", lambda r: _tool(old, r), lambda r: _tool(new, r), lambda: _tool_differs(old, new)),
        ("work offset", lambda r: _frame(old, r), lambda r: _frame(new, r), lambda: _frame_differs(old, new)),
        (
            "known start",
            lambda r: old.start_known[r],
            lambda r: new.start_known[r],
            lambda: old.start_known != new.start_known,
        ),
        (
            "known end",
            lambda r: old.end_known[r],
            lambda r: new.end_known[r],
            lambda: old.end_known != new.end_known,
        ),
    )


def _shifted(case: Case) -> NDArray[np.bool_]:
    """Which moves are not on the line that theirs has become."""
    shifted = np.empty(len(case.old), np.bool_)
    for part in parts(len(shifted)):
        line = case.old.line[part]
        if case.stamp_line is not None:
            line = line + (line >= case.stamp_line)
        shifted[part] = line != case.new.line[part]
    return shifted


def _state(moves: Moves, row: int) -> State:
    return moves.states[int(moves.state[row])]


def _tool(moves: Moves, row: int) -> str:
    section = moves.sections[_state(moves, row).section]
    return f"T{section.tool} from section {_state(moves, row).section + 1} {section.doubtful}".strip()


def _frame(moves: Moves, row: int) -> str:
    return moves.frames[_state(moves, row).frame]


def _differs(old: Moves, new: Moves, of: Callable[[Moves, State], object]) -> NDArray[np.bool_]:
    """Which moves differ in something that hangs on their states alone."""
    goes_on = (old.state[1:] == old.state[:-1]) & (new.state[1:] == new.state[:-1])
    begins = np.flatnonzero(np.concatenate(([True], ~goes_on))[: len(old)])
    pair = old.state[begins].astype(np.int64) * len(new.states) + new.state[begins]
    pairs = distinct(pair)
    states = (divmod(number, len(new.states)) for number in pairs.tolist())
    unlike = np.array([of(old, old.states[a]) != of(new, new.states[b]) for a, b in states], np.bool_)
    return np.repeat(unlike[np.searchsorted(pairs, pair)], np.diff(begins, append=len(old)))


def _state_differs(old: Moves, new: Moves) -> NDArray[np.bool_]:
    return _differs(old, new, lambda _, state: state)


def _tool_differs(old: Moves, new: Moves) -> NDArray[np.bool_]:
    def tool(moves: Moves, state: State) -> object:
        section = moves.sections[state.section]
        return section.tool, bool(section.doubtful)  # the doubt's words name a line, which the stamp moves

    return _differs(old, new, tool)


def _frame_differs(old: Moves, new: Moves) -> NDArray[np.bool_]:
    return _differs(old, new, lambda moves, state: moves.frames[state.frame])


def same_words(case: Case) -> None:
    """Feeds, speeds, tools, offsets, dwells and every other word that is no position are the same.

    Lines whose bytes are the same have the same words: only changed ones are read.
    """
    for part in case.portions():
        was = case.words_before(part)
        now = excerpt(case.new.program, case.new_lines(case.changed[part]))
        if not _say_the_same(was, now):
            _judge_words(case, was, now)


def _judge_words(case: Case, was: Excerpt, now: Excerpt) -> None:
    """Line by line: only the F of a block in G93 may say something else."""
    inverse = {int(case.old.line[row]) for row in np.flatnonzero(_inverse_time(case.old)).tolist()}
    for k, line in enumerate(was.line.tolist()):
        others = _other_words(was.words(k)), _other_words(now.words(k))
        for expected, found in zip_longest(*others):
            if _says(expected) != _says(found) and not _timed(expected, found, line in inverse):
                what = f"expected {_shown(expected)}, found {_shown(found)}"
                raise case.broken("the same other words", what, line)


def _say_the_same(was: Excerpt, now: Excerpt) -> bool:
    """Whether the other words of all these lines are the same ones."""
    columns = []
    for one in (was, now):
        other = ~np.isin(one.letter, _LETTERS)
        columns.append([c[other] for c in (one.of_line(), one.letter, one.value, one.decimals)])
    return all(np.array_equal(a, b) for a, b in zip(*columns, strict=True))


def _other_words(words: Iterable[Word]) -> list[Word]:
    """The words that are neither positions nor arc words."""
    return [word for word in words if word.letter not in _GEOMETRY]


def _says(word: Word | None) -> tuple[int, int, int] | None:
    return None if word is None else (word.letter, word.value, word.decimals)


def _timed(old: Word | None, new: Word | None, inverse: bool) -> bool:
    """Whether the pair of words is the F of one block in G93, whose number hangs on the length."""
    return inverse and old is not None and new is not None and old.letter == new.letter == ord("F")


def _shown(word: Word | None) -> str:
    if word is None:
        return "the end of the block"
    return f"{chr(word.letter)}{word.value / PER_UNIT:g}"


def same_feeds(case: Case) -> None:
    """The feed in force is the same; in G93 the feed along the path is."""
    promise, old, new = "the same feeds and speeds", case.old, case.new
    inverse = _inverse_time(old)
    cuts = old.motion != Motion.RAPID  # a feed that no move uses may be the last one of G93
    everywhere = np.ones(1, np.bool_)
    pairs = (("speed", old.speed, new.speed, everywhere), ("feed", old.feed, new.feed, cuts & ~inverse))
    for what, was, now, where in pairs:
        if was is now:
            continue  # one column, read from lines that are the same
        row = first(where & ~((was == now) | (np.isnan(was) & np.isnan(now))))
        if row is not None:
            raise case.broken_at(promise, f"{what}: expected {was[row]:g}, found {now[row]:g}", row)
    rows = np.flatnonzero(cuts & inverse)  # a rapid takes no time from F
    was, now = lengths(old, rows, old.arcs.sweep), lengths(new, rows, new.arcs.sweep)
    same, feed = np.abs(was - now) <= UNCHANGED, old.feed[rows]
    due = np.where(same | (now == 0), feed, feed * was / np.where(now > 0, now, 1))
    room = np.where(same, 0.0, np.maximum(RATE_STEP, RATE_SHARE * np.abs(due)))
    k = first(np.abs(new.feed[rows] - due) > room)
    if k is not None:
        text = f"time word of a move: expected F{due[k]:.5f}, found F{new.feed[rows[k]]:.5f}"
        raise case.broken_at(promise, text, int(rows[k]))


def _inverse_time(moves: Moves) -> NDArray[np.bool_]:
    return np.asarray(np.array([s.feed_mode == 93 for s in moves.states], dtype=bool)[moves.state])

"""The promises of every run, each a function of a case that asserts; tests call them all on every case."""

import json
import re
from math import isclose

from cases import VERSION, Case, lasting
from roundwright.errors import ProgramError
from roundwright.pipeline import Outcome
from roundwright.version import __version__

#: a word outside comments: letter and number. Blanks inside numbers don't occur in the cases.
_WORD = re.compile(rb"([A-Za-z])([ \t]*)([+-]?(?:\d+\.?\d*|\.\d+))")
_CHECKSUM = re.compile(rb"\*\d+")
_COMMENT = re.compile(rb"\([^)\r\n]*\)|;[^\r\n]*")
#: words that a correction may change or add.
ADDED = b"XYZIJKR"


def without_stamp(output: bytes, outcome: Outcome) -> bytes:
    """The corrected program without the one line that says so."""
    if outcome.plan.stamp is None:
        return output
    lines = output.splitlines(keepends=True)
    stamps = [k for k, line in enumerate(lines) if outcome.plan.stamp.encode() in line]
    assert len(stamps) == 1, "one stamp, on a line of its own"
    return b"".join(lines[: stamps[0]] + lines[stamps[0] + 1 :])


def numbers(line: bytes) -> list[tuple[bytes, bytes]]:
    """Letters (upper case) and number texts of a block, comments aside."""
    return [(letter.upper(), text) for letter, _, text in _WORD.findall(_COMMENT.sub(b"", line))]


def check_skeleton(before: bytes, after: bytes) -> list[int]:
    """Assert that only numbers that had to change differ; gives the changed lines, from 0.

    Stripped of the numbers of motion words (and of added words) both programs are the same bytes; a
    number that is written otherwise has another value.
    """
    # in G93 the time of a move that got longer is no longer the same
    allowed = ADDED + b"F" if b"G93" in before else ADDED
    old, new = before.splitlines(keepends=True), after.splitlines(keepends=True)
    assert len(old) == len(new), "lines were added or lost"
    changed = []
    for k, (a, b) in enumerate(zip(old, new, strict=True)):
        if a != b:
            _same_but_numbers(_CHECKSUM.sub(b"", a), _CHECKSUM.sub(b"", b), allowed)
            changed.append(k)
    return changed


def _same_but_numbers(a: bytes, b: bytes, allowed: bytes) -> None:
    assert _COMMENT.findall(a) == _COMMENT.findall(b), f"comment changed: {a!r} {b!r}"
    assert a[len(a.rstrip()) :] == b[len(b.rstrip()) :], f"line end changed: {a!r} {b!r}"
    old, new = numbers(a), numbers(b)
    rest = list(new)
    kept = []
    for letter, text in old:
        place = next((k for k, (other, _) in enumerate(rest) if other == letter), None)
        assert place is not None, f"a word was lost or moved: {a!r} {b!r}"
        added, rest = rest[:place], rest[place + 1 :]
        assert all(word in ADDED for word, _ in added), f"a word was added: {a!r} {b!r}"
        kept.append((letter, text, new[len(new) - len(rest) - 1][1]))
    assert all(word in ADDED for word, _ in rest), f"a word was added: {a!r} {b!r}"
    for letter, was, now in kept:
        if was != now:
            assert letter in allowed, f"{letter!r} changed: {a!r} {b!r}"
            assert float(was) != float(now), f"{letter!r} only written otherwise: {a!r} {b!r}"
    if len(old) == len(new):
        bare = [_WORD.sub(rb"\1\2#", _COMMENT.sub(b"", line)) for line in (a, b)]
        assert bare[0] == bare[1], f"spacing or case changed: {a!r} {b!r}"


# ---- the promises -----------------------------------------------------------------------------------


def exact_bytes(case: Case) -> None:
    assert case.outcome.output == case.expected


def listing_as_expected(case: Case) -> None:
    found = json.loads(json.dumps(lasting(case.list())))
    assert found == case.expected_listing
    for correction in case.outcome.plan.corrections:
        assert correction.status != "left-alone" or correction.why.strip()


def only_numbers_change(case: Case) -> None:
    output, outcome = case.outcome.output, case.outcome
    assert output is not None
    changed = check_skeleton(case.data, without_stamp(output, outcome))
    rows = {row for rows in outcome.plan.touched.values() for row in rows}
    follow = rows | {row + 1 for row in rows if row + 1 < len(outcome.moves)}
    lines = {int(outcome.moves.line[row]) for row in follow if row >= 0}
    assert set(changed) <= lines
    assert bool(changed) == any(c.status == "corrected" for c in outcome.plan.corrections)


def decoy_unchanged(case: Case) -> None:
    if case.decoy:
        assert case.outcome.output == case.data
        assert {c.status for c in case.outcome.plan.corrections} <= {"left-alone", "on-size"}
    else:
        assert case.outcome.output != case.data


def second_run_refused(case: Case) -> None:
    output = case.outcome.output
    if case.outcome.plan.stamp is None:
        assert case.correct(output).output == output
        return
    try:
        case.correct(output)
    except ProgramError as error:
        assert "corrected already" in str(error)
    else:
        raise AssertionError("a corrected program was corrected again")


def again_lists_new_diameters(case: Case) -> None:
    again = case.list(case.outcome.output, again=True)
    assert again.stamped == (case.outcome.plan.stamp is not None)
    before, after = case.outcome.plan.corrections, again.plan.corrections
    assert [c.feature.id for c in before] == [c.feature.id for c in after]
    inch = any(state.inch for state in case.outcome.moves.states)
    slack = 2 * (2.6e-3 if inch else 1e-3) + 1e-6
    for old, new in zip(before, after, strict=True):
        planned = old.corrected if old.status == "corrected" else old.feature.diameter
        if planned is None:
            assert new.feature.diameter is None
        else:
            assert new.feature.diameter is not None and abs(new.feature.diameter - planned) <= slack
        for p, q in zip(old.feature.wall.centre, new.feature.wall.centre, strict=True):
            assert abs(p - q) <= slack
        assert (old.feature.side, old.feature.cut) == (new.feature.side, new.feature.cut)
        assert all(
            isclose(p, q, abs_tol=1e-6) for p, q in zip(old.feature.wall.z, new.feature.wall.z, strict=True)
        )


def dry_run_is_run(case: Case) -> None:
    dry = case.list()
    assert dry.output is None
    assert dry.plan.corrections == case.outcome.plan.corrections
    assert dry.plan.ends == case.outcome.plan.ends


def line_ends_twin(case: Case) -> None:
    """The program with the other line ends gives the same output with the other line ends."""
    if b"\r\n" in case.data:
        ours, theirs = b"\r\n", b"\n"
    else:
        ours, theirs = b"\n", b"\r\n"
    twin = case.correct(case.data.replace(ours, theirs)).output
    assert case.outcome.output is not None
    assert twin == case.outcome.output.replace(ours, theirs)


def stamp_names_version(case: Case) -> None:
    stamp = case.outcome.plan.stamp
    if stamp is not None:
        assert __version__ in stamp and (case.folder / "expected.nc").read_bytes().count(VERSION) == 1
    else:
        assert case.outcome.output == case.data


PROMISES = (
    exact_bytes,
    listing_as_expected,
    only_numbers_change,
    decoy_unchanged,
    second_run_refused,
    again_lists_new_diameters,
    dry_run_is_run,
    line_ends_twin,
    stamp_names_version,
)

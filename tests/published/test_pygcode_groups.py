"""The table of modal groups against the G codes that the general-purpose library pygcode (0.2.1) defines."""

from __future__ import annotations

import pytest
from pygcode import gcodes

from roundwright.trace.codes import PUBLISHED, Group, tenths


def groups_by_pygcode() -> dict[int, int]:
    """Modal group by ten times the code; 0 for none, and for groups that no trace follows."""
    followed = {int(group) for group in Group}
    found: dict[int, int] = {}
    classes: list[type] = [gcodes.GCode]
    while classes:
        kind = classes.pop()
        classes.extend(kind.__subclasses__())
        word = getattr(kind, "word_key", None)
        if word is not None and word.letter == "G":
            group = kind.modal_group or 0  # type: ignore[attr-defined]
            found[round(float(word.value) * 10)] = group if group in followed else 0
    return found


@pytest.mark.published
def test_the_groups_are_those_of_pygcode() -> None:
    ours = {tenths(name): int(group) for group, names in PUBLISHED.items() for name in names.split()}
    assert ours == groups_by_pygcode()

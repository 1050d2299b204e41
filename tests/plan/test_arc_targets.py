"""New circles by row, as a mapping and as columns."""

from __future__ import annotations

import numpy as np
import pytest

from roundwright.plan.plan import ArcTarget, ArcTargets, Targets

SMALL, LARGE = ArcTarget((1.0, 2.0), 3.0), ArcTarget((1.0, 2.0), 4.0, "C1")


def test_equal_circles_are_one_whoever_asks_for_them():
    again = ArcTarget((1.0, 2.0), 3.0)
    circles = ArcTargets(np.array([2, 5, 9]), Targets.of([SMALL, LARGE, again]), np.array([0, 2, 1]))
    assert tuple(circles.targets) == (SMALL, LARGE)
    assert circles.which.tolist() == [0, 0, 1]
    assert circles.radius.tolist() == [3.0, 3.0, 4.0]
    assert circles.centre.tolist() == [[1.0, 2.0]] * 3


def test_columns_say_what_the_mapping_says():
    wanted = {9: LARGE, 2: SMALL, 5: SMALL}
    circles = ArcTargets.of(wanted)
    assert dict(circles) == wanted and list(circles) == [2, 5, 9]
    assert ArcTargets.of(circles) is circles
    with pytest.raises(KeyError):
        circles[3]

"""The plan room's product: a correction per feature, or why not, and where the path goes for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Literal, TypeVar, overload

import numpy as np
from msgspec import Struct, field
from numpy.typing import NDArray

from roundwright.find.feature import Feature
from roundwright.read.distinct import index_of, one_each
from roundwright.settings import Spread

Status = Literal["corrected", "on-size", "left-alone"]
Reason = Literal[
    "no-table",
    "no-calibration",
    "out-of-range",
    "over-limit",
    "side-unknown",
    "tool-unknown",
    "skipped",
    "taper",
    "thread",
    "cut-away",
    "not-clean",
    "unsupported-mode",
    "position-unknown",
    "would-vanish",
    "would-collide",
    "would-cut-air",
    "tool-shape",
    "tool-doubtful",
    "looks-corrected",
]


class Target(Struct, frozen=True, array_like=True):
    """What a feature is to come out as, where somebody asked for it. Lengths in mm.

    `diameter` is what is aimed at. Where a tolerance class `fit` was asked for, it is the middle of the
    limits of size that the class gives for the nominal size, which is the programmed diameter.
    """

    diameter: float
    lower: float | None = None
    upper: float | None = None
    fit: str | None = None
    nominal: float | None = None


class Correction(Struct, frozen=True, gc=False, array_like=True):
    """What one feature gets. Lengths in mm.

    `change` is added to the programmed diameter; `expected_error` is measured minus programmed at the
    corrected diameter; `uncertainty` the expanded one of the next cut, None where repeats are missing.
    All are None where the feature is left alone for want of them. With a target's limits, `probability` is
    how likely smallest and largest diameter lie within, each `ovality` from the mean; `doubt` says why it
    is None, or what it leaves out.
    """

    feature: Feature
    status: Status
    reason: Reason | None = None
    why: str = ""
    change: float | None = None
    corrected: float | None = None
    corrected_path: float | None = None
    expected_error: float | None = None
    uncertainty: float | None = None
    condition: str | None = None
    basis: str | None = None
    target: Target | None = None
    ovality: float | None = None
    probability: float | None = None
    doubt: str = ""


class ArcTarget(Struct, frozen=True):
    """An arc's circle after the correction: centre in the plane's axes and radius, mm.

    `wall` names the feature's id where the arc lies on a planned ring (the radius is a promise).
    """

    centre: tuple[float, float]
    radius: float
    wall: str = ""


class Decimals(Struct, frozen=True):
    """How finely changed numbers are written: at least `least`, more only where needed, up to `most`."""

    least_mm: int
    least_inch: int
    most: int


class WallFeed(Struct, frozen=True, gc=False):
    """The last wall pass at full depth. Feeds in mm/min, speed in 1/min; None where nothing says it.

    `programmed` is the feed of the tool's centre along its path, `edge` that of its cutting edge along the
    wall. Feeds in other than units per minute (G93, G95) cannot be compared, so they are None.
    """

    programmed: float | None
    edge: float | None
    speed: float | None


Place = tuple[float, float, float]
Item = TypeVar("Item")


class _ByRow(Mapping[int, Item]):
    """Something for some rows of `Moves`, held as columns: there may be very many. `row` (k,) ascends."""

    def __init__(self, row: NDArray[np.int64]) -> None:
        self.row = row

    def _at(self, row: int) -> int:
        """Where a row stands among them; raises KeyError where it does not."""
        at = index_of(self.row, row)
        if at is None:
            raise KeyError(row)
        return at

    def __iter__(self) -> Iterator[int]:
        """The rows, in order."""
        return iter(self.row.tolist())

    def __len__(self) -> int:
        """How many rows there are."""
        return len(self.row)


class Ends(_ByRow[Place]):
    """New end positions (X, Y, Z in mm) by row; `place` is (k, 3)."""

    def __init__(self, row: NDArray[np.int64], place: NDArray[np.float64]) -> None:
        super().__init__(row)
        self.place = place

    @classmethod
    def of(cls, ends: Mapping[int, Place]) -> Ends:
        """The same ends as columns."""
        if isinstance(ends, Ends):
            return ends
        row = np.array(sorted(ends), np.int64)
        return cls(row, np.array([ends[k] for k in row.tolist()], np.float64).reshape(-1, 3))

    def __getitem__(self, row: int) -> Place:
        """Where this row ends; raises KeyError where it stays."""
        x, y, z = self.place[self._at(row)].tolist()
        return x, y, z


class Targets(Sequence[ArcTarget]):
    """New circles (t,) as columns: `centre` (t, 2) and `radius` (t,) in mm, `wall` (t,) as in `ArcTarget`."""

    def __init__(
        self, centre: NDArray[np.float64], radius: NDArray[np.float64], wall: NDArray[np.str_]
    ) -> None:
        self.centre, self.radius, self.wall = centre, radius, wall

    @classmethod
    def of(cls, targets: Sequence[ArcTarget]) -> Targets:
        """The same circles as columns."""
        centre = np.array([target.centre for target in targets], np.float64).reshape(-1, 2)
        radius = np.array([target.radius for target in targets], np.float64)
        return cls(centre, radius, np.array([target.wall for target in targets], np.str_))

    def __len__(self) -> int:
        """How many there are."""
        return len(self.radius)

    @overload
    def __getitem__(self, at: int) -> ArcTarget: ...

    @overload
    def __getitem__(self, at: slice) -> Targets: ...

    def __getitem__(self, at: int | slice) -> ArcTarget | Targets:
        """One of them, or some; raises IndexError past the end."""
        if isinstance(at, slice):
            return Targets(self.centre[at], self.radius[at], self.wall[at])
        x, y = self.centre[at].tolist()
        return ArcTarget((x, y), float(self.radius[at]), str(self.wall[at]))


class ArcTargets(_ByRow[ArcTarget]):
    """New circles by row; `which` (k,) of the `targets`, of which no two are equal, each row has."""

    def __init__(self, row: NDArray[np.int64], targets: Targets, which: NDArray[np.int64]) -> None:
        super().__init__(row)
        columns = targets.centre[:, 0], targets.centre[:, 1], targets.radius, targets.wall
        number: dict[tuple[float, float, float, str], int] = {}
        each = zip(*(column.tolist() for column in columns), strict=True)
        numbers = np.array([number.setdefault(target, len(number)) for target in each], np.int64)
        kept = np.flatnonzero(np.diff(np.maximum.accumulate(numbers), prepend=-1))
        self.targets = Targets(targets.centre[kept], targets.radius[kept], targets.wall[kept])
        self.which = numbers[which]

    @classmethod
    def of(cls, arcs: Mapping[int, ArcTarget]) -> ArcTargets:
        """The same circles as columns."""
        if isinstance(arcs, ArcTargets):
            return arcs
        row = np.array(sorted(arcs), np.int64)
        return cls(row, Targets.of([arcs[k] for k in row.tolist()]), np.arange(len(row)))

    @property
    def centre(self) -> NDArray[np.float64]:
        """Each arc's centre (k, 2), mm."""
        return self.targets.centre[self.which]

    @property
    def radius(self) -> NDArray[np.float64]:
        """Each arc's radius (k,), mm."""
        return self.targets.radius[self.which]

    def __getitem__(self, row: int) -> ArcTarget:
        """This row's circle; raises KeyError where it has no new one."""
        return self.targets[int(self.which[self._at(row)])]


class _ByFeature(Mapping[str, Item]):
    """Something for each of some features by their ids, `feature` (f,); held as columns."""

    def __init__(self, feature: Sequence[str]) -> None:
        self.feature = np.array(feature, np.str_)
        self._order = np.argsort(self.feature)

    def _at(self, feature: str) -> int:
        """Where a feature stands among them; raises KeyError where it does not."""
        at = int(self.feature.searchsorted(feature, sorter=self._order))
        if at == len(self.feature) or self.feature[self._order[at]] != feature:
            raise KeyError(feature)
        return int(self._order[at])

    def __iter__(self) -> Iterator[str]:
        """The features, in order."""
        return iter(self.feature.tolist())

    def __len__(self) -> int:
        """How many features there are."""
        return len(self.feature)


class Touched(_ByFeature[NDArray[np.int64]]):
    """The rows (r,) that change for each feature: those in `row` from `edges[k]` up to `edges[k + 1]`."""

    def __init__(self, feature: Sequence[str], row: NDArray[np.int64], edges: NDArray[np.intp]) -> None:
        super().__init__(feature)
        self.row, self.edges = row, edges

    def __getitem__(self, feature: str) -> NDArray[np.int64]:
        """The feature's rows, in order; raises KeyError where it changes none."""
        at = self._at(feature)
        return self.row[self.edges[at] : self.edges[at + 1]]


class WallFeeds(_ByFeature[WallFeed]):
    """How the wall of each feature is cut."""

    def __init__(self, feature: Sequence[str], feeds: Iterable[WallFeed]) -> None:
        super().__init__(feature)
        self.feeds = tuple(one_each(feeds))

    def __getitem__(self, feature: str) -> WallFeed:
        """How this feature's is; raises KeyError where there is no such feature."""
        return self.feeds[self._at(feature)]


class Plan(Struct, frozen=True):
    """Everything that the rewriter may do.

    `ends` gives, by row of `Moves`, the new end position (X, Y, Z in mm); every other end stays.
    `arcs` gives the circle of each arc whose start, end, centre or radius changes. `touched` names, by
    feature id, the rows (r,) that change for it, in order; `feeds`, by feature id, how each wall is cut. With
    `spread` "rings" the clearing rings of a corrected feature move in proportion to its wall, else they stay.
    """

    corrections: Sequence[Correction]
    ends: Mapping[int, Place]
    arcs: Mapping[int, ArcTarget]
    decimals: Decimals
    stamp: str | None
    warnings: tuple[str, ...] = ()
    touched: Mapping[str, NDArray[np.int64]] = field(default_factory=dict)
    feeds: Mapping[str, WallFeed] = field(default_factory=dict)
    spread: Spread = "rings"

"""Values behave as the library's dataclasses do, though their methods are made later."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from typing import Any

import pytest

from roundwright.values import dataclass, field, replace


@dataclass(frozen=True, slots=True)
class Lazy:
    """A value under test."""

    name: str
    size: float = 2.0
    marks: list[int] = field(default_factory=list)


@dataclasses.dataclass(frozen=True, slots=True)
class Library:
    """The same, as the library makes it."""

    name: str
    size: float = 2.0
    marks: list[int] = dataclasses.field(default_factory=list)


@dataclass(slots=True)
class Open:
    """One that may be changed."""

    size: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One that is only itself."""

    size: int


@pytest.mark.parametrize("given", [("a",), ("a", 3.0), ("a", 3.0, [1])])
def test_the_fields_are_those_of_the_library(given: tuple[Any, ...]) -> None:
    lazy, library = Lazy(*given), Library(*given)
    assert dataclasses.asdict(lazy) == dataclasses.asdict(library)
    assert repr(lazy) == repr(library).replace("Library", "Lazy")
    assert [f.name for f in dataclasses.fields(Lazy)] == [f.name for f in dataclasses.fields(Library)]
    assert dataclasses.asdict(replace(lazy, size=9.0)) == dataclasses.asdict(replace(library, size=9.0))


def test_equal_values_are_equal_and_those_of_another_class_are_not() -> None:
    assert Lazy("a") == Lazy("a", 2.0, []) != Lazy("b")
    assert Lazy("a") != Library("a")
    assert hash(Place("a", 1)) == hash(Place("a", 1))
    assert Column(1) != Column(1)
    with pytest.raises(TypeError, match="unhashable"):
        hash(Open())


@dataclass(frozen=True, slots=True)
class Place:
    """One that can be hashed."""

    name: str
    line: int


def test_each_value_has_a_default_list_of_its_own() -> None:
    first, second = Lazy("a"), Lazy("b")
    first.marks.append(1)
    assert second.marks == []


def test_a_frozen_value_refuses_changes_and_an_open_one_takes_them() -> None:
    place = Place("a", 1)
    with pytest.raises(dataclasses.FrozenInstanceError, match="line"):
        place.line = 2  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError):
        del place.line
    opened = Open()
    opened.size = 5
    assert opened == Open(5)
    with pytest.raises(AttributeError):
        opened.other = 1  # type: ignore[attr-defined]


@pytest.mark.parametrize("given", [{}, {"name": "a", "other": 1}, {"size": 1}])
def test_wrong_arguments_are_refused(given: dict[str, Any]) -> None:
    with pytest.raises(TypeError, match="argument"):
        Lazy(**given)


@dataclass(frozen=True, slots=True)
class Mark(Place):
    """One that extends another."""

    text: str = "-"


def test_a_class_may_extend_another() -> None:
    mark = Mark("a", 1)
    assert (mark, mark.name, mark.text) == (Mark("a", 1, "-"), "a", "-") != Place("a", 1)
    assert repr(mark) == "Mark(name='a', line=1, text='-')"
    assert replace(mark, line=2) == Mark("a", 2)
    assert [f.name for f in dataclasses.fields(Mark)] == ["name", "line", "text"]


def test_many_values_are_made_as_the_first_was() -> None:
    assert {Mark("a", line=1) for _ in range(30)} == {Mark("a", 1, "-")}
    for wrong in ((), ("a", 1, "-", 4)):
        with pytest.raises(TypeError, match="argument"):
            Mark(*wrong)
    with pytest.raises(TypeError, match="multiple values"):
        Column(1, size=2)  # type: ignore[misc]


def test_values_can_be_copied_and_kept() -> None:
    place = Place("a", 1)
    assert copy.deepcopy(place) == place == pickle.loads(pickle.dumps(place))

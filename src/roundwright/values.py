"""Values: the standard library's dataclasses with slots, whose methods are made when a value needs them.

The library compiles six methods for every class as it is declared, half a millisecond a class; a run that
corrects a small program would spend a third of its time on that.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from operator import attrgetter
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:  # for the type checker they are what they stand in for
    from dataclasses import dataclass, field, replace
else:
    from dataclasses import field, replace

    def dataclass(*, slots: bool, frozen: bool = False, eq: bool = True) -> Callable[[type], type]:
        """Declare a class of values as `dataclasses.dataclass` does; `slots` is no choice, and says so."""
        assert slots
        return lambda plain: _declared(plain, frozen=frozen, eq=eq)


__all__ = ["dataclass", "field", "replace"]

#: values of a class that are made one by one, before an `__init__` is worth its compiling (0.1 ms).
_FEW = 8


def _declared(plain: type, *, frozen: bool, eq: bool) -> type:
    """The class with slots; `plain`, as it was written, is kept for its defaults and the library's fields."""
    own = tuple(plain.__annotations__)
    names = (*getattr(plain, "__match_args__", ()), *own)
    defaults = getattr(plain, "__field_defaults__", {}) | {n: vars(plain)[n] for n in own if n in vars(plain)}
    dropped = {*own, "__dict__", "__weakref__"}
    body: dict[str, Any] = {key: value for key, value in vars(plain).items() if key not in dropped}
    body |= {"__slots__": own, "__match_args__": names, "__field_defaults__": defaults}
    body |= {name: _OfLibrary(plain, name) for name in ("__dataclass_fields__", "__dataclass_params__")}
    body |= {"__init__": _first_init(names, defaults), "__reduce__": _reduce}
    if "__repr__" not in body:
        body["__repr__"] = _repr
    if frozen:
        body |= {"__setattr__": _refuse, "__delattr__": _refuse}
    if eq:
        body |= _equality(names, hashed=frozen)
    return type(plain)(plain.__name__, plain.__bases__, body)


class _OfLibrary:
    """What the library keeps of a dataclass, for `replace` and its like; made when somebody first asks."""

    def __init__(self, plain: type, name: str) -> None:
        self.plain = plain
        self.name = name

    def __get__(self, value: object, owner: type) -> Any:
        made: type = dataclasses.dataclass(init=False, repr=False, eq=False)(self.plain)
        setattr(owner, self.name, vars(made)[self.name])
        return vars(made)[self.name]


def _first_init(names: tuple[str, ...], defaults: Mapping[str, Any]) -> Callable[..., None]:
    """An `__init__` for the first few values, of many classes all; then it makes way for the real one."""
    left = 0 if any(isinstance(value, dataclasses.Field) for value in defaults.values()) else _FEW

    def first(self: Any, *args: Any, **named: Any) -> None:
        nonlocal left
        left -= 1
        values = {**defaults, **dict(zip(names, args, strict=False)), **named}
        sound = len(values) == len(names) >= len(args) and named.keys().isdisjoint(names[: len(args)])
        if left >= 0 and sound:
            for name, value in values.items():
                object.__setattr__(self, name, value)
            return
        kind = type(self)
        kind.__init__ = _init(kind, names, defaults)
        kind.__init__(self, *args, **named)

    return first


def _init(kind: type, names: tuple[str, ...], defaults: Mapping[str, Any]) -> Any:
    """The real `__init__`: each argument goes straight into its slot."""
    known: dict[str, Any] = {f"_set_{name}": getattr(kind, name).__set__ for name in names}
    head, lines = [], []
    for name in names:
        value = name
        if name in defaults:
            default = defaults[name]
            fresh = getattr(default, "default_factory", dataclasses.MISSING)
            if fresh is not dataclasses.MISSING:
                value = f"_new_{name}() if {name} is _default_{name} else {name}"
                known[f"_new_{name}"] = fresh
            known[f"_default_{name}"] = default
        head.append(f"{name}=_default_{name}" if name in defaults else name)
        lines.append(f" _set_{name}(self, {value})")
    exec(f"def __init__(self, {', '.join(head)}):\n" + "\n".join(lines), known)
    known["__init__"].__qualname__ = f"{kind.__qualname__}.__init__"
    return known["__init__"]


def _equality(names: tuple[str, ...], *, hashed: bool) -> dict[str, Any]:
    """`__eq__` and `__hash__` over all fields; without fields to be hashed, unhashable."""
    content: Callable[[Any], Any] = attrgetter(*names)

    def equal(self: object, other: object) -> Any:
        return content(self) == content(other) if other.__class__ is self.__class__ else NotImplemented

    return {"__eq__": equal, "__hash__": (lambda self: hash(content(self))) if hashed else None}


def _repr(self: Any) -> str:
    parts = (f"{name}={getattr(self, name)!r}" for name in self.__match_args__)
    return f"{type(self).__qualname__}({', '.join(parts)})"


def _reduce(self: Any) -> tuple[type, tuple[Any, ...]]:
    return type(self), tuple(getattr(self, name) for name in self.__match_args__)


def _refuse(self: object, name: str, *_: object) -> NoReturn:
    raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")

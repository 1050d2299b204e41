"""Public names that are imported when they are asked for, so that no run waits for what it does not use."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from typing import Any


def names_of(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """A module's `__getattr__` (PEP 562) for names that live in modules below `package`, by name."""

    def found(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        value = getattr(importlib.import_module(f"{package}.{homes[name]}"), name)
        setattr(importlib.import_module(package), name, value)  # asked for once
        return value

    return found

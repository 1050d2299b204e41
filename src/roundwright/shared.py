"""Finds the data files that the product carries: schemas, published values, dialects."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable


def shared_file(*parts: str) -> Traversable:
    """The file shared/PARTS, wherever this installation keeps it.

    Raises FileNotFoundError where it is in neither place: the installation is broken.
    """
    from importlib.resources import files  # here, with all that it loads: few commands need a file
    from pathlib import Path

    packed = files("roundwright") / "_shared"  # in a wheel
    checkout = Path(__file__).resolve().parents[2] / "shared"  # or an editable install
    for base in (packed, checkout):
        found = base.joinpath(*parts)
        if found.is_file():
            return found
    raise FileNotFoundError(f"roundwright is not installed whole: shared/{'/'.join(parts)} is missing")


def shared_text(*parts: str) -> str:
    """The text of shared/PARTS, UTF-8."""
    return shared_file(*parts).read_text(encoding="utf-8")


def shared_bytes(*parts: str) -> bytes:
    """The bytes of shared/PARTS."""
    return shared_file(*parts).read_bytes()

"""The version, in one place."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("roundwright")
except PackageNotFoundError:  # run from a source tree that is not installed
    __version__ = "0.0.0"

"""The read room: bytes in, words as columns out, nothing lost; it knows no geometry."""

from __future__ import annotations

from roundwright.read.comment import comments
from roundwright.read.number import parse_number
from roundwright.read.program import Program
from roundwright.read.scan import read_program

__all__ = ["Program", "comments", "parse_number", "read_program"]

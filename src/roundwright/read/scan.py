"""Reads a whole program into columns."""

from __future__ import annotations

from roundwright.read.plain import read_plainly
from roundwright.read.program import Program
from roundwright.read.text import check_text


def read_program(data: bytes, name: str = "program") -> Program:
    """Read a finished program. Raises `ProgramError` where `data` is UTF-16 or a binary file."""
    check_text(data, name)
    return read_plainly(data, name)

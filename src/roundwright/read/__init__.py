"""The read room: bytes in, words as columns out, nothing lost; it knows no geometry."""

from __future__ import annotations

from roundwright.read.comment import comments
from roundwright.read.number import parse_number
from roundwright.read.plain import Word, words_of
from roundwright.read.program import Program, Source
from roundwright.read.scan import read_program

__all__ = ["Program", "Source", "Word", "comments", "parse_number", "read_program", "words_of"]

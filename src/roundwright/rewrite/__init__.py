"""The rewrite room: a program, its moves and a plan in, bytes out; it decides nothing about geometry."""

from roundwright.rewrite.stamp import clean_stamp, find_stamp
from roundwright.rewrite.write import rewrite_program

__all__ = ["clean_stamp", "find_stamp", "rewrite_program"]
